"""Forecasts: the window in which a layer is likely worn, with the reasons in words, and what follows from it.

Arithmetic never ends a layer. A forecast is a window of three dates; a person or an event ends the layer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from json import dumps
from operator import attrgetter
from typing import NamedTuple

from crm.care.coats import Case, Coat, CoatError, Habit, Idle, Look, Lump
from crm.care.course import Days, Loss, Setting, Term, losses_of, terms_of, uses_of, worn_days
from crm.care.figures import Triple
from crm.care.inspection import Inspected, inspected
from crm.care.life import Life, life_of, life_window
from crm.care.reasons import NO_FORECAST, OUT_OF_SIGHT, reasons_of
from crm.care.reasons_of_looks import look_reasons
from crm.care.reasons_of_use import Reason, month_of
from crm.care.seasons import Seasons
from crm.care.tables import DEFAULTS, Tables
from crm.care.terms import Condition, Moment, WaterGrade
from crm.care.used_life import ages_on

__all__ = [
    "Coat",
    "CoatError",
    "Habit",
    "Idle",
    "Look",
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


_ON = attrgetter("on")


@dataclass(frozen=True, slots=True)
class Window:
    """When a layer is likely worn: one in ten by `low`, half by `likely`, nine in ten by `high`."""

    low: date
    likely: date
    high: date


@dataclass(frozen=True, slots=True)
class Outlook:
    """A forecast: its window (None where there is none) and its reasons in words, the first one the life.

    `by_figures` is the window of the figures alone where a look at the layer has moved it, else None.
    """

    window: Window | None
    reasons: tuple[Reason, ...]
    by_figures: Window | None = None


def outlook(
    coat: Coat,
    *,
    habits: Sequence[Habit],
    lumps: Sequence[Lump] = (),
    looks: Sequence[Look] = (),
    seasons: Seasons,
    tables: Tables = DEFAULTS,
) -> Outlook:
    """What to expect of a layer in a zone, from how the car is kept, what happened to it and how it was found.

    A habit holds from its date until the next; before the first one, and without any, every answer is
    unknown. The low date is where the pessimistic clock meets the 10th percentile of the life, the likely one
    where the likely clock meets the median, the high one where the kind clock meets the 90th. Looks after
    decontamination bound that life; one before it, or on the day of laying, tells nothing.
    """
    setting = Setting(seasons, tables)
    known = reckoned(coat, uses_of(habits, tables), lumps, looks, setting)
    return outlook_of(known, walked(known, setting) if known else NOWHERE, setting)


class Walked(NamedTuple):
    """The days of a window, and those of the figures alone: the same where no look counts. None beyond the calendar."""

    days: Days | None
    plain: Days | None


NOWHERE = Walked(None, None)


class Reckoned(NamedTuple):
    """Everything that the days of a forecast follow from: a layer, its three lives, its uses and its losses, and
    what was seen of it (None: nothing that counts).
    """

    coat: Coat
    lives: Triple
    terms: tuple[Term, ...]
    losses: tuple[Loss, ...]
    seen: Inspected | None


def reckoned(
    coat: Coat, uses: Sequence[Term], lumps: Sequence[Lump], looks: Sequence[Look], setting: Setting
) -> Reckoned | None:
    """What the days of a layer follow from, on a car of these uses; None where its class has no forecast."""
    tables = setting.tables
    life = life_of(coat.product_class, coat.zone, own=coat.life, hard_used=coat.hard_used, tables=tables)
    if life is None:
        return None
    terms = terms_of(uses, coat.laid_on.toordinal())
    losses = losses_of(coat, lumps, terms, setting) if lumps else ()
    seen = _seen(coat, life, terms, losses, looks, setting) if looks else None
    return Reckoned(coat, life_window(life), terms, losses, seen)


def _seen(
    coat: Coat,
    life: Life,
    terms: Sequence[Term],
    losses: Sequence[Loss],
    looks: Sequence[Look],
    setting: Setting,
) -> Inspected | None:
    """The order of a day's events and looks is not known: what was found finished may owe it to that day's events."""
    counting = sorted(
        (look for look in looks if look.moment is Moment.AFTER_DECON and look.on > coat.laid_on), key=_ON
    )
    ages = [
        ages_on(coat, terms, losses, look.on, setting, with_that_day=look.water is WaterGrade.WETS_OUT)
        for look in counting
    ]
    return inspected(life, counting, ages, setting.tables.inspection)


def walked(known: Reckoned, setting: Setting) -> Walked:
    """The days on which the lives of one layer are used up."""
    coat, lives, terms, losses, seen = known
    plain = worn_days(coat, lives, terms, losses, setting)
    if seen is None:
        return Walked(plain, plain)
    days = worn_days(coat, seen.lives, terms, losses, setting)
    return Walked(seen.bound(days) if days else None, plain)


def outlook_of(known: Reckoned | None, found: Walked, setting: Setting) -> Outlook:
    """The forecast for what was reckoned with and the days that came out."""
    if known is None:
        return Outlook(None, (NO_FORECAST,))
    if found.days is None:
        return Outlook(None, (OUT_OF_SIGHT,))
    reasons = reasons_of(known.coat, known.terms, known.losses, found.days[2], setting)
    if known.seen is None:
        return Outlook(window_of(found.days), reasons)
    life, *others = reasons
    told = (life, *look_reasons(known.seen, setting.tables.inspection), *others)
    return Outlook(window_of(found.days), told, window_of(found.plain) if found.plain else None)


def window_of(days: Days) -> Window:
    """The window of three days."""
    low, likely, high = days
    return Window(date.fromordinal(low), date.fromordinal(likely), date.fromordinal(high))


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
    terms = terms_of(uses_of(habits, tables), coat.laid_on.toordinal())
    days = worn_days(coat, lives, terms, losses_of(coat, lumps, terms, setting), setting)
    return window_of(days) if days else None


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


def inputs_key(case: Case, seasons: Seasons, tables_version: str) -> str:
    """A digest of everything a forecast rests on: while it is the same, a stored forecast still holds.

    The order in which habits and lumps are handed over does not matter, except among habits of one day.
    """
    coat, life = case.coat, case.coat.life
    facts = [
        [
            coat.product_class,
            coat.zone,
            str(coat.laid_on),
            [life.low, life.likely, life.high, coat.learned] if life else None,
        ],
        [coat.prep, coat.air, coat.got_wet_early, coat.hard_used],
        sorted([str(rest.start), str(rest.end)] for rest in coat.idle),
        [_habit_facts(habit) for habit in sorted(case.habits, key=lambda habit: habit.since)],
        sorted([str(lump.on), lump.process] for lump in case.lumps),
        [[str(look.on), look.water, look.moment] for look in case.looks],
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
