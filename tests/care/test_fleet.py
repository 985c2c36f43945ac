"""Layers worked out side by side have the dates and the words of those worked out one by one, all of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care import fleet
from crm.care.coats import Case
from crm.care.fleet import outlooks, windows
from crm.care.forecast import Coat, Habit, Idle, Lump, Outlook, outlook
from crm.care.life import Life
from crm.care.seasons import Seasons
from crm.care.surfaces import Zone
from crm.care.tables import DEFAULTS, Tables
from crm.care.terms import Process, ProductClass
from tests.care.any_coats import any_seasons, coats, courses, events, looks, rests
from tests.care.sample_coats import COATED, COP, SEA, SEALED, coat, kept

WORN = Lump(date(2026, 3, 1), Process.TUNNEL_WASH)
any_class = coats(list(ProductClass))


@st.composite
def cars(draw: st.DrawFn) -> list[Case]:
    """The layers of up to four cars, some on wheels that were off the car."""
    found = []
    for _ in range(draw(st.integers(1, 4))):
        habits = tuple(draw(courses))
        for each in draw(st.lists(any_class, max_size=5)):
            idle = draw(rests()) if draw(st.booleans()) else ()
            seen = tuple(draw(looks)) if draw(st.booleans()) else ()
            found.append(Case(replace(each, idle=idle), habits, tuple(draw(events)), seen))
    return found


def one_by_one(cases: Sequence[Case], seasons: Seasons, tables: Tables = DEFAULTS) -> list[Outlook]:
    return [
        outlook(
            each.coat,
            habits=each.habits,
            lumps=each.lumps,
            looks=each.looks,
            seasons=seasons,
            tables=tables,
        )
        for each in cases
    ]


@settings(max_examples=100, deadline=None)
@given(cases=cars(), seasons=any_seasons)
def test_outlooks_are_those_of_one_by_one(cases: list[Case], seasons: Seasons) -> None:
    alone = one_by_one(cases, seasons)
    assert list(outlooks(cases, seasons=seasons)) == alone
    assert list(windows(cases, seasons=seasons)) == [each.window for each in alone]


@settings(max_examples=30, deadline=None)
@given(cases=cars(), seasons=any_seasons)
def test_a_studios_own_figures_hold_side_by_side(cases: list[Case], seasons: Seasons) -> None:
    own = DEFAULTS.with_overrides(
        {
            "wear": {
                "clamp": {"low": 0.1, "high": 6},
                "season": {"sealant": {"salt": 2.2}},
                "plan": {"factor": 0.8},
            }
        }
    )
    assert list(outlooks(cases, seasons=seasons, tables=own)) == one_by_one(cases, seasons, own)


def test_nothing_gives_nothing() -> None:
    assert list(outlooks([], seasons=Seasons())) == []


def test_layer_of_a_class_that_nobody_knows_has_no_window_beside_those_that_have() -> None:
    cases = [
        Case(Coat(ProductClass.UNKNOWN, Zone.TOPS, SEALED), (kept(),), (WORN,)),
        Case(coat(SEA, SEALED), (kept(),), (WORN,)),
    ]
    nobody_knows, sealed = windows(cases, seasons=Seasons())
    assert nobody_knows is None
    assert sealed == outlook(coat(SEA, SEALED), habits=[kept()], lumps=[WORN], seasons=Seasons()).window


def test_layer_that_outlasts_the_calendar_has_no_window() -> None:
    late = Case(replace(coat(COP, date(9990, 1, 1)), life=Life(100, 200, 300)), (kept(),))
    early = Case(coat(COP, date(1, 1, 1)), (kept(),))
    assert list(outlooks([late, early], seasons=Seasons())) == one_by_one([late, early], Seasons())
    assert [each is None for each in windows([late, early], seasons=Seasons())] == [True, False]


def test_uses_are_read_for_each_car_not_for_the_one_before() -> None:
    gentle, harsh = (kept(2_000),), (kept(45_000),)
    cases = [Case(coat(SEA, SEALED), habits) for habits in (gentle, harsh, gentle, ())]
    found = list(windows(cases, seasons=Seasons()))
    assert found[0] == found[2]
    assert found == [each.window for each in one_by_one(cases, Seasons())]
    assert found[1] != found[0]


def test_a_life_that_ends_with_the_time_off_the_car_ends_before_it() -> None:
    """Wheels come off on the very day on which the life is used up: the day is that one, not one months later."""
    worn = outlook(coat(COP, COATED, Zone.WHEELS), habits=[kept()], seasons=Seasons()).window
    assert worn is not None
    off = replace(coat(COP, COATED, Zone.WHEELS), idle=(Idle(worn.likely, worn.likely + timedelta(days=90)),))
    (beside,) = windows([Case(off, (kept(),))], seasons=Seasons())
    assert beside is not None
    assert beside.likely == worn.likely


@pytest.mark.parametrize("size", [1, 3, 100])
def test_batches_of_any_size_keep_the_order(size: int, monkeypatch: pytest.MonkeyPatch) -> None:
    cases = [Case(coat(SEA, SEALED + timedelta(days=days)), (kept(),)) for days in range(7)]
    monkeypatch.setattr(fleet, "BATCH", size)
    found = list(outlooks(cases, seasons=Seasons()))
    assert found == one_by_one(cases, Seasons())


def test_many_events_on_one_layer_are_all_counted() -> None:
    every_week = tuple(Lump(COATED + timedelta(days=7 * week), Process.TUNNEL_WASH) for week in range(1, 200))
    case = Case(coat(COP, COATED), (kept(),), every_week)
    alone = one_by_one([case], Seasons())
    assert list(outlooks([case], seasons=Seasons())) == alone
    assert alone != one_by_one([Case(coat(COP, COATED), (kept(),))], Seasons())


def test_habits_of_one_day_the_later_holds() -> None:
    said_twice: tuple[Habit, ...] = (kept(2_000), kept(45_000))
    case = Case(coat(SEA, SEALED), said_twice)
    assert list(outlooks([case], seasons=Seasons())) == one_by_one(
        [Case(coat(SEA, SEALED), (kept(45_000),))], Seasons()
    )
