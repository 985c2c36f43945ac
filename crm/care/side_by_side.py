"""The walk of a forecast for many layers side by side, in numpy: the same dates as one by one."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import chain
from typing import NamedTuple

import numpy as np

from crm.care.coats import Case, Habit
from crm.care.columns import (
    PROCESS_CODE,
    UNKNOWN_ANSWERS,
    Answers,
    Floats,
    Ints,
    Layers,
    answers_of,
    layers_of,
)
from crm.care.course import ROUNDING, Setting, uses_of
from crm.care.figures import Triple
from crm.care.months import DAYS_IN_MONTH
from crm.care.seasons import Seasons
from crm.care.tables import Tables
from crm.care.turns import LAST, calendar_between
from crm.care.wear import SALT, STATES, free_rates

_CENTURY = 36525  # days: a calendar begins and ends on multiples of it, so that batches share it


def worn_together(cases: Sequence[Case], setting: Setting, lives: Sequence[Triple] | None = None) -> Ints:
    """The ordinals of the low, likely and high day of each layer, a row each.

    `LAST` where that lies beyond the calendar or the class has no forecast. Times off the car and looks are not
    reckoned with; `lives` (three for each layer, reference months) go before those of the figures.
    """
    tables = setting.tables
    layers = layers_of([case.coat for case in cases], tables)
    if lives is not None:
        layers = layers._replace(lives=np.array(lives))
    full = layers.lives * DAYS_IN_MONTH
    changes = _changes(cases, layers, tables)
    longest = np.nanmax(full, initial=0.0) / tables.wear.slowest
    years = _years(
        setting.seasons,
        int(layers.laid.min()) // _CENTURY,
        -(-int(min(changes.day.max() + longest + 2, LAST)) // _CENTURY),
    )
    path = _path(changes, layers, years, tables)
    return np.stack(
        [_worn(full[:, clock], layers.quality[:, clock], path, clock, years) for clock in range(3)], 1
    )


class _Changes(NamedTuple):
    """What changes the course of a layer, in the order of layers and days: the laying, a use, an event.

    `use` is the row of `answers` that holds from then on; `process` is the code of an event, or -1.
    """

    layer: Ints
    day: Ints
    use: Ints
    process: Ints
    answers: Ints


def _changes(cases: Sequence[Case], layers: Layers, tables: Tables) -> _Changes:
    everyone = np.arange(len(cases))
    since, answers = [0], [UNKNOWN_ANSWERS]
    first, count = _uses(cases, since, answers, tables)
    user = np.repeat(everyone, count)
    use = np.arange(len(user)) + np.repeat(first - (np.cumsum(count) - count), count)
    begins = np.maximum(np.array(since)[use], layers.laid[user])
    lumps = list(chain.from_iterable(case.lumps for case in cases))
    struck = np.repeat(everyone, [len(case.lumps) for case in cases])
    on = np.array([lump.on.toordinal() for lump in lumps], dtype=np.int64)
    process = np.array([PROCESS_CODE[lump.process] for lump in lumps], dtype=np.int64)
    later = on > layers.laid[struck]
    struck, on, process = struck[later], on[later], process[later]
    # On one day the laying comes first and the events last; the sort keeps this order.
    layer, day = np.concatenate([everyone, user, struck]), np.concatenate([layers.laid, begins, on])
    order = np.lexsort((day, layer))
    said = np.concatenate([np.zeros_like(everyone), use, np.full_like(struck, -1)])[order]
    held = np.maximum.accumulate(np.where(said >= 0, np.arange(len(said)), 0))
    none = np.full(len(everyone) + len(user), -1)
    return _Changes(
        layer[order], day[order], said[held], np.concatenate([none, process])[order], np.array(answers)
    )


def _uses(
    cases: Sequence[Case], since: list[int], answers: list[Answers], tables: Tables
) -> tuple[Ints, Ints]:
    """Put down the uses of every car, and say for each layer which is the first of its car and how many there are."""
    habits: tuple[Habit, ...] = ()
    begin, first, count = len(since), list[int](), list[int]()
    for case in cases:
        if case.habits is not habits:
            habits, begin = case.habits, len(since)
            for term in uses_of(habits, tables):
                since.append(term.start)
                answers.append(answers_of(term.use))
        first.append(begin)
        count.append(len(since) - begin)
    return np.array(first), np.array(count)


class _Path(NamedTuple):
    """The stretches of every layer; those of a layer are the ones from `first` to before `last`.

    `lost` has a column for each clock; `rates` are by clock, stretch and state of the year.
    """

    first: Ints
    last: Ints
    starts: Ints
    ends: Ints
    lost: Floats
    rates: Floats


def _path(changes: _Changes, layers: Layers, years: _Years, tables: Tables) -> _Path:
    layer, day, use, process, answers = changes
    everyone = np.arange(len(layers.laid))
    shares = np.zeros((len(layer), 3))
    events = np.flatnonzero(process >= 0)
    usual = answers[use[events]]
    salted = years.states[years.spans(day[events])] & SALT > 0
    wash = np.where(
        salted, usual[:, Answers._fields.index("winter")], usual[:, Answers._fields.index("summer")]
    )
    shares[events] = layers.figures.lumps[layers.place[layer[events]], process[events], wash]
    lost = np.cumsum(shares, axis=0)
    lost -= lost[np.searchsorted(layer, everyone)][layer]
    whole = np.append(
        (layer[1:] != layer[:-1]) | (day[1:] != day[:-1]), True
    )  # the last change of a day holds
    layer, day, use, lost = layer[whole], day[whole], use[whole], lost[whole]
    speeds = layers.figures.speeds(layers.place[layer], answers[use])
    rates = np.stack([np.stack(free_rates(speeds, clock, np.maximum), axis=1) for clock in range(3)])
    return _Path(
        np.searchsorted(layer, everyone),
        np.searchsorted(layer, everyone, side="right"),
        day,
        np.where(np.append(layer[1:] == layer[:-1], False), np.append(day[1:], LAST), LAST),
        lost,
        rates.clip(tables.wear.slowest, tables.wear.fastest),
    )


def _worn(full: Floats, quality: Floats, path: _Path, clock: int, years: _Years) -> Ints:
    """The day on which each layer is worn; `LAST` where it never is."""
    worn, found = np.full(len(full), ROUNDING), np.full(len(full), LAST)
    going = np.flatnonzero(~np.isnan(full))
    at = path.first[going]
    while going.size:
        left = full[going] * (quality[going] - path.lost[at, clock]) - worn[going]
        rates, start = path.rates[clock, at], path.starts[at]
        before = years.readings(start, rates)
        gain = years.readings(path.ends[at], rates) - before
        done, ends = left <= 0, left <= gain
        found[going[ends]] = years.days(start[ends], before[ends], left[ends], rates[ends])
        found[going[done]] = start[done]
        worn[going] += gain
        goes_on = ~ends & ~done & (at + 1 < path.last[going])
        going, at = going[goes_on], at[goes_on] + 1
    beyond: Ints = np.minimum(found, LAST)
    return beyond


class _Years(NamedTuple):
    """The spans of the seasons: the first day of each (and the end of all), its state, and for each of those days
    how many days have passed in each state of the year.
    """

    turns: Ints
    states: Ints
    passed: Floats

    def spans(self, days: Ints | Floats) -> Ints:
        """The span in which each day lies."""
        found: Ints = np.searchsorted(self.turns[1:-1], days, side="right")
        return found

    def readings(self, days: Ints, rates: Floats) -> Floats:
        """What a clock of each of these rates shows at the start of each day, or at the end of these years."""
        days = np.minimum(days, self.turns[-1])
        span = self.spans(days)
        since = (days - self.turns[span]) * _of_state(rates, self.states[span])
        return _summed(self.passed[span], rates) + since

    def days(self, starts: Ints, before: Floats, left: Floats, rates: Floats) -> Ints:
        """The day by which each clock, which shows `before` at its start, has gained what is left."""
        # No sooner than at the fastest and no later than at the slowest rate; between the two the span is sought.
        low = self.spans(starts + left / rates.max(axis=1) - 1)
        high = self.spans(starts + left / rates.min(axis=1) + 1)
        goal = before + left
        while (low < high).any():
            middle = (low + high) // 2
            reached = _summed(self.passed[middle + 1], rates) >= goal
            low, high = np.where(reached, low, np.minimum(middle + 1, high)), np.where(reached, middle, high)
        more = (goal - _summed(self.passed[low], rates)) / _of_state(rates, self.states[low])
        day: Ints = np.ceil(self.turns[low] + more).astype(np.int64)
        return day


def _summed(passed: Floats, rates: Floats) -> Floats:
    found: Floats = np.einsum("ij,ij->i", passed, rates)
    return found


def _of_state(rates: Floats, states: Ints) -> Floats:
    return np.take_along_axis(rates, states[:, None], axis=1)[:, 0]


@lru_cache(maxsize=64)
def _years(seasons: Seasons, first: int, end: int) -> _Years:
    """From the start of one stretch of a hundred years to before another."""
    begin = max(first * _CENTURY, 1)
    calendar = calendar_between(seasons, begin, min(end * _CENTURY, LAST))
    turns, states = np.array([begin, *calendar.ends]), np.array(calendar.states)
    lengths = np.diff(turns)[:, None] * (states[:, None] == np.array(STATES))
    passed = np.vstack([np.zeros(len(STATES)), np.cumsum(lengths, axis=0)])
    return _Years(turns, states, passed)
