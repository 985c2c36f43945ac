"""The note for the hour at which a car may be washed again, and how a past month is told to an owner.

Plain text between salutation and signature, in a craftsperson's tone. A plate or chassis number never appears,
and neither does an exclamation mark, whatever is in the fields.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files

from crm.care.advice_sheet import Dont, Line, Telling, month_words

_CHASSIS = re.compile(r"\b(?=[A-Z0-9]*\d)[A-Z0-9]{17}\b", re.IGNORECASE)
_PLATE = re.compile(
    r"\b([A-Z]{2}\d{2}[ -]?[A-Z]{3}|[A-Z]\d{1,3}[ -]?[A-Z]{3}|[A-Z]{3}[ -]?\d{1,3}[A-Z])\b", re.IGNORECASE
)
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


def wash_now(
    to: Addressed, layers: Sequence[str], washing: Line, still: Sequence[Dont], telling: Telling
) -> tuple[str, ...]:
    """The note for the hour at which the no-wash time ends; free of offers.

    `layers` are the names of what was setting, `washing` how this owner washes (`advice.washing_line`),
    `still` the waits that run on, soonest first.
    """
    texts = _texts()["wash_now"]
    names = _joined([_cleaned(name, to.private) for name in layers]) or "layer"
    paragraphs = [
        texts["opening"].format(greeting=_greeting(to), layers=names, car=_car(to)),
        f"{texts['how'].format(washing=_lowered(washing.words))} {texts['why'].format(why=washing.why)}",
        texts["brakes"],
    ]
    if still:
        waits = [_wait(dont, telling) for dont in still[:_MOST_WAITS]]
        paragraphs.append(texts["running"].format(waits="; ".join(waits)))
    return (*paragraphs, texts["sheet"])


def _wait(dont: Dont, telling: Telling) -> str:
    return f"{_lowered(dont.words).rstrip('.')}, until {telling.until(dont.until)}"


def since_words(since: date, today: date) -> str:
    """A past month for a person: "April", with its year where it is most of a year ago or more."""
    month = month_words(since)
    return month if (today - since).days < _RECENT_DAYS else f"{month} {since.year}"


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
