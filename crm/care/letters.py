"""Short texts for notes and letters: a first wash, a maintenance wash, a top-up, and the winter prompt.

Each function gives the paragraphs between salutation line and signature, as plain text. The tone is a
craftsperson's: one true fact, no fear, an easy no (common practice, no source). A plate or chassis number
never appears, and neither does an exclamation mark, whatever is in the fields.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import cache
from importlib.resources import files
from zoneinfo import ZoneInfo

from crm.care.advice_sheet import Dont, Line, day_words, moment_words, month_words, require_no_day

WINTER_WORDS = 60
"""A winter prompt has fewer words than this, so that it fits on a telephone's screen."""

_CHASSIS = re.compile(r"\b(?=[A-Z0-9]*\d)[A-Z0-9]{17}\b", re.IGNORECASE)
_PLATE = re.compile(
    r"\b([A-Z]{2}\d{2}[ -]?[A-Z]{3}|[A-Z]\d{1,3}[ -]?[A-Z]{3}|[A-Z]{3}[ -]?\d{1,3}[A-Z])\b", re.IGNORECASE
)
_COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_EXCLAIMED = re.compile("[!\u00a1\uff01]")  # upright, inverted and full width
_MOST_WAITS = 3
_RECENT_DAYS = 330


@dataclass(frozen=True, slots=True)
class Addressed:
    """Who is written to about which car.

    `name` is as one speaks ("Mrs K") and may be empty; `car` is colour and model ("blue estate"); `private`
    are the plates and chassis numbers on record, which are taken out of every field.
    """

    name: str
    car: str
    private: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Offer:
    """What a visit would be: its hours, days that are really free, and a price such as "from £180"."""

    hours: float
    slots: tuple[date, ...] = ()
    price: str = ""


class FactKind(StrEnum):
    """The one true thing from the record that a winter prompt opens with."""

    THIN = "thin"
    BARE = "bare"
    UNSEEN = "unseen"


@dataclass(frozen=True, slots=True)
class WinterFact:
    """A fact with its date. THIN needs `layer` and `around` ("around January"), BARE needs `part`.

    ForecastDayError where `around` names a day.
    """

    kind: FactKind
    since: date
    layer: str = ""
    around: str = ""
    part: str = ""

    def __post_init__(self) -> None:
        require_no_day(self.around)


def wash_now(
    to: Addressed, layers: Sequence[str], washing: Line, still: Sequence[Dont], zone: ZoneInfo
) -> tuple[str, ...]:
    """The note for the hour at which the no-wash time ends; free of offers.

    `layers` are the names of what was setting, `washing` how this owner washes (`advice.washing_line`),
    `still` the waits that run on, soonest first, told in the clock of `zone`.
    """
    texts = _texts()["wash_now"]
    names = _joined([_cleaned(name, to.private) for name in layers]) or "layer"
    paragraphs = [
        texts["opening"].format(greeting=_greeting(to), layers=names, car=_car(to)),
        f"{texts['how'].format(washing=_lowered(washing.words))} {texts['why'].format(why=washing.why)}",
        texts["brakes"],
    ]
    if still:
        waits = [_wait(dont, zone) for dont in still[:_MOST_WAITS]]
        paragraphs.append(texts["running"].format(waits="; ".join(waits)))
    return (*paragraphs, texts["sheet"])


def _wait(dont: Dont, zone: ZoneInfo) -> str:
    return f"{_lowered(dont.words).rstrip('.')}, until {moment_words(dont.until, zone)}"


def maintenance_wash(
    to: Addressed, last_seen: date | None, layer: str, offer: Offer, today: date
) -> tuple[str, ...]:
    """The letter for a maintenance wash that is about due. `layer` is the main layer's name or empty."""
    texts = _texts()["maintenance_wash"]
    named = _cleaned(layer, to.private)
    if last_seen is None:
        opening = texts["opening_unseen"].format(greeting=_greeting(to), car=_car(to))
    else:
        since = since_words(last_seen, today)
        opening = texts["opening"].format(greeting=_greeting(to), car=_car(to), since=since)
    what = texts["what" if named else "what_plain"].format(layer=named, hours=_hours(offer.hours))
    return opening, _with_slots(what, offer), *_closing()


def top_up(to: Addressed, layer: WinterFact, reason: str, offer: Offer, today: date) -> tuple[str, ...]:
    """The reminder before a layer is likely thin. `layer` is a THIN fact; `reason` says what wears it.

    ValueError where the fact is of another kind.
    """
    if layer.kind is not FactKind.THIN:
        raise ValueError("A top-up reminder needs the layer that will be getting thin.")
    texts = _texts()["top_up"]
    cleaned = _cleaned(reason, to.private)
    opening = texts["opening"].format(**_fact_fields(to, layer, today))
    why = texts["reason"].format(reason=cleaned) if cleaned else texts["reason_plain"]
    what = texts["what"].format(hours=_hours(offer.hours))
    return opening, why, _with_slots(what, offer), *_closing()


