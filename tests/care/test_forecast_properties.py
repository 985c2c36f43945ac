"""What must hold for every forecast, whatever the layer, the car and the seasons."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.daily import DailyWalk
from crm.care.forecast import Coat, Habit, Idle, Lump, Window, outlook
from crm.care.life import Life
from crm.care.seasons import MonthDay, Season, Seasons
from crm.care.surfaces import Zone
from crm.care.terms import Air, Parking, Prep, ProductClass, Wash
from tests.care.any_coats import SHORT, any_seasons, coats, courses, events, habits, rests

FAST = settings(max_examples=80, deadline=None)


def window(coat: Coat, course: Sequence[Habit], seasons: Seasons, lumps: Sequence[Lump] = ()) -> Window:
    found = outlook(coat, habits=course, lumps=lumps, seasons=seasons).window
    assert found is not None
    return found


def days(found: Window) -> tuple[date, date, date]:
    return found.low, found.likely, found.high


@FAST
@given(coat=coats(), idle=rests(), course=courses, lumps=events, seasons=any_seasons)
def test_window_always_runs_from_low_to_high(
    coat: Coat, idle: tuple[Idle, ...], course: list[Habit], lumps: list[Lump], seasons: Seasons
) -> None:
    found = outlook(replace(coat, idle=idle), habits=course, lumps=lumps, seasons=seasons)
    assert found.window is not None
    assert coat.laid_on <= found.window.low <= found.window.likely <= found.window.high
    assert found.reasons[0].code == "life"
    assert all(reason.words for reason in found.reasons)


@settings(max_examples=60, deadline=None)
@given(coat=coats(SHORT), idle=rests(), course=courses, lumps=events, seasons=any_seasons)
def test_exact_dates_are_those_of_the_daily_walk(
    coat: Coat, idle: tuple[Idle, ...], course: list[Habit], lumps: list[Lump], seasons: Seasons
) -> None:
    coat = replace(coat, idle=idle, life=None)
    exact = days(window(coat, course, seasons, lumps))
    walked = DailyWalk(coat, course, lumps, seasons).window()
    assert walked is not None
    assert all(abs(one - other) <= timedelta(days=1) for one, other in zip(exact, walked, strict=True))


# Each answer from the gentlest to the harshest, by its factor.
HARSHER = [
    ("parking", Parking.GARAGE, Parking.CARPORT),
    ("parking", Parking.CARPORT, Parking.OUTDOORS),
    ("parking", Parking.OUTDOORS, Parking.NEAR_SEA),
    ("parking", Parking.NEAR_SEA, Parking.TREES_OR_INDUSTRY),
    ("km_a_year", 1000, 12_000),
    ("km_a_year", 12_000, 22_000),
    ("km_a_year", 22_000, 45_000),
    ("salted_roads", False, True),
    ("wash_summer", Wash.HAND_NEUTRAL, Wash.LANCE_OWN_MITT),
    ("wash_winter", Wash.LANCE_OWN_MITT, Wash.LANCE_BRUSH),
    ("wash_winter", Wash.LANCE_BRUSH, Wash.TOUCH_FREE),
    ("wash_summer", Wash.HAND_NEUTRAL, Wash.TUNNEL),
    ("on_plan", True, False),
    ("stored", True, False),
]


@FAST
@given(
    coat=coats(),
    course=courses.filter(bool),
    seasons=any_seasons,
    step=st.sampled_from(HARSHER),
    at=st.integers(0, 3),
)
def test_more_wear_never_lengthens_a_window(
    coat: Coat, course: list[Habit], seasons: Seasons, step: tuple[str, object, object], at: int
) -> None:
    answer, gentle, harsh = step
    index = at % len(course)

    def told(value: object) -> list[Habit]:
        changed = replace(course[index], **{answer: value})  # type: ignore[arg-type]
        return [*course[:index], changed, *course[index + 1 :]]

    before, after = days(window(coat, told(gentle), seasons)), days(window(coat, told(harsh), seasons))
    assert all(late <= early for late, early in zip(after, before, strict=True))


@FAST
@given(coat=coats(), course=courses, lumps=events, more=events, seasons=any_seasons)
def test_further_events_never_lengthen_a_window(
    coat: Coat, course: list[Habit], lumps: list[Lump], more: list[Lump], seasons: Seasons
) -> None:
    before = days(window(coat, course, seasons, lumps))
    after = days(window(coat, course, seasons, lumps + more))
    assert all(late <= early for late, early in zip(after, before, strict=True))


@FAST
@given(coat=coats(), course=courses, seasons=any_seasons)
def test_worse_laying_never_lengthens_a_window(coat: Coat, course: list[Habit], seasons: Seasons) -> None:
    good = replace(coat, air=Air.INSIDE, prep=Prep.POLISHED_WIPED, got_wet_early=False)
    best = days(window(good, course, seasons))
    for worse in (coat, replace(good, air=Air.MARGINAL), replace(good, prep=Prep.WASHED)):
        assert all(
            late <= early for late, early in zip(days(window(worse, course, seasons)), best, strict=True)
        )


@FAST
@given(
    coat=coats(),
    habit=habits,
    seasons=any_seasons,
    answer=st.sampled_from(["parking", "km_a_year", "salted_roads", "wash_summer", "wash_winter"]),
)
def test_unknown_never_narrows_a_window(coat: Coat, habit: Habit, seasons: Seasons, answer: str) -> None:
    known = window(coat, [habit], seasons)
    untold = replace(habit, **{answer: None})  # type: ignore[arg-type]
    unknown = window(coat, [untold], seasons)
    assert unknown.high >= known.high
    assert unknown.high - unknown.low >= known.high - known.low - timedelta(days=1)
    if not answer.startswith("wash"):
        assert unknown.low <= known.low


@FAST
@given(coat=coats(), habit=habits, seasons=any_seasons, what=st.sampled_from(["air", "prep"]))
def test_unrecorded_laying_never_narrows_a_window(
    coat: Coat, habit: Habit, seasons: Seasons, what: str
) -> None:
    known = window(coat, [habit], seasons)
    unknown = window(replace(coat, **{what: None}), [habit], seasons)  # type: ignore[arg-type]
    assert unknown.high >= known.high
    assert unknown.high - unknown.low >= known.high - known.low - timedelta(days=1)


@FAST
@given(
    coat=coats(),
    habit=habits,
    lumps=events,
    seasons=any_seasons,
    after=st.lists(st.integers(0, 1500), max_size=3),
)
def test_telling_the_same_habit_again_changes_nothing(
    coat: Coat, habit: Habit, lumps: list[Lump], seasons: Seasons, after: list[int]
) -> None:
    again = [replace(habit, since=habit.since + timedelta(days=days)) for days in after]
    once = outlook(coat, habits=[habit], lumps=lumps, seasons=seasons)
    assert outlook(coat, habits=[habit, *again], lumps=lumps, seasons=seasons) == once


@FAST
@given(coat=coats(), habit=habits, seasons=any_seasons, cut=st.integers(1, 2000))
def test_event_that_costs_nothing_splits_the_course_without_a_trace(
    coat: Coat, habit: Habit, seasons: Seasons, cut: int
) -> None:
    # A set taken off and put back the same day breaks the course in two at that day.
    day = coat.laid_on + timedelta(days=cut)
    whole = days(window(coat, [habit], seasons))
    assert days(window(replace(coat, idle=(Idle(day, day),)), [habit], seasons)) == whole


@FAST
@given(coat=coats(), course=courses, seasons=any_seasons)
def test_longer_life_never_shortens_a_window(coat: Coat, course: list[Habit], seasons: Seasons) -> None:
    life = coat.life or Life(4, 6, 9)
    shorter = days(window(replace(coat, life=life), course, seasons))
    longer = days(window(replace(coat, life=life.scaled(1.3)), course, seasons))
    assert all(early <= late for early, late in zip(shorter, longer, strict=True))


@pytest.mark.parametrize("zone", [Zone.UPPER_SIDES, Zone.LOWER_SIDES, Zone.WHEELS])
def test_year_turned_round_by_half_gives_the_south_the_same_life(zone: Zone) -> None:
    """181 days from 1 January to 1 July: seasons moved by exactly as much move the window with them."""
    north = Seasons(salt=Season(MonthDay(1, 1), MonthDay(3, 31)), hot=Season(MonthDay(6, 1), MonthDay(6, 30)))
    shift = timedelta(days=181)

    def moved(season: Season) -> Season:
        start, end = (
            date(2025, season.start.month, season.start.day),
            date(2025, season.end.month, season.end.day),
        )
        start, end = start + shift, end + shift
        return Season(MonthDay(start.month, start.day), MonthDay(end.month, end.day))

    south = Seasons(salt=moved(north.salt), hot=moved(north.hot))
    coat = Coat(ProductClass.NATURAL_WAX, zone, date(2025, 1, 10))
    there = window(coat, [], north)
    here = window(replace(coat, laid_on=coat.laid_on + shift), [], south)
    assert days(here) == tuple(day + shift for day in days(there))
