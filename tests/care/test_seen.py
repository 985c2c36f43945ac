"""From looks at one layer to an observation of its life: both sides of every rule."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from math import inf

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from crm.care.coats import Case, Coat, Habit, Idle, Look, Lump
from crm.care.course import Setting
from crm.care.forecast import project
from crm.care.life import life_of
from crm.care.observed import LONGEST_AGE, Observation
from crm.care.seasons import Seasons
from crm.care.seen import End, Ending, Seen, Watched, seen_of, seen_of_layer
from crm.care.surfaces import Zone
from crm.care.tables import DEFAULTS
from crm.care.terms import Moment, Process, ProductClass, WaterGrade
from crm.care.used_life import used_on
from tests.care.any_coats import EVENTS, any_seasons, habits, laying_days
from tests.care.sample_coats import SEA, SEALED, SEASONS, coat, kept

SETTING = Setting(SEASONS, DEFAULTS)
LAID = SEALED
MARCH, MAY, JULY = date(2026, 3, 1), date(2026, 5, 1), date(2026, 7, 1)


def on_car(layer: Coat | None = None, lumps: Sequence[Lump] = ()) -> Case:
    return Case(layer or coat(SEA, LAID), (kept(),), tuple(lumps))


def clean(on: date, water: WaterGrade) -> Look:
    return Look(on, water, Moment.AFTER_DECON)


def whole(on: date) -> Look:
    return clean(on, WaterGrade.SHEDDING)


def gone(on: date) -> Look:
    return clean(on, WaterGrade.CLINGING)


def seen(*looks: Look, end: End | None = None, layer: Case | None = None) -> Seen:
    return seen_of(Watched(layer or on_car(), looks, end), SETTING)


def age(on: date, layer: Case | None = None, *, with_that_day: bool = True) -> float:
    return used_on(layer or on_car(), on, SETTING, with_that_day=with_that_day).age


# Used life.


def test_used_life_is_counted_in_months_of_the_reference_car() -> None:
    # 22 days to 1 November at rate 1, then 30 days of salt at 1.4 (the default of the sealants' family).
    used = used_on(on_car(), date(2025, 12, 1), SETTING, with_that_day=True)
    assert used.months == pytest.approx((22 + 30 * 1.4) / 30.4375)
    assert used.share == 1
    assert used.age == used.months


def test_layer_laid_badly_is_held_against_what_it_was_worth() -> None:
    hurried = on_car(replace(coat(SEA, LAID), got_wet_early=True))
    left = DEFAULTS.wear.got_wet_early
    assert left < 1
    assert age(MARCH, hurried) == pytest.approx(age(MARCH) / left)


def test_event_shortens_what_could_be_used_from_its_day_on() -> None:
    share = DEFAULTS.wear.lumps[DEFAULTS.lives[SEA].family][Process.STRIP_WASH]
    stripped = on_car(lumps=[Lump(MARCH, Process.STRIP_WASH)])
    assert age(MARCH, stripped, with_that_day=False) == age(MARCH)
    assert age(MARCH, stripped) == pytest.approx(age(MARCH) / (1 - share))
    assert age(MAY, stripped, with_that_day=False) == pytest.approx(age(MAY) / (1 - share))


def test_polishing_leaves_nothing_to_use() -> None:
    cut = on_car(lumps=[Lump(MARCH, Process.CUT)])
    assert age(MARCH, cut, with_that_day=False) == age(MARCH)
    assert age(MARCH, cut) == inf


def test_wheels_off_the_car_use_nothing() -> None:
    laid = date(2025, 4, 1)
    layer = Coat(
        ProductClass.WHEEL_SEALANT, Zone.WHEELS, laid, idle=(Idle(date(2025, 11, 1), date(2026, 3, 1)),)
    )
    assert age(date(2026, 3, 1), on_car(layer)) == age(date(2025, 11, 1), on_car(layer))
    assert age(date(2026, 3, 2), on_car(layer)) > age(date(2026, 3, 1), on_car(layer))


@given(
    laid_on=laying_days,
    days=st.integers(1, 1500),
    zone=st.sampled_from([Zone.UPPER_SIDES, Zone.LOWER_SIDES, Zone.FRONT]),
    kind=st.sampled_from([SEA, ProductClass.NATURAL_WAX, ProductClass.COATING_ENTHUSIAST]),
    ways=st.lists(habits, max_size=3),
    events=st.lists(st.tuples(st.integers(-10, 1500), st.sampled_from(EVENTS)), max_size=3),
    seasons=any_seasons,
)
@settings(max_examples=80, deadline=None)
def test_life_that_is_used_up_on_a_day_is_forecast_to_end_on_it(
    laid_on: date,
    days: int,
    zone: Zone,
    kind: ProductClass,
    ways: list[Habit],
    events: list[tuple[int, Process]],
    seasons: Seasons,
) -> None:
    layer, day = Coat(kind, zone, laid_on), laid_on + timedelta(days)
    lumps = [Lump(laid_on + timedelta(after), process) for after, process in events]
    case = Case(layer, tuple(ways), tuple(lumps))
    life = used_on(case, day, Setting(seasons, DEFAULTS), with_that_day=True).age
    before = used_on(case, day, Setting(seasons, DEFAULTS), with_that_day=False).age
    assume(life < LONGEST_AGE)
    ends = [
        project(layer, (months,) * 3, habits=ways, lumps=lumps, seasons=seasons)
        for months in (life * (1 - 1e-6), life * (1 + 1e-6) + 1e-5, before * (1 + 1e-6) + 1e-5)
    ]
    assert ends[0] is not None
    assert ends[0].likely <= day
    assert ends[1] is None or ends[1].likely > day
    assert ends[2] is None or ends[2].likely >= day


# Which looks count.


@pytest.mark.parametrize("water", [WaterGrade.TIGHT, WaterGrade.SHEDDING, WaterGrade.LAZY])
def test_grades_of_two_and_more_are_whole(water: WaterGrade) -> None:
    assert seen(clean(MARCH, water)).observation == Observation(age(MARCH))


@pytest.mark.parametrize("water", [WaterGrade.CLINGING, WaterGrade.WETS_OUT])
def test_grades_of_one_and_nought_are_finished(water: WaterGrade) -> None:
    assert seen(clean(MARCH, water)).observation == Observation(0, age(MARCH))


def test_dirty_grades_prove_nothing() -> None:
    dirty = [Look(day, water, Moment.BEFORE_DECON) for day in (MARCH, MAY) for water in WaterGrade]
    assert seen(*dirty).observation is None
    assert seen(whole(MARCH), *dirty).observation == Observation(age(MARCH))


def test_life_lies_between_the_last_whole_and_the_first_finished() -> None:
    looks = [gone(JULY + timedelta(9)), whole(MARCH), gone(JULY), whole(MAY)]
    assert seen(*looks) == Seen(Observation(age(MAY), age(JULY)))


def test_looks_on_the_day_of_laying_and_before_are_of_what_lay_there_then() -> None:
    assert seen(gone(LAID), whole(LAID - timedelta(1))).observation is None
    assert seen(gone(LAID + timedelta(1))).observation == Observation(0, age(LAID + timedelta(1)))


def test_looks_after_the_end_are_of_what_lies_there_now() -> None:
    end = End(MAY, Ending.UNKNOWN)
    assert seen(whole(MAY), gone(JULY), end=end).observation == Observation(age(MAY))
    assert seen(whole(MARCH), gone(MAY), end=end).observation == Observation(age(MARCH), age(MAY))


# How it ended.


def test_layer_taken_off_while_whole_outlived_that_day() -> None:
    assert seen(whole(MARCH), end=End(MAY, Ending.REMOVED)).observation == Observation(age(MAY))
    assert seen(end=End(MAY, Ending.REMOVED)).observation == Observation(age(MAY))


def test_work_that_takes_a_layer_off_is_not_charged_to_it() -> None:
    cut = on_car(lumps=[Lump(MAY, Process.CUT)])
    assert seen(end=End(MAY, Ending.REMOVED), layer=cut).observation == Observation(age(MAY))


def test_layer_taken_off_after_it_was_found_finished_stays_finished() -> None:
    found = seen(gone(MAY), end=End(MAY, Ending.REMOVED))
    assert found == Seen(Observation(0, age(MAY)))
    assert seen(gone(MARCH), end=End(MAY, Ending.REMOVED)) == Seen(Observation(0, age(MARCH)))


def test_layer_that_a_person_ended_as_worn_was_finished_by_then() -> None:
    end = End(JULY, Ending.WORN)
    assert seen(whole(MARCH), end=end).observation == Observation(age(MARCH), age(JULY))
    assert seen(whole(MARCH), gone(MAY), end=end).observation == Observation(age(MARCH), age(MAY))


def test_unknown_end_says_nothing() -> None:
    end = End(JULY, Ending.UNKNOWN)
    assert seen(end=end).observation is None
    assert seen(whole(MARCH), end=end).observation == Observation(age(MARCH))


# Contradictions.


def test_whole_after_finished_holds_and_is_said() -> None:
    found = seen(gone(MARCH), whole(MAY))
    assert found.observation == Observation(age(MAY))
    assert [(each.on, each.words) for each in found.contradictions] == [
        (MARCH, "Found finished on 1 March 2026, but whole on 1 May 2026: the later finding holds.")
    ]
    again = seen(gone(MARCH), whole(MAY), gone(JULY))
    assert again.observation == Observation(age(MAY), age(JULY))
    assert again.contradictions == found.contradictions


def test_whole_and_finished_with_no_wear_between_is_finished() -> None:
    found = seen(whole(MARCH), whole(MAY), gone(MAY))
    assert found.observation == Observation(age(MARCH), age(MAY))
    assert [(each.on, each.words) for each in found.contradictions] == [
        (
            MAY,
            "Whole on 1 May 2026, finished on 1 May 2026, and nothing wore it in between: the later finding holds.",
        )
    ]
    stripped = on_car(lumps=[Lump(MAY, Process.STRIP_WASH)])
    between = seen(whole(MAY), gone(MAY), layer=stripped)
    assert between == Seen(Observation(age(MAY), age(MAY, stripped)))


def test_whole_where_events_left_hardly_anything_is_not_counted() -> None:
    cut = on_car(lumps=[Lump(MAY, Process.CUT)])
    found = seen(whole(MARCH), whole(JULY), layer=cut)
    assert found.observation == Observation(age(MARCH))
    assert [(each.on, each.words) for each in found.contradictions] == [
        (
            JULY,
            "Whole on 1 July 2026, when by its washes and work hardly anything could be left: not counted.",
        )
    ]


def test_finished_by_events_alone_says_only_how_long_it_was_whole() -> None:
    cut = on_car(lumps=[Lump(MAY, Process.CUT)])
    assert seen(whole(MARCH), gone(JULY), layer=cut).observation == Observation(age(MARCH))
    assert seen(gone(JULY), layer=cut).observation is None


def test_finished_without_any_wear_says_nothing() -> None:
    laid = date(2025, 11, 1)
    stored = on_car(Coat(ProductClass.WHEEL_SEALANT, Zone.WHEELS, laid, idle=(Idle(laid, JULY),)))
    assert seen(gone(MARCH), layer=stored).observation is None
    assert seen(whole(MARCH), layer=stored).observation is None


# Zones.


def test_life_elsewhere_is_turned_into_one_at_the_main_site() -> None:
    low = on_car(coat(SEA, LAID, Zone.LOWER_SIDES))
    found = seen_of(Watched(low, (gone(MAY),)), SETTING).observation
    own, there = (
        life_of(SEA, zone, own=None, hard_used=False, tables=DEFAULTS)
        for zone in (DEFAULTS.lives[SEA].home[0], Zone.LOWER_SIDES)
    )
    assert own is not None
    assert there is not None
    assert found is not None
    assert found.high == pytest.approx(age(MAY, low) * own.likely / there.likely)


def test_spot_that_wears_first_speaks_for_the_whole_zone() -> None:
    zone = next(zone for zone, wear in DEFAULTS.zones.items() if wear.hard_use is not None)
    hard_use = DEFAULTS.zones[zone].hard_use
    assert hard_use is not None
    kind = next(kind for kind, life in DEFAULTS.lives.items() if zone in life.home)
    layer = coat(kind, LAID, zone)
    plain, spot = (
        seen_of(Watched(on_car(one), (gone(MAY),)), SETTING).observation
        for one in (layer, replace(layer, hard_used=True))
    )
    assert plain is not None
    assert spot is not None
    assert spot.high == pytest.approx(plain.high / hard_use.share)


def test_class_without_a_forecast_tells_nothing() -> None:
    layer = on_car(coat(ProductClass.UNKNOWN, LAID))
    assert seen_of(Watched(layer, (gone(MAY),)), SETTING) == Seen(None)


def test_zones_of_one_layer_count_as_one_together() -> None:
    zones = [
        Watched(on_car(coat(SEA, LAID, zone)), looks)
        for zone, looks in (
            (Zone.UPPER_SIDES, (whole(MAY),)),
            (Zone.LOWER_SIDES, (gone(MAY),)),
            (Zone.FRONT, (Look(MAY, WaterGrade.LAZY, Moment.BEFORE_DECON),)),
        )
    ]
    found = seen_of_layer(zones, SETTING)
    assert [each.observation.weight if each.observation else None for each in found] == [0.5, 0.5, None]
    alone = seen_of_layer(zones[:1], SETTING)
    assert [each.observation for each in alone] == [seen_of(zones[0], SETTING).observation]
    assert seen_of_layer(zones[2:], SETTING) == (Seen(None),)
