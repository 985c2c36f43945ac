"""Aftercare advice: one sheet out of what is on a car, what is still setting, and how its owner lives.

Texts are data; here is only how they are chosen. Every text whose condition is met is a candidate. Cautions
are all kept. The rest is read by rank (cure, material limits, layer care, convenience), and a line gives way
to one already kept that speaks about the same topic or contradicts it. A line that only a dated "not until"
contradicts is kept in a form that waits. (Common practice, no source.)
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta

from crm.care.advice_card import not_yet, on_the_car
from crm.care.advice_facts import Circumstances, OnCar, Setting, Situation, situation_of
from crm.care.advice_sheet import (
    Dont,
    ForecastDayError,
    Line,
    NaiveTimeError,
    Rank,
    Sheet,
    Telling,
    day_words,
    in_utc,
    moment_words,
)
from crm.care.advice_texts import AdviceTextError, Part, Text, TextSet, text_set
from crm.care.seasons import Season
from crm.care.terms import Circumstance, Process

__all__ = [
    "TEXT_VERSION",
    "AdviceTextError",
    "Circumstances",
    "Dont",
    "ForecastDayError",
    "Line",
    "NaiveTimeError",
    "OnCar",
    "Rank",
    "Setting",
    "Sheet",
    "Telling",
    "compose",
    "day_words",
    "moment_words",
    "washing_line",
]

TEXT_VERSION = text_set().version
"""Edition and digest of the texts; stored with every sheet."""

_WAITING = "_once_set"


def compose(
    *,
    layers: Sequence[OnCar],
    fresh: Sequence[Setting],
    circumstances: Circumstances,
    today: date,
    now: datetime,
    salt: Season,
    processes: Sequence[Process] = (),
) -> Sheet:
    """The aftercare sheet for a car.

    `layers` are the live layers, those of this visit among them; `fresh` the clocks of this visit's layers;
    `today` decides the season and `now` (aware) which waits are over; `processes` are what this visit did.
    NaiveTimeError where `now` has no time zone. Rules: common practice, no source.
    """
    texts = text_set()
    situation = situation_of(layers, fresh, circumstances, today, salt, processes)
    moment = in_utc(now)
    safety = tuple(_as_line(text, None) for text in texts.of(Part.SAFETY) if text.fits(situation))
    donts = _donts(texts, situation, moment)
    washing = _washing(texts, situation)
    kept = _settled([washing, *_candidates(texts, situation)], situation, donts, moment, texts)
    wash_line = next(line for line in kept if line.code == washing.code)
    care = tuple(line for line in kept if line is not wash_line)
    first, also = on_the_car(situation)
    second = not_yet(donts, care, texts)
    care = tuple(line for line in care if line is not second) + ((also,) if also else ())
    return Sheet(texts.version, (first, second, wash_line), donts, care, safety)


def washing_line(*, layers: Sequence[OnCar], circumstances: Circumstances, today: date, salt: Season) -> Line:
    """How this owner washes this car once nothing is setting: the third line of the card on its own."""
    situation = situation_of(layers, (), circumstances, today, salt, ())
    return _as_line(_washing(text_set(), situation), None)


def _donts(texts: TextSet, situation: Situation, now: datetime) -> tuple[Dont, ...]:
    """What is not to be done yet, soonest end first; of several layers the latest time counts."""
    found = []
    for text in texts.of(Part.DONTS):
        until = _end(text, situation)
        if until is not None and until > now:
            found.append(Dont(text.code, text.words, text.why, until, text.topic))
    return tuple(sorted(found, key=lambda dont: dont.until))


def _end(text: Text, situation: Situation) -> datetime | None:
    """When the text is over for the fresh layers it concerns (UTC); None where it concerns none."""
    ends = []
    for layer in text.concerned(situation):
        ends += [layer.clock(clock) for clock in text.clocks]
        if text.hours is not None:
            ends.append(layer.clock("laid_at") + timedelta(hours=text.hours))
    return max(ends, default=None)


def _allowed(text: Text, situation: Situation) -> bool:
    """Whether the text applies and does not ask for washing at home where that is not allowed."""
    not_at_home = Circumstance.NO_HOME_WASHING in situation.circumstances.flags
    return text.fits(situation) and not (text.home and not_at_home)


def _candidates(texts: TextSet, situation: Situation) -> list[Text]:
    parts = (Part.STORAGE, Part.CIRCUMSTANCES, Part.CLASSES)
    return [text for part in parts for text in texts.of(part) if _allowed(text, situation)]


def _washing(texts: TextSet, situation: Situation) -> Text:
    """The first way of washing that fits the owner and that no material limit forbids."""
    limits = [text.topic for text in _candidates(texts, situation) if text.rank is Rank.MATERIAL]
    return next(
        text
        for text in texts.of(Part.WASHING)
        if _allowed(text, situation) and not any(texts.clash(text.topic, topic) for topic in limits)
    )


def _settled(
    candidates: Iterable[Text], situation: Situation, donts: Sequence[Dont], now: datetime, texts: TextSet
) -> list[Line]:
    """The lines that stay, by rank, in a form that contradicts nothing else on the sheet."""
    waits = {text.topic: text.waits for text in texts.of(Part.DONTS)}
    topics: set[str] = set()
    kept: list[Line] = []
    for text in sorted(candidates, key=lambda text: text.rank):
        until = _end(text, situation) if text.clocks else None
        if text.clocks and (until is None or until <= now):
            continue
        if text.topic in topics or any(texts.clash(text.topic, topic) for topic in topics):
            continue
        topics.add(text.topic)
        holding = [dont for dont in donts if texts.clash(text.topic, dont.topic)]
        line = _as_line(text, until)
        kept.append(_waiting(line, waits[holding[-1].topic]) if holding else line)
    return kept


def _waiting(line: Line, opening: str) -> Line:
    """The same advice for after a wait; the last of several waits opens it."""
    words = opening + line.words[:1].lower() + line.words[1:]
    return Line(line.code, line.rank, words, line.why, line.until, line.topic + _WAITING)


def _as_line(text: Text, until: datetime | None) -> Line:
    return Line(text.code, text.rank, text.words, text.why, until, text.topic)
