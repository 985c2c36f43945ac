"""The turns of the seasons over the years: between two of them the state of the year, and so the rate, stands."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from datetime import date
from functools import lru_cache
from typing import NamedTuple

from crm.care.seasons import Seasons
from crm.care.wear import HOT, SALT, STATES

LAST = date.max.toordinal() + 1
"""The day after the last one, as an ordinal: where arithmetic stops."""

_YEAR = 366
_BLOCK = 3653  # days: about ten years


class Calendar(NamedTuple):
    """Spans of days in one state of the year, in order: the day after each (an ordinal), and its state."""

    ends: tuple[int, ...]
    states: tuple[int, ...]


def calendar_between(seasons: Seasons, first: int, end: int) -> Calendar:
    """The spans from one day to before another (ordinals)."""
    start, last = date.fromordinal(first), date.fromordinal(end - 1)
    turns = sorted({start, *seasons.salt.boundaries(start, last), *seasons.hot.boundaries(start, last)})
    ends = (*(day.toordinal() for day in turns[1:]), end)
    return Calendar(ends, tuple(_state(seasons, day) for day in turns))


def spans_from(seasons: Seasons, day: int) -> Iterator[tuple[int, int]]:
    """The spans from a day on, the one it lies in first, up to the last day of all: each one's end and state."""
    while day < LAST:
        ends, spans = _block(seasons, day // _BLOCK)
        yield from spans[bisect_right(ends, day) :]
        day = ends[-1]


def states_between(seasons: Seasons, first: int, last: int) -> frozenset[int]:
    """The states of the year that occur from one day to another (ordinals, both included)."""
    if last - first > _YEAR:
        return _states_of_a_year(seasons)
    found = 0
    for end, state in spans_from(seasons, first):
        found |= 1 << state
        if end > last:
            break
    return _SETS[found]


@lru_cache(maxsize=256)
def _block(seasons: Seasons, number: int) -> tuple[tuple[int, ...], tuple[tuple[int, int], ...]]:
    """The ends of the spans of some ten years, and the spans."""
    calendar = calendar_between(seasons, max(number * _BLOCK, 1), min((number + 1) * _BLOCK, LAST))
    return calendar.ends, tuple(zip(*calendar, strict=True))


_SETS = tuple(frozenset(state for state in STATES if bits >> state & 1) for bits in range(16))


@lru_cache(maxsize=256)
def _states_of_a_year(seasons: Seasons) -> frozenset[int]:
    start = date(2000, 1, 1).toordinal()  # a leap year, so that a season of 29 February counts
    return frozenset(calendar_between(seasons, start, start + _YEAR).states)


def _state(seasons: Seasons, day: date) -> int:
    return HOT * seasons.hot.contains(day) | SALT * seasons.salt.contains(day)
