"""Forecasts: unknown answers, habits that change, events, sets off the car, and the reasons in words."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from crm.care.forecast import Habit, Idle, Lump, Window, outlook, project
from crm.care.life import Life, life_window
from crm.care.seasons import MonthDay, Season, Seasons
from crm.care.surfaces import Zone
from crm.care.tables import DEFAULTS
from crm.care.terms import Parking, Prep, Process, ProductClass, Wash
from tests.care.sample_coats import COATED, COP, SEA, SEALED, SEASONS, TOP, WAX, coat, kept


def test_forecast_of_an_unknown_layer_is_no_window_and_says_so() -> None:
    found = outlook(coat(ProductClass.UNKNOWN, SEALED), habits=[kept()], seasons=SEASONS)
    assert found.window is None
    assert [reason.code for reason in found.reasons] == ["no_forecast"]


def test_forecast_without_any_habit_takes_every_answer_as_unknown() -> None:
    told_nothing = Habit(date(2020, 1, 1))
    layer = coat(SEA, SEALED)
    assert outlook(layer, habits=[], seasons=SEASONS) == outlook(
        layer, habits=[told_nothing], seasons=SEASONS
    )
    codes = [reason.code for reason in outlook(layer, habits=[], seasons=SEASONS).reasons]
    assert codes == [
        "life",
        "parking_unknown",
        "wash_unknown",
        "salt_unknown",
        "salt",
        "heat",
        "distance_unknown",
    ]


def test_forecast_says_in_words_what_makes_it() -> None:
    layer = replace(coat(SEA, SEALED, Zone.LOWER_SIDES), air=None, prep=Prep.CLAYED, got_wet_early=True)
    habit = Habit(date(2020, 1, 1), Parking.NEAR_SEA, 22_000, True, Wash.TUNNEL, None, on_plan=True)
    reasons = outlook(layer, habits=[habit], seasons=SEASONS).reasons
    assert [(reason.code, reason.words) for reason in reasons] == [
        (
            "life",
            "reference life of paint sealant, lower sides: 4 to 9 months, most likely 6 (opinions in the trade differ)",
        ),
        ("air_unknown", "the conditions of laying are not recorded: the low date is earlier"),
        ("prep", "clayed, not polished: lasts 0.9 times as long"),
        ("wet_early", "got wet before it might: lasts 0.7 times as long"),
        ("zone", "grit and spray hit the lower sides: wears 1.1 times as fast"),
        ("parking", "parked near the sea: wears 1.15 times as fast"),
        ("wash", "washed in a brush or cloth tunnel outside the salted months: wears 1.5 times as fast"),
        ("wash_unknown", "how it is washed in the salted months is not known: the window is wider"),
        ("salt", "salted roads from November: 1.82 times in those months"),
        ("plan", "on a maintenance plan: wears 0.9 times as fast"),
        ("fastest", "all together reckoned at no more than 2.5 times as fast"),
        ("distance", "22,000 km a year: wears 1.15 times as fast"),
    ]


def test_forecast_names_our_own_estimate_and_the_studio_s_figures() -> None:
    ours = outlook(coat(ProductClass.COATING_MULTI, SEALED), habits=[kept()], seasons=SEASONS).reasons[0]
    assert ours.words.endswith("24 to 66 months, most likely 42 (our estimate)")
    theirs = replace(coat(SEA, SEALED), life=Life(5, 7, 9))
    words = outlook(theirs, habits=[kept()], seasons=SEASONS).reasons[0].words
    assert words.endswith("5 to 9 months, most likely 7 (the studio's own figures)")
    elsewhere = replace(theirs, zone=Zone.SHUTS)
    words = outlook(elsewhere, habits=[kept()], seasons=SEASONS).reasons[0].words
    assert words.endswith(
        "7 to 12.6 months, most likely 9.8 (the studio's own figures, carried over to this place)"
    )


def test_forecast_of_a_reference_car_in_summer_has_one_reason() -> None:
    layer = coat(WAX, date(2025, 4, 1))
    assert [reason.code for reason in outlook(layer, habits=[kept()], seasons=SEASONS).reasons] == [
        "life",
        "heat",
    ]
    garaged = kept(parking=Parking.GARAGE)
    codes = [reason.code for reason in outlook(layer, habits=[garaged], seasons=SEASONS).reasons]
    assert codes == ["life", "parking"]


def test_habit_changes_the_wear_from_its_date_and_the_reasons_say_since_when() -> None:
    layer = coat(COP, COATED)
    rough = replace(kept(40_000, wash=Wash.TUNNEL), since=date(2026, 1, 15))
    before = outlook(layer, habits=[kept()], seasons=SEASONS).window
    always = outlook(layer, habits=[replace(rough, since=COATED)], seasons=SEASONS).window
    changed = outlook(layer, habits=[kept(), rough], seasons=SEASONS)
    assert before is not None
    assert always is not None
    assert changed.window is not None
    assert always.likely < changed.window.likely < before.likely
    assert [reason.words for reason in changed.reasons if reason.code in ("wash", "distance")] == [
        "from January 2026: washed in a brush or cloth tunnel: wears 1.3 times as fast",
        "from January 2026: 40,000 km a year: wears 1.35 times as fast",
    ]


def test_habit_that_ended_is_said_with_its_end() -> None:
    gentle = replace(kept(), since=date(2026, 1, 15))
    reasons = outlook(coat(COP, COATED), habits=[kept(wash=Wash.TUNNEL), gentle], seasons=SEASONS).reasons
    assert "until January 2026: washed in a brush or cloth tunnel: wears 1.3 times as fast" in [
        reason.words for reason in reasons
    ]


def test_habit_known_only_later_leaves_the_time_before_it_unknown() -> None:
    later = replace(kept(), since=date(2026, 1, 15))
    known = outlook(coat(COP, COATED), habits=[kept()], seasons=SEASONS).window
    late = outlook(coat(COP, COATED), habits=[later], seasons=SEASONS).window
    assert known is not None
    assert late is not None
    assert late.low < known.low
    assert late.high > known.high


def test_later_of_two_habits_of_one_day_holds() -> None:
    layer = coat(SEA, SEALED)
    assert outlook(layer, habits=[kept(40_000), kept()], seasons=SEASONS) == outlook(
        layer, habits=[kept()], seasons=SEASONS
    )


def test_event_takes_its_share_and_says_so() -> None:
    lump = Lump(date(2026, 3, 1), Process.CLAY)
    plain = outlook(coat(COP, COATED), habits=[kept()], seasons=SEASONS)
    clayed = outlook(coat(COP, COATED), habits=[kept()], lumps=[lump], seasons=SEASONS)
    # 15 per cent of the life, so the dates are those of a layer that kept 85 per cent.
    kept_share = project(
        coat(COP, COATED), _times(0.85, life_window(Life(18, 30, 48))), habits=[kept()], seasons=SEASONS
    )
    assert clayed.window == kept_share
    assert clayed.window != plain.window
    assert clayed.reasons == (
        *plain.reasons,
        clayed.reasons[-1],
    )
    assert clayed.reasons[-1].words == "clay in March 2026: took 0.15 of the whole life"


def _times(share: float, lives: tuple[float, float, float]) -> tuple[float, float, float]:
    return lives[0] * share, lives[1] * share, lives[2] * share


def test_event_that_takes_the_layer_off_ends_the_window_that_day() -> None:
    day = date(2025, 12, 1)
    found = outlook(coat(COP, COATED), habits=[kept()], lumps=[Lump(day, Process.RESPRAY)], seasons=SEASONS)
    assert found.window == Window(day, day, day)
    assert found.reasons[-1].words == "respray in December 2025: takes it off"


def test_events_of_a_kind_are_summed_up_in_one_reason() -> None:
    lumps = [Lump(date(2025, 11, 1) + timedelta(days=n), Process.TUNNEL_WASH) for n in range(3)]
    reasons = outlook(coat(SEA, SEALED), habits=[kept()], lumps=lumps, seasons=SEASONS).reasons
    assert reasons[-1].words == "tunnel wash 3 times since November 2025: took 0.24 of the whole life"


def test_event_on_the_day_of_laying_came_before_the_layer() -> None:
    plain = outlook(coat(SEA, SEALED), habits=[kept()], seasons=SEASONS)
    assert (
        outlook(coat(SEA, SEALED), habits=[kept()], lumps=[Lump(SEALED, Process.CLAY)], seasons=SEASONS)
        == plain
    )


def test_set_off_the_car_does_not_wear() -> None:
    wheels = coat(ProductClass.WHEEL_COATING, date(2025, 4, 1), Zone.WHEELS)
    steady = replace(kept(), salted_roads=False, parking=Parking.GARAGE)
    on = outlook(wheels, habits=[steady], seasons=SEASONS).window
    rest = Idle(date(2025, 5, 1), date(2025, 8, 1))
    off = outlook(replace(wheels, idle=(rest,)), habits=[steady], seasons=SEASONS)
    assert on is not None
    assert off.window == Window(*(day + timedelta(days=92) for day in (on.low, on.likely, on.high)))
    assert off.reasons[-1].words == "off the car from May 2025 to August 2025: it does not wear"


def test_set_off_the_car_is_not_touched_by_the_car_s_machine_washes() -> None:
    wheels = coat(ProductClass.WHEEL_COATING, date(2025, 4, 1), Zone.WHEELS)
    wheels = replace(wheels, idle=(Idle(date(2025, 5, 1), date(2025, 8, 1)),))
    wash = Lump(date(2025, 6, 1), Process.TUNNEL_WASH)
    plain = outlook(wheels, habits=[kept()], seasons=SEASONS)
    assert outlook(wheels, habits=[kept()], lumps=[wash], seasons=SEASONS) == plain


def test_set_with_no_date_of_return_has_a_wider_window() -> None:
    wheels = coat(ProductClass.WHEEL_COATING, date(2025, 4, 1), Zone.WHEELS)
    steady = replace(kept(), salted_roads=False, parking=Parking.GARAGE)
    on = outlook(wheels, habits=[steady], seasons=SEASONS).window
    off = outlook(replace(wheels, idle=(Idle(date(2025, 5, 1)),)), habits=[steady], seasons=SEASONS)
    assert on is not None
    assert off.window == Window(
        on.low + timedelta(days=122), on.likely + timedelta(days=183), on.high + timedelta(days=274)
    )
    assert off.reasons[-1].code == "idle_open"


def test_stored_car_wears_more_slowly_and_says_why() -> None:
    laid_up = outlook(coat(SEA, SEALED), habits=[replace(kept(), stored=True)], seasons=SEASONS)
    driven = outlook(coat(SEA, SEALED), habits=[kept()], seasons=SEASONS)
    assert laid_up.window is not None
    assert driven.window is not None
    assert laid_up.window.low > driven.window.low
    assert [reason.code for reason in laid_up.reasons] == ["life", "stored"]


def test_cabin_forecast_is_the_same_however_the_car_is_washed_and_parked() -> None:
    seats = coat(ProductClass.LEATHER_COATING, SEALED, Zone.SEATS)
    rough = kept(parking=Parking.NEAR_SEA, wash=Wash.TUNNEL)
    assert outlook(seats, habits=[rough], seasons=SEASONS) == outlook(seats, habits=[kept()], seasons=SEASONS)
    bolster = outlook(replace(seats, hard_used=True), habits=[kept()], seasons=SEASONS)
    whole = outlook(seats, habits=[kept()], seasons=SEASONS)
    assert bolster.window is not None
    assert whole.window is not None
    assert abs((bolster.window.likely - SEALED) * 2 - (whole.window.likely - SEALED)) <= timedelta(days=2)
    assert whole.reasons[1].words == (
        "the driver's outer bolster goes first: it lasts 0.5 times as long as the rest"
    )


def test_forecast_beyond_the_calendar_is_no_window() -> None:
    found = outlook(coat(ProductClass.PAINT_FILM, date(9998, 1, 1)), habits=[kept()], seasons=SEASONS)
    assert found.window is None
    assert [reason.code for reason in found.reasons] == ["out_of_sight"]


@pytest.mark.parametrize("laid_on", [date(1, 1, 1), date(1900, 2, 28), date(2024, 2, 29), date(9990, 12, 31)])
def test_forecast_works_on_any_day_of_the_calendar(laid_on: date) -> None:
    window = outlook(coat(WAX, laid_on), habits=[], seasons=SEASONS).window
    assert window is not None
    assert laid_on < window.low <= window.likely <= window.high


def test_forecast_with_a_studio_s_figures_follows_them() -> None:
    tables = DEFAULTS.with_overrides({"lives": {"polymer_sealant": {"life": [8, 12, 18]}}})
    default = outlook(coat(SEA, SEALED), habits=[kept()], seasons=SEASONS).window
    own = outlook(coat(SEA, SEALED), habits=[kept()], seasons=SEASONS, tables=tables).window
    assert default is not None
    assert own is not None
    assert own.low > default.low


def test_forecast_in_the_south_meets_the_salt_in_june() -> None:
    south = Seasons(
        salt=Season(MonthDay(6, 1), MonthDay(8, 31)), hot=Season(MonthDay(12, 1), MonthDay(2, 29))
    )
    laid_in_october = outlook(coat(TOP, SEALED), habits=[kept()], seasons=south)
    assert [reason.words for reason in laid_in_october.reasons[1:]] == [
        "summer heat from December: 1.2 times in those months"
    ]
    laid_in_may = outlook(coat(TOP, date(2026, 5, 1)), habits=[kept()], seasons=south)
    assert [reason.code for reason in laid_in_may.reasons] == ["life", "salt"]


def test_forecast_right_at_the_end_of_the_calendar_is_a_window_or_none() -> None:
    for back in range(1, 80):
        found = outlook(coat(WAX, date.max - timedelta(days=back)), habits=[kept()], seasons=SEASONS)
        assert found.window is None or found.window.high <= date.max