def winter_prompt(
    to: Addressed, fact: WinterFact, package: str, offer: Offer, today: date, salting_from: date | None
) -> str:
    """The autumn invitation in fewer than 60 words: one fact, what would be done, days, an easy no, stop.

    The fullest wording that is short enough: first the salted month goes, then the third and second day, the
    name, the price. Fields longer than a few words are shortened.
    """
    fullest = _winter_ways(to, fact, package, offer, today, salting_from)
    return next(words for words in fullest if len(words.split()) < WINTER_WORDS)


def _winter_ways(
    to: Addressed, fact: WinterFact, package: str, offer: Offer, today: date, salting_from: date | None
) -> Iterator[str]:
    """The prompt from its fullest to its barest wording; the barest is short whatever the fields hold."""
    texts, shared = _texts()["winter"], _texts()["shared"]
    price = _clipped(_cleaned(offer.price, to.private), 5)
    nameless = Addressed("", to.car, to.private)
    ways = (
        (to, salting_from, 3, price),
        (to, None, 3, price),
        (to, None, 2, price),
        (to, None, 1, price),
        (nameless, None, 1, price),
        (nameless, None, 0, ""),
    )
    for addressed, salting, days, cost in ways:
        fields = _fact_fields(addressed, fact, today)
        pieces = [texts[fact.kind].format(**fields)]
        if salting is not None:
            pieces.append(texts["salting"].format(month=month_words(salting)))
        offered = _clipped(_cleaned(package, to.private), 4) or "winter coat"
        what = texts["what_priced" if cost else "what"]
        pieces.append(what.format(package=offered, hours=_hours(offer.hours), price=cost))
        if slots := _slots(offer.slots[:days]):
            pieces.append(texts["free"].format(slots=slots))
        yield " ".join((*pieces, shared["reply"], shared["stop"]))


def _fact_fields(to: Addressed, fact: WinterFact, today: date) -> dict[str, str]:
    return {
        "greeting": _greeting(to),
        "car": _car(to),
        "since": since_words(fact.since, today),
        "layer": _clipped(_cleaned(fact.layer, to.private), 5) or "layer",
        "around": _clipped(_cleaned(fact.around, to.private), 4) or "before long",
        "part": _clipped(_cleaned(fact.part, to.private), 4) or "paint",
    }


def since_words(since: date, today: date) -> str:
    """A past month for a person: "April", with its year where it is most of a year ago or more."""
    month = month_words(since)
    return month if (today - since).days < _RECENT_DAYS else f"{month} {since.year}"


def _closing() -> tuple[str, str]:
    shared = _texts()["shared"]
    return shared["reply"], f"{shared['why_you_get_this']} {shared['stop']}"


def _with_slots(what: str, offer: Offer) -> str:
    slots = _slots(offer.slots[:3])
    return f"{what} {_texts()['shared']['free'].format(slots=slots)}" if slots else what


def _slots(days: Sequence[date]) -> str:
    return _joined([day_words(day) for day in days], last=" or ")


def _hours(hours: float) -> str:
    """Hours as one says them, rounded up: "about six hours"."""
    whole = max(1, math.ceil(hours))
    count = _COUNTS[whole] if whole < len(_COUNTS) else str(whole)
    return _texts()["shared"]["hours"].format(hours=f"{count} hour{'' if whole == 1 else 's'}")


def _greeting(to: Addressed) -> str:
    name = _clipped(_cleaned(to.name, to.private), 3)
    return f"Hello {name}," if name else "Hello,"


def _car(to: Addressed) -> str:
    return _clipped(_cleaned(to.car, to.private), 4) or "car"


def _cleaned(words: str, private: Sequence[str]) -> str:
    """The field without plates, chassis numbers and exclamation marks, on one line."""
    words = " ".join(_EXCLAIMED.sub("", words).split())
    patterns = [*filter(None, map(_spelled, private)), _CHASSIS, _PLATE]
    while (less := _without(words, patterns)) != words:
        words = less
    return words


def _spelled(secret: str) -> re.Pattern[str] | None:
    """A pattern for a plate or chassis number however it is spaced; None where it holds no sign at all."""
    signs = [re.escape(sign) for sign in secret if sign.isalnum()]
    spelled = r"[\W_]*".join(signs)
    return re.compile(rf"(?<![^\W_]){spelled}(?![^\W_])", re.IGNORECASE) if signs else None


def _without(words: str, patterns: Sequence[re.Pattern[str]]) -> str:
    for pattern in patterns:
        words = pattern.sub("", words)
    return " ".join(words.split())


def _clipped(words: str, most: int) -> str:
    return " ".join(words.split()[:most])


def _joined(names: Sequence[str], last: str = " and ") -> str:
    given = [name for name in names if name]
    return last.join((", ".join(given[:-1]), given[-1])) if len(given) > 1 else "".join(given)


def _lowered(words: str) -> str:
    return words[:1].lower() + words[1:]


@cache
def _texts() -> dict[str, dict[str, str]]:
    return tomllib.loads((files("crm.care") / "data" / "letters.toml").read_text(encoding="utf-8"))
