"""The course of a layer: stretches of constant use, and the day on which its wear is complete.

A layer of life T, one-time quality q and lumps s(t) is worn when clock(t) reaches T x (q - s(t)).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import pairwise
from math import ceil
from typing import NamedTuple

from crm.care.clock import LAST, Clock, block_of, clocks_of
from crm.care.coats import Coat, Habit, Idle, Lump
from crm.care.figures import Triple
from crm.care.months import DAYS_IN_MONTH
from crm.care.seasons import Seasons
from crm.care.tables import Tables
from crm.care.terms import Process
from crm.care.wear import UNKNOWN_USE, Use, lump_of, quality_of, use_of

_ROUNDING = 1e-6  # days: keeps the noise of adding floats from moving a date
_NOTHING_LOST: Triple = (0.0, 0.0, 0.0)
_MACHINES = (Process.TUNNEL_WASH, Process.TOUCH_FREE_WASH)


class Setting(NamedTuple):
    """What holds for every layer of a studio."""

    seasons: Seasons
    tables: Tables


class Term(NamedTuple):
    """A use from a day on (an ordinal); `km` a year is for the words, its band in `use` for the sums."""

    start: int
    use: Use
    km: int | None = None


class Loss(NamedTuple):
    """What one event took, for the low, likely and high date, as a share of the full life."""

    day: int
    process: Process
    shares: Triple


class Stretch(NamedTuple):
    """Days from `start` to before `end` (ordinals) of one use, and the shares of the life lost by then.

    `use` is None while a set of wheels is off the car.
    """

    start: int
    end: int
    use: Use | None
    lost: Triple


def terms_of(habits: Sequence[Habit], laid_on: date, tables: Tables) -> tuple[Term, ...]:
    """The uses of a car from the day of laying on; unknown until the first habit. Repeats are one term.

    Of two habits of one day the later in the sequence holds.
    """
    start = laid_on.toordinal()
    if len(habits) == 1 and habits[0].since <= laid_on:
        return (_term(start, habits[0], tables),)
    terms = [Term(start, UNKNOWN_USE)]
    for habit in sorted(habits, key=lambda habit: habit.since):
        term = _term(max(habit.since.toordinal(), start), habit, tables)
        if term.start == terms[-1].start:
            terms.pop()
        if not terms or term.use != terms[-1].use:
            terms.append(term)
    return tuple(terms)


def _term(start: int, habit: Habit, tables: Tables) -> Term:
    return Term(start, use_of(habit, tables), None if habit.stored else habit.km_a_year)


def losses_of(coat: Coat, lumps: Sequence[Lump], terms: Sequence[Term], setting: Setting) -> tuple[Loss, ...]:
    """What each event after the laying took, in order; events that take nothing are left out."""
    seasons, tables = setting
    found = []
    for lump in sorted(lumps, key=lambda lump: lump.on):
        if lump.on <= coat.laid_on or (lump.process in _MACHINES and _off_the_car(coat.idle, lump.on)):
            continue
        use = _use_on(terms, lump.on.toordinal())
        in_salt = seasons.salt.contains(lump.on)
        shares = lump_of(lump.process, coat.product_class, coat.zone, use, in_salt, tables)
        if shares != _NOTHING_LOST:
            found.append(Loss(lump.on.toordinal(), lump.process, shares))
    return tuple(found)


def worn_days(
    coat: Coat, lives: Triple, terms: Sequence[Term], losses: Sequence[Loss], setting: Setting
) -> tuple[int, int, int] | None:
    """Ordinals of the days by which three lives (reference months) are used up on their clocks.

    None where that lies beyond the calendar.
    """
    quality = quality_of(coat.product_class, coat.air, coat.prep, coat.got_wet_early, setting.tables)
    returns_known = all(rest.end is not None for rest in coat.idle)
    course = _stretches(coat, terms, losses, 0, setting.tables)
    days = []
    for clock in range(3):
        if clock and not returns_known:
            course = _stretches(coat, terms, losses, clock, setting.tables)
        day = _worn_on(coat, course, lives[clock] * DAYS_IN_MONTH, quality[clock], clock, setting)
        if day is None or day >= LAST:
            return None
        days.append(day)
    return days[0], days[1], days[2]


def _worn_on(
    coat: Coat, course: Sequence[Stretch], full: float, quality: float, clock: int, setting: Setting
) -> int | None:
    worn = 0.0
    for start, end, use, lost in course:
        left = full * (quality - lost[clock]) - worn
        if left <= 0:
            return start
        day = start
        while use is not None and day < end:
            line = _clocks(coat, use, day, setting)[clock]
            stop = min(end, line.end)
            before = line.reading(day)
            passed = line.reading(stop) - before
            if left <= passed:
                return ceil(line.day_at(before + left) - _ROUNDING)
            left -= passed
            worn += passed
            day = stop
    return None


def _clocks(coat: Coat, use: Use, day: int, setting: Setting) -> tuple[Clock, Clock, Clock]:
    seasons, tables = setting
    return clocks_of(coat.product_class, coat.zone, use, seasons, tables, block_of(day))


def _stretches(
    coat: Coat, terms: Sequence[Term], losses: Sequence[Loss], clock: int, tables: Tables
) -> list[Stretch]:
    start = terms[0].start
    turns = {term.start for term in terms}
    turns.update(loss.day for loss in losses)
    rests = rests_of(coat.idle, clock, tables) if coat.idle else ()
    turns.update(day for rest in rests for day in rest if day > start)
    days = [*sorted(turns), LAST]
    stretches = []
    use, lost, upcoming, changes = terms[0].use, _NOTHING_LOST, list(losses), list(terms[1:])
    for first, end in pairwise(days):
        while changes and changes[0].start <= first:
            use = changes.pop(0).use
        while upcoming and upcoming[0].day <= first:
            lost = _summed(lost, upcoming.pop(0).shares)
        resting = any(off <= first < on for off, on in rests)
        stretches.append(Stretch(first, end, None if resting else use, lost))
    return stretches


def _summed(one: Triple, other: Triple) -> Triple:
    return one[0] + other[0], one[1] + other[1], one[2] + other[2]


def rests_of(idle: Sequence[Idle], clock: int, tables: Tables) -> list[tuple[int, int]]:
    """Times off the car as ordinals, the last day excluded.

    Where nobody knows when a set goes back on, the clocks take it back after the tables' months: the
    pessimistic one early, the kind one late.
    """
    away = round(tables.wear.off_the_car_months[clock] * DAYS_IN_MONTH)
    starts = [rest.start.toordinal() for rest in idle]
    return [
        (start, min(start + away, LAST) if rest.end is None else rest.end.toordinal())
        for start, rest in zip(starts, idle, strict=True)
    ]


def _use_on(terms: Sequence[Term], day: int) -> Use:
    return next((term.use for term in reversed(terms) if term.start <= day), terms[0].use)


def _off_the_car(idle: Sequence[Idle], on: date) -> bool:
    return any(rest.start <= on and (rest.end is None or on < rest.end) for rest in idle)
