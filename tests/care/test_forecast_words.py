"""What follows from a window: the condition of a layer, its words, and the digest of what it rests on."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from crm.care.coats import Case
from crm.care.forecast import Idle, Look, Lump, Window, around, condition, inputs_key, window_words
from crm.care.life import Life
from crm.care.seasons import Seasons
from crm.care.surfaces import Zone
from crm.care.tables import DEFAULTS
from crm.care.terms import Condition, Moment, Process, WaterGrade
from tests.care.sample_coats import COATED, SEA, SEALED, SEASONS, TOP, WAX, coat, kept

WINDOW = Window(date(2026, 1, 10), date(2026, 2, 10), date(2026, 3, 10))


@pytest.mark.parametrize(
    ("today", "cured_on", "ended", "expected"),
    [
        (date(2025, 10, 12), date(2025, 10, 17), False, Condition.SETTING),
        (date(2025, 10, 17), date(2025, 10, 17), False, Condition.HOLDING),
        (date(2026, 1, 9), None, False, Condition.HOLDING),
        (date(2026, 1, 10), None, False, Condition.THINNING),
        (date(2026, 3, 10), None, False, Condition.THINNING),
        (date(2026, 3, 11), None, False, Condition.DUE_A_LOOK),
        (date(2025, 10, 12), date(2025, 10, 17), True, Condition.ENDED),
    ],
)
def test_condition_follows_the_window(
    today: date, cured_on: date | None, ended: bool, expected: Condition
) -> None:
    assert condition(WINDOW, today=today, cured_on=cured_on, ended=ended) is expected


def test_condition_without_a_window_holds_until_a_person_ends_it() -> None:
    assert condition(None, today=date(2040, 1, 1), cured_on=None, ended=False) is Condition.HOLDING
    assert condition(None, today=date(2040, 1, 1), cured_on=None, ended=True) is Condition.ENDED


@pytest.mark.parametrize(
    ("day", "words"),
    [
        (date(2027, 2, 1), "early February 2027"),
        (date(2027, 2, 10), "early February 2027"),
        (date(2027, 2, 11), "around February 2027"),
        (date(2027, 2, 20), "around February 2027"),
        (date(2026, 12, 21), "late December 2026"),
        (date(2026, 12, 31), "late December 2026"),
    ],
)
def test_forecast_day_is_said_without_its_number(day: date, words: str) -> None:
    assert around(day) == words


def test_window_is_said_as_likely_and_as_what_it_could_be() -> None:
    assert (
        window_words(WINDOW) == "likely early February 2026, could be early January 2026 to early March 2026"
    )
    one = date(2026, 2, 14)
    assert window_words(Window(one, one, one)) == "likely around February 2026"


def test_inputs_key_stays_while_nothing_changed() -> None:
    habits, lumps = [kept(), kept(5000)], [Lump(date(2026, 1, 1), Process.CLAY), Lump(SEALED, Process.CUT)]
    idle = (Idle(date(2026, 1, 1)), Idle(date(2025, 1, 1), date(2025, 5, 1)))
    layer = replace(coat(SEA, SEALED), idle=idle)
    key = inputs_key(Case(layer, tuple(habits), tuple(lumps)), SEASONS, DEFAULTS.version)
    turned = Case(replace(layer, idle=idle[::-1]), tuple(habits), tuple(lumps[::-1]))
    assert key == inputs_key(turned, Seasons(), DEFAULTS.version)
    # Stored forecasts outlive a process: the digest must not depend on its hash seed.
    again = [inputs_key(Case(coat(WAX, SEALED), ()), SEASONS, "a") for _ in range(2)]
    assert again[0] == again[1]
    assert len(key) == 64


def test_inputs_key_changes_with_every_input() -> None:
    layer, habit, lump = coat(SEA, SEALED), kept(), Lump(date(2026, 1, 1), Process.CLAY)
    layers = [
        layer,
        replace(layer, product_class=TOP),
        replace(layer, zone=Zone.TOPS),
        replace(layer, laid_on=COATED),
        replace(layer, life=Life(1, 2, 3)),
        replace(layer, prep=None),
        replace(layer, air=None),
        replace(layer, got_wet_early=True),
        replace(layer, idle=(Idle(SEALED),)),
        replace(layer, hard_used=True),
    ]
    habits = [
        replace(habit, since=COATED),
        replace(habit, parking=None),
        replace(habit, km_a_year=None),
        replace(habit, salted_roads=None),
        replace(habit, wash_summer=None),
        replace(habit, wash_winter=None),
        replace(habit, on_plan=True),
        replace(habit, stored=True),
    ]
    look = Look(date(2026, 2, 1), WaterGrade.LAZY, Moment.AFTER_DECON)
    looks = [
        look,
        replace(look, on=date(2026, 2, 2)),
        replace(look, water=WaterGrade.TIGHT),
        replace(look, moment=Moment.BEFORE_DECON),
    ]
    case = Case(layer, (habit,), (lump,))
    cases = [replace(case, coat=one) for one in layers]
    cases += [replace(case, habits=(one,)) for one in habits]
    cases += [replace(case, looks=(one,)) for one in looks]
    cases += [replace(case, habits=()), replace(case, lumps=())]
    keys = [inputs_key(one, SEASONS, "1") for one in cases]
    keys.append(inputs_key(case, Seasons(hot=SEASONS.salt), "1"))
    keys.append(inputs_key(case, SEASONS, "2"))
    assert len(set(keys)) == len(keys)
