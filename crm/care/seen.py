"""From the looks at one layer to an observation of its life, in reference months at its class's main site.

Only a look after decontamination proves anything. Whole at one look, finished at a later one: its life ended
in between. Taken off by work while nobody had found it finished: it outlived that day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from math import inf

from crm.care.coats import Case, Look
from crm.care.course import Setting
from crm.care.months import MONTH_NAMES
from crm.care.observed import LONGEST_AGE, SHORTEST_AGE, Observation
from crm.care.terms import Moment, WaterGrade
from crm.care.used_life import LEAST_SHARE, at_main_site, used_on

WHOLE = frozenset({WaterGrade.TIGHT, WaterGrade.SHEDDING, WaterGrade.LAZY})
"""Grades of a layer that still does its work."""


class Ending(StrEnum):
    """How a layer came to its end in the record."""

    REMOVED = "removed"
    """Work took it off or covered it, and as far as anybody knew it was whole until then."""
    WORN = "worn"
    """A person ended it as worn."""
    UNKNOWN = "unknown"
    """Nobody can say how it stood."""


@dataclass(frozen=True, slots=True)
class End:
    """The day on which the record of a layer ends, and how."""

    on: date
    how: Ending


@dataclass(frozen=True, slots=True)
class Watched:
    """One layer in one zone: how it was kept, the looks at it and its end (None: still on)."""

    case: Case
    looks: tuple[Look, ...] = ()
    end: End | None = None


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A finding that was set aside, by its day, and why, in words."""

    on: date
    words: str


@dataclass(frozen=True, slots=True)
class Seen:
    """What a layer in a zone tells (None: nothing), and what had to be set aside."""

    observation: Observation | None
    contradictions: tuple[Contradiction, ...] = ()


_NOTHING = Seen(None)


def seen_of(watched: Watched, setting: Setting) -> Seen:
    """The observation of one layer in one zone, of weight 1.

    Looks before decontamination, on or before the day of laying and after the end do not count. Grades of 2
    and more are whole, 1 and 0 finished. The life lies above the age at the last look that found it whole and
    at most at that of the first one after it that found it finished. A later look beats an earlier one; work
    that took the layer off never beats a look. Of that day's events it is not known whether they came first:
    a layer seen whole is not charged with them, one found finished may owe its end to them.
    """
    found = _Findings.of(watched)
    times = at_main_site(watched.case.coat, setting)
    if times is None:
        return _NOTHING
    high = inf if found.gone is None else _age(watched.case, found.gone, setting) / times
    set_aside = list(found.set_aside)
    for day in reversed(found.whole):
        used = used_on(watched.case, day, setting, with_that_day=False)
        low = used.age / times
        if used.share < LEAST_SHARE or low > LONGEST_AGE:
            set_aside.append(Contradiction(day, _WORN_BY_EVENTS.format(day=_words(day))))
        elif found.gone is not None and low >= high:
            words = _NOTHING_BETWEEN.format(day=_words(day), later=_words(found.gone))
            set_aside.append(Contradiction(day, words))
        else:
            return Seen(_observation(low, high), tuple(set_aside))
    return Seen(_observation(0.0, high), tuple(set_aside))


def seen_of_layer(zones: Sequence[Watched], setting: Setting) -> tuple[Seen, ...]:
    """The observations of one layer in all its zones, which count as one layer together.

    Zones of one layer were laid by one hand on one day, and one finding is much like the next: each that tells
    something gets an equal part of the weight.
    """
    found = [seen_of(zone, setting) for zone in zones]
    telling = sum(seen.observation is not None for seen in found)
    return tuple(
        replace(seen, observation=replace(seen.observation, weight=1 / telling)) if seen.observation else seen
        for seen in found
    )


_LATER_HOLDS = "Found finished on {day}, but whole on {later}: the later finding holds."
_NOTHING_BETWEEN = (
    "Whole on {day}, finished on {later}, and nothing wore it in between: the later finding holds."
)
_WORN_BY_EVENTS = "Whole on {day}, when by its washes and work hardly anything could be left: not counted."


@dataclass(frozen=True, slots=True)
class _Findings:
    """The days on which a layer was whole, in order, the first one after them on which it was not, and the rest."""

    whole: tuple[date, ...]
    gone: date | None
    set_aside: tuple[Contradiction, ...]

    @classmethod
    def of(cls, watched: Watched) -> _Findings:
        whole: list[date] = []
        gone: date | None = None
        set_aside: list[Contradiction] = []
        for look in sorted(_looks_that_count(watched), key=lambda look: look.on):
            if look.water in WHOLE:
                if gone is not None:
                    words = _LATER_HOLDS.format(day=_words(gone), later=_words(look.on))
                    set_aside.append(Contradiction(gone, words))
                whole.append(look.on)
                gone = None
            elif gone is None:
                gone = look.on
        end = watched.end
        if end is not None and gone is None and end.how is Ending.REMOVED:
            whole.append(end.on)
        if end is not None and gone is None and end.how is Ending.WORN:
            gone = end.on
        return cls(tuple(whole), gone, tuple(set_aside))


def _looks_that_count(watched: Watched) -> list[Look]:
    laid_on, last = watched.case.coat.laid_on, watched.end.on if watched.end else date.max
    return [look for look in watched.looks if look.moment is Moment.AFTER_DECON and laid_on < look.on <= last]


def _age(case: Case, day: date, setting: Setting) -> float:
    return used_on(case, day, setting, with_that_day=True).age


def _observation(low: float, high: float) -> Observation | None:
    """None where the bounds say nothing, or where a layer ended without any wear that could have ended it."""
    if high < SHORTEST_AGE or (low == 0 and high == inf):
        return None
    return Observation(low, high)


def _words(day: date) -> str:
    return f"{day.day} {MONTH_NAMES[day.month - 1]} {day.year}"
