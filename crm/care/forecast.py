"""Forecasts: the window in which a layer is likely worn, with the reasons in words, and what follows from it.

Arithmetic never ends a layer. A forecast is a window of three dates; a person or an event ends the layer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from json import dumps

from crm.care.coats import Coat, CoatError, Habit, Idle, Lump
from crm.care.course import Setting, losses_of, terms_of, worn_days
from crm.care.figures import Triple
from crm.care.life import life_of, life_window
from crm.care.reasons import NO_FORECAST, OUT_OF_SIGHT, reasons_of
from crm.care.reasons_of_use import Reason, month_of
from crm.care.seasons import Seasons
from crm.care.tables import DEFAULTS, Tables
from crm.care.terms import Condition

__all__ = [
    "Coat",
    "CoatError",
    "Habit",
    "Idle",
    "Lump",
    "Outlook",
    "Reason",
    "Window",
    "around",
    "condition",
    "inputs_key",
    "outlook",
    "project",
    "window_words",
]


@dataclass(frozen=True, slots=True)
class Window:
    """When a layer is likely worn: one in ten by `low`, half by `likely`, nine in ten by `high`."""

    low: date
    likely: date
    high: date


@dataclass(frozen=True, slots=True)
class Outlook:
    """A forecast: its window (None where there is none) and its reasons in words, the first one the life."""

    window: Window | None
    reasons: tuple[Reason, ...]


def outlook(
    coat: Coat,
    *,
    habits: Sequence[Habit],
    lumps: Sequence[Lump] = (),
    seasons: Seasons,
    tables: Tables = DEFAULTS,
) -> Outlook:
    """What to expect of a layer in a zone, from how the car is kept and what happened to it.

    A habit holds from its date until the next; before the first one, and without any, every answer is
    unknown. The low date is where the pessimistic clock meets the 10th percentile of the life, the likely one
    where the likely clock meets the median, the high one where the kind clock meets the 90th.
    """
    life = life_of(coat.product_class, coat.zone, own=coat.life, hard_used=coat.hard_used, tables=tables)
    if life is None:
        return Outlook(None, (NO_FORECAST,))
    setting = Setting(seasons, tables)
    terms = terms_of(habits, coat.laid_on, tables)
    losses = losses_of(coat, lumps, terms, setting) if lumps else ()
    days = worn_days(coat, life_window(life), terms, losses, setting)
    if days is None:
        return Outlook(None, (OUT_OF_SIGHT,))
    reasons = reasons_of(coat, terms, losses, days[2], setting)
    return Outlook(Window(*map(date.fromordinal, days)), reasons)


def project(
    coat: Coat,
    lives: Triple,
    *,
    habits: Sequence[Habit],
    lumps: Sequence[Lump] = (),
    seasons: Seasons,
    tables: Tables = DEFAULTS,
) -> Window | None:
    """The window for three lives in reference months (rising) that are known already, instead of the shelf's.

    None where it lies beyond the calendar.
    """
    setting = Setting(seasons, tables)
    terms = terms_of(habits, coat.laid_on, tables)
    days = worn_days(coat, lives, terms, losses_of(coat, lumps, terms, setting), setting)
    return Window(*map(date.fromordinal, days)) if days else None


def condition(window: Window | None, *, today: date, cured_on: date | None, ended: bool) -> Condition:
    """How a layer stands today.

    Setting until the day its cure ends, holding before the low date, thinning up to the high date, then due a
    look. A layer without a window holds until a person ends it.
    """
    if ended:
        return Condition.ENDED
    if cured_on is not None and today < cured_on:
        return Condition.SETTING
    if window is None or today < window.low:
        return Condition.HOLDING
    return Condition.THINNING if today <= window.high else Condition.DUE_A_LOOK


def around(day: date) -> str:
    """A forecast day as one says it to an owner: early, around or late in a month, never the day itself."""
    third = "early" if day.day <= 10 else "around" if day.day <= 20 else "late"
    return f"{third} {month_of(day)}"


def window_words(window: Window) -> str:
    """A window as one says it: "likely around May 2027, could be early February 2027 to late July 2027"."""
    low, likely, high = around(window.low), around(window.likely), around(window.high)
    if low == high:
        return f"likely {likely}"
    return f"likely {likely}, could be {low} to {high}"


def inputs_key(
    coat: Coat, habits: Sequence[Habit], lumps: Sequence[Lump], seasons: Seasons, tables_version: str
) -> str:
    """A digest of everything a forecast rests on: while it is the same, a stored forecast still holds.

    The order in which habits and lumps are handed over does not matter, except among habits of one day.
    """
    life = coat.life
    facts = [
        [
            coat.product_class,
            coat.zone,
            str(coat.laid_on),
            [life.low, life.likely, life.high] if life else None,
        ],
        [coat.prep, coat.air, coat.got_wet_early, coat.hard_used],
        sorted([str(rest.start), str(rest.end)] for rest in coat.idle),
        [_habit_facts(habit) for habit in sorted(habits, key=lambda habit: habit.since)],
        sorted([str(lump.on), lump.process] for lump in lumps),
        [str(end) for season in (seasons.salt, seasons.hot) for end in (season.start, season.end)],
        tables_version,
    ]
    return sha256(dumps(facts, separators=(",", ":")).encode()).hexdigest()


def _habit_facts(habit: Habit) -> list[object]:
    return [
        str(habit.since),
        habit.parking,
        habit.km_a_year,
        habit.salted_roads,
        habit.wash_summer,
        habit.wash_winter,
        habit.on_plan,
        habit.stored,
    ]
