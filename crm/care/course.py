"""The course of a layer: stretches of constant use, and the day on which its wear is complete.

A layer of life T, one-time quality q and lumps s(t) is worn when clock(t) reaches T x (q - s(t)).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import pairwise
from math import ceil
from operator import attrgetter
from typing import NamedTuple, TypeAlias

from crm.care.coats import Coat, Habit, Idle, Lump
from crm.care.figures import Triple
from crm.care.months import DAYS_IN_MONTH
from crm.care.seasons import Seasons
from crm.care.tables import Tables
from crm.care.terms import Process
from crm.care.turns import LAST, spans_from
from crm.care.wear import UNKNOWN_USE, Rates, Use, lump_of, quality_of, rates_of, use_of

ROUNDING = 1e-6
"""Reference days taken off every life: keeps the noise of adding floats from moving a date."""

_NOTHING_LOST: Triple = (0.0, 0.0, 0.0)
_SINCE = attrgetter("since")
_MACHINES = (Process.TUNNEL_WASH, Process.TOUCH_FREE_WASH)


Days: TypeAlias = tuple[int, int, int]
"""The low, the likely and the high day of a window, as ordinals."""


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

    `rates` are those of the three clocks; None while a set of wheels is off the car.
    """

    start: int
    end: int
    rates: tuple[Rates, Rates, Rates] | None
    lost: Triple


def uses_of(habits: Sequence[Habit], tables: Tables) -> tuple[Term, ...]:
    """The uses of a car by its habits, each from its own day on, the earliest first.

    Of two habits of one day the later in the sequence comes later.
    """
    return tuple(
        Term(habit.since.toordinal(), use_of(habit, tables), None if habit.stored else habit.km_a_year)
        for habit in sorted(habits, key=_SINCE)
    )


def terms_of(uses: Sequence[Term], start: int) -> tuple[Term, ...]:
    """The uses from the day of laying on (an ordinal); unknown until the first habit. Repeats are one term."""
    if len(uses) == 1 and uses[0].start <= start:
        return (Term(start, uses[0].use, uses[0].km),)
    terms = [Term(start, UNKNOWN_USE)]
    for since, use, km in uses:
        begin = max(since, start)
        if begin == terms[-1].start:
            terms.pop()
        if not terms or use != terms[-1].use:
            terms.append(Term(begin, use, km))
    return tuple(terms)


def losses_of(coat: Coat, lumps: Sequence[Lump], terms: Sequence[Term], setting: Setting) -> tuple[Loss, ...]:
    """What each event after the laying took, in order; events that take nothing are left out."""
    seasons, tables = setting
    found: list[Loss] = []
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
) -> Days | None:
    """Ordinals of the days by which three lives (reference months) are used up on their clocks.

    None where that lies beyond the calendar.
    """
    quality = quality_of(coat.product_class, coat.air, coat.prep, coat.got_wet_early, setting.tables)
    days = []
    for clock, course in enumerate(courses_of(coat, terms, losses, setting.tables)):
        day = _worn_on(course, lives[clock] * DAYS_IN_MONTH, quality[clock], clock, setting.seasons)
        if day is None or day >= LAST:
            return None
        days.append(day)
    return days[0], days[1], days[2]


def _worn_on(
    course: Sequence[Stretch], full: float, quality: float, clock: int, seasons: Seasons
) -> int | None:
    worn = ROUNDING
    for start, end, rates, lost in course:
        left = full * (quality - lost[clock]) - worn
        if left <= 0:
            return start
        if rates is None:
            continue
        by_state, day = rates[clock], start
        for turn, state in spans_from(seasons, start):
            rate, stop = by_state[state], min(turn, end)
            gain = rate * (stop - day)
            if left <= gain:
                return ceil(day + left / rate)
            left -= gain
            worn += gain
            if stop == end:
                break
            day = stop
    return None


def courses_of(
    coat: Coat, terms: Sequence[Term], losses: Sequence[Loss], tables: Tables
) -> tuple[Sequence[Stretch], Sequence[Stretch], Sequence[Stretch]]:
    """The stretches for each of the three clocks; they differ only where wheels are off the car for ever."""
    rates = [rates_of(coat.product_class, coat.zone, term.use, tables) for term in terms]
    if len(terms) == 1 and not losses and not coat.idle:
        course = (Stretch(terms[0].start, LAST, rates[0], _NOTHING_LOST),)
        return course, course, course
    pessimistic = _stretches(terms, rates, losses, rests_of(coat.idle, 0, tables) if coat.idle else ())
    if all(rest.end is not None for rest in coat.idle):
        return pessimistic, pessimistic, pessimistic
    likely, kind = (_stretches(terms, rates, losses, rests_of(coat.idle, clock, tables)) for clock in (1, 2))
    return pessimistic, likely, kind


def _stretches(
    terms: Sequence[Term],
    rates: Sequence[tuple[Rates, Rates, Rates]],
    losses: Sequence[Loss],
    rests: Sequence[tuple[int, int]],
) -> list[Stretch]:
    start = terms[0].start
    turns = {term.start for term in terms}
    turns.update(loss.day for loss in losses)
    turns.update(day for rest in rests for day in rest if day > start)
    days = [*sorted(turns), LAST]
    stretches = []
    lost, term, loss = _NOTHING_LOST, 0, 0
    for first, end in pairwise(days):
        while term + 1 < len(terms) and terms[term + 1].start <= first:
            term += 1
        while loss < len(losses) and losses[loss].day <= first:
            lost = _summed(lost, losses[loss].shares)
            loss += 1
        resting = any(off <= first < on for off, on in rests)
        stretches.append(Stretch(first, end, None if resting else rates[term], lost))
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
