"""The wear clock: reference days of wear up to a day, exactly, and the day on which it shows a given reading.

The rate is constant between two turns of the seasons, so the clock is a broken line: its value at every turn
is worked out once, and any reading is a search and one division. Lines are kept for stretches of twenty years,
one starting every ten.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from itertools import accumulate, pairwise
from operator import mul
from typing import NamedTuple

from crm.care.seasons import Seasons
from crm.care.surfaces import Zone
from crm.care.tables import Tables
from crm.care.terms import ProductClass
from crm.care.wear import HOT, SALT, Rates, Use, rates_of

LAST = date.max.toordinal() + 1
"""The day after the last one, as an ordinal: where arithmetic stops."""

_BLOCK = 3653  # days: about ten years
_BLOCKS = 2


class Calendar(NamedTuple):
    """The turns of the seasons over twenty years: ordinals of days, and the state of the year from each."""

    starts: tuple[int, ...]
    states: tuple[int, ...]
    lengths: tuple[int, ...]
    end: int


@dataclass(frozen=True, slots=True)
class Clock:
    """A clock over twenty years. `readings` are those at `starts`, the last one at `end`."""

    starts: tuple[int, ...]
    rates: tuple[float, ...]
    readings: tuple[float, ...]
    end: int

    def reading(self, day: int) -> float:
        """Reference days of wear from the start of the clock to the start of that day (an ordinal)."""
        at = bisect_right(self.starts, day) - 1
        return self.readings[at] + self.rates[at] * (day - self.starts[at])

    def day_at(self, reading: float) -> float:
        """When the clock shows a reading, in days as ordinals, with the part of the day."""
        at = max(bisect_left(self.readings, reading) - 1, 0)
        return self.starts[at] + (reading - self.readings[at]) / self.rates[at]


def block_of(day: int) -> int:
    """The number of the stretch that starts last before that day (an ordinal)."""
    return day // _BLOCK


@lru_cache(maxsize=256)
def calendar_of(seasons: Seasons, block: int) -> Calendar:
    """The states of the year over one stretch."""
    first = max(block * _BLOCK, 1)
    end = min((block + _BLOCKS) * _BLOCK, LAST)
    start, last = date.fromordinal(first), date.fromordinal(end - 1)
    turns = sorted({start, *seasons.salt.boundaries(start, last), *seasons.hot.boundaries(start, last)})
    states = tuple(_state(seasons, day) for day in turns)
    starts = tuple(day.toordinal() for day in turns)
    lengths = tuple(after - day for day, after in pairwise((*starts, end)))
    return Calendar(starts, states, lengths, end)


@lru_cache(maxsize=16384)
def clock_of(rates: Rates, seasons: Seasons, block: int) -> Clock:
    """The clock of these rates over one stretch."""
    calendar = calendar_of(seasons, block)
    by_turn = tuple(rates[state] for state in calendar.states)
    readings = tuple(accumulate(map(mul, by_turn, calendar.lengths), initial=0.0))
    return Clock(calendar.starts, by_turn, readings, calendar.end)


@lru_cache(maxsize=16384)
def clocks_of(
    product_class: ProductClass, zone: Zone, use: Use, seasons: Seasons, tables: Tables, block: int
) -> tuple[Clock, Clock, Clock]:
    """The pessimistic, likely and kind clock of a class in a zone under a use, over one stretch."""
    slow, likely, kind = rates_of(product_class, zone, use, tables)
    return clock_of(slow, seasons, block), clock_of(likely, seasons, block), clock_of(kind, seasons, block)


def states_between(seasons: Seasons, first: int, last: int) -> frozenset[int]:
    """The states of the year that occur from one day to another (ordinals, both included)."""
    calendar = calendar_of(seasons, block_of(first))
    if last - first > 366:
        last = first + 366
    return frozenset(
        calendar.states[bisect_right(calendar.starts, first) - 1 : bisect_right(calendar.starts, last)]
    )


def _state(seasons: Seasons, day: date) -> int:
    return HOT * seasons.hot.contains(day) | SALT * seasons.salt.contains(day)
