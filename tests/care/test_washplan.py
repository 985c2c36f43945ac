"""Wash plans. Intervals are common practice, no source."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest

from crm.care.seasons import MonthDay, Season
from crm.care.terms import Circumstance, WashPlan
from crm.care.washplan import DueWash, owner_wash_words, wash_visits

SALT = Season(MonthDay(11, 1), MonthDay(3, 31))
ANCHOR = date(2026, 1, 31)


def _due(
    plan: WashPlan,
    *circumstances: Circumstance,
    anchor: date = ANCHOR,
    coated_on: date | None = None,
    until: date = date(2027, 1, 31),
    salt: Season = SALT,
) -> list[date]:
    visits = wash_visits(
        plan,
        anchor=anchor,
        coated_on=coated_on,
        until=until,
        circumstances=frozenset(circumstances),
        salt=salt,
    )
    assert list(visits) == sorted(visits)
    return [visit.due for visit in visits]


def test_no_plan_has_no_visits() -> None:
    assert _due(WashPlan.NONE) == []


def test_first_look_comes_four_to_six_weeks_after_a_new_coating_on_any_plan() -> None:
    coated = date(2026, 5, 4)
    for plan in WashPlan:
        first = _due(plan, anchor=coated, coated_on=coated)[0]
        assert timedelta(weeks=4) <= first - coated <= timedelta(weeks=6)


def test_first_look_belongs_to_the_past_once_the_anchor_is_later() -> None:
    assert _due(WashPlan.NONE, anchor=date(2026, 7, 1), coated_on=date(2026, 5, 4)) == []


def test_plan_visits_near_the_first_look_fall_away() -> None:
    coated = date(2026, 5, 4)
    due = _due(WashPlan.NO_TIME, anchor=coated, coated_on=coated, until=date(2026, 8, 1))
    assert due == [date(2026, 6, 8), date(2026, 7, 27)]  # five weeks, then the twelfth; the sixth falls away


def test_enthusiast_comes_twice_a_year_from_the_anchor_clamped_to_the_months_end() -> None:
    due = _due(WashPlan.ENTHUSIAST, anchor=date(2025, 8, 31), until=date(2027, 3, 1))
    assert due == [date(2026, 2, 28), date(2026, 8, 31), date(2027, 2, 28)]


def test_sealed_daily_comes_quarterly_and_before_the_salt() -> None:
    visits = wash_visits(
        WashPlan.SEALED_DAILY,
        anchor=ANCHOR,
        coated_on=None,
        until=date(2027, 1, 31),
        circumstances=frozenset(),
        salt=SALT,
    )
    assert visits == (
        DueWash(date(2026, 4, 30), "quarterly maintenance wash"),
        DueWash(date(2026, 7, 31), "quarterly maintenance wash"),
        DueWash(date(2026, 10, 4), "autumn re-protection before the salt"),
        DueWash(date(2027, 1, 31), "quarterly maintenance wash"),
    )


@pytest.mark.parametrize(
    ("circumstances", "months"),
    [((), 6), ((Circumstance.COAST,), 3), ((Circumstance.HIGH_MILEAGE,), 3), ((Circumstance.DOGS,), 6)],
)
def test_film_comes_two_to_four_times_a_year(circumstances: tuple[Circumstance, ...], months: int) -> None:
    due = _due(WashPlan.FILM_OR_MATT, *circumstances)
    assert len(due) == 12 // months
    assert due[-1] == date(2027, 1, 31)


def test_no_time_comes_every_six_weeks_and_every_four_on_salt() -> None:
    plain = _due(WashPlan.NO_TIME)
    salted = _due(WashPlan.NO_TIME, Circumstance.SALTED_ROADS)
    assert {after - before for before, after in pairwise(plain)} == {timedelta(weeks=6)}
    steps = {before: after - before for before, after in zip([ANCHOR, *salted], salted, strict=False)}
    assert all(step == timedelta(weeks=4 if SALT.contains(day) else 6) for day, step in steps.items())
    assert 8 <= len(plain) < len(salted) <= 12


def test_fleet_has_one_deep_clean_a_year() -> None:
    visits = wash_visits(
        WashPlan.FLEET,
        anchor=ANCHOR,
        coated_on=None,
        until=date(2028, 3, 31),
        circumstances=frozenset(),
        salt=SALT,
    )
    deep = [visit.due for visit in visits if visit.words == "yearly deep clean"]
    assert deep == [date(2027, 2, 27), date(2028, 3, 25)]
    assert all(4 <= (b.due - a.due).days / 7 <= 8 for a, b in pairwise(visits))


def test_weekend_car_comes_round_its_season() -> None:
    visits = wash_visits(
        WashPlan.WEEKEND,
        anchor=ANCHOR,
        coated_on=None,
        until=date(2027, 4, 1),
        circumstances=frozenset({Circumstance.STORED}),
        salt=SALT,
    )
    assert [visit.due for visit in visits] == [
        date(2026, 4, 1),
        date(2026, 7, 3),
        date(2026, 10, 4),
        date(2027, 4, 1),
    ]
    assert [visit.words.split(":")[0] for visit in visits] == [
        "before the season",
        "mid-season maintenance wash",
        "before storage",
        "before the season",
    ]


def test_weekend_car_follows_a_southern_winter() -> None:
    southern = Season(MonthDay(6, 1), MonthDay(8, 31))
    due = _due(WashPlan.WEEKEND, salt=southern)
    assert due == [date(2026, 5, 4), date(2026, 9, 1), date(2027, 1, 1)]


def test_stored_car_has_no_visit_while_salt_lies() -> None:
    due = _due(WashPlan.NO_TIME, Circumstance.STORED)
    assert due
    assert not any(SALT.contains(day) for day in due)


def test_shared_tunnel_use_halves_the_interval() -> None:
    assert _due(WashPlan.ENTHUSIAST, Circumstance.SHARED_TUNNEL_USER) == [
        date(2026, 4, 30),
        date(2026, 7, 31),
        date(2026, 10, 31),
        date(2027, 1, 31),
    ]
    weekly = _due(WashPlan.NO_TIME, Circumstance.SHARED_TUNNEL_USER)
    assert weekly[1] - weekly[0] == timedelta(weeks=4)


def test_owner_who_cannot_wash_gets_the_closer_visits() -> None:
    assert _due(WashPlan.ENTHUSIAST, Circumstance.CANNOT_WASH) == _due(WashPlan.NO_TIME)
    assert owner_wash_words(WashPlan.ENTHUSIAST, frozenset({Circumstance.CANNOT_WASH})) == (
        "not at all: the studio does it"
    )


def test_owner_wash_words_exist_for_every_plan() -> None:
    assert owner_wash_words(WashPlan.ENTHUSIAST, frozenset()) == "every two to three weeks"
    assert all(owner_wash_words(plan, frozenset()) for plan in WashPlan)


def test_visits_end_with_the_last_day_asked_for() -> None:
    assert _due(WashPlan.ENTHUSIAST, until=date(2026, 7, 31)) == [date(2026, 7, 31)]
    assert _due(WashPlan.ENTHUSIAST, until=date(2026, 7, 30)) == []
