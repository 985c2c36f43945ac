"""Grades after decontamination bound the life of one layer; the shelf's law is cut off outside the bounds."""

from __future__ import annotations

from datetime import date, timedelta
from math import inf, nextafter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import truncweibull_min

from crm.care.forecast import Coat, Habit, Look, Lump, Outlook, outlook
from crm.care.inspection import (
    Bounded,
    Bounds,
    Evidence,
    Found,
    bounds_of,
    evidence_of,
    inspected,
    widened,
)
from crm.care.inspection_figures import Share
from crm.care.life import Life, Weibull
from crm.care.seasons import Seasons
from crm.care.tables import DEFAULTS, TablesError
from crm.care.terms import Moment, Process, WaterGrade
from tests.care.any_coats import any_seasons, coats, courses, events, looks
from tests.care.sample_coats import SEA, SEALED, SEASONS, coat, kept

LEFT = {
    WaterGrade.TIGHT: Share(0.60, 1.0),
    WaterGrade.SHEDDING: Share(0.35, 0.60),
    WaterGrade.LAZY: Share(0.15, 0.35),
    WaterGrade.CLINGING: Share(0.0, 0.15),
}
SEALANT = Life(4, 6, 9).weibull
GRADES = st.sampled_from(sorted(WaterGrade))
USED = st.floats(0.01, 300)
LAWS = st.builds(Weibull, st.floats(0.5, 8), st.floats(0.5, 200))


@pytest.mark.parametrize(
    ("grade", "low", "high"),
    [
        (WaterGrade.TIGHT, 10.0, inf),
        (WaterGrade.SHEDDING, 4 / 0.65, 10.0),
        (WaterGrade.LAZY, 4 / 0.85, 4 / 0.65),
        (WaterGrade.CLINGING, 4.0, 4 / 0.85),
        (WaterGrade.WETS_OUT, 0.0, 4.0),
    ],
)
def test_grade_bounds_the_full_life_by_the_share_that_is_left(
    grade: WaterGrade, low: float, high: float
) -> None:
    # Shares: our reading of the trade's water grades; an estimate, no source.
    assert bounds_of(Found(grade, 4.0), LEFT) == pytest.approx((low, high))


def test_no_grade_says_nothing() -> None:
    assert inspected(Life(4, 6, 9), (), (), DEFAULTS.inspection) is None


def test_last_grade_counts_and_an_older_bound_from_below_stays() -> None:
    tight, lazy = Found(WaterGrade.TIGHT, 2.0), Found(WaterGrade.LAZY, 4.0)
    assert evidence_of((tight, lazy), LEFT) == Evidence(Bounds(2 / 0.4, 4 / 0.65), at_odds=False)


def test_finished_after_alive_lies_between_the_two_days() -> None:
    found = (Found(WaterGrade.LAZY, 4.0), Found(WaterGrade.WETS_OUT, 6.0))
    assert evidence_of(found, LEFT) == Evidence(Bounds(4 / 0.85, 6.0), at_odds=False)


def test_grades_that_cannot_both_be_right_leave_the_last_one_and_say_so() -> None:
    found = (Found(WaterGrade.TIGHT, 4.0), Found(WaterGrade.CLINGING, 5.0))
    assert evidence_of(found, LEFT) == Evidence(Bounds(5.0, 5 / 0.85), at_odds=True)
    finished_at_once = (Found(WaterGrade.TIGHT, 4.0), Found(WaterGrade.WETS_OUT, 4.0))
    assert evidence_of(finished_at_once, LEFT) == Evidence(Bounds(4.0, 4.0), at_odds=True)


def test_alive_again_after_it_was_finished_is_told_by_the_last_grade_alone() -> None:
    found = (Found(WaterGrade.WETS_OUT, 3.0), Found(WaterGrade.SHEDDING, 4.0))
    assert evidence_of(found, LEFT) == Evidence(Bounds(4 / 0.65, 10.0), at_odds=False)


@pytest.mark.parametrize("share", [0.01, 0.1, 0.5, 0.9, 0.99])
@pytest.mark.parametrize(
    "bounds", [Bounds(0, 5), Bounds(3, 8), Bounds(5, inf), Bounds(0, inf), Bounds(11, inf)]
)
def test_quantiles_within_bounds_are_those_of_the_truncated_law(share: float, bounds: Bounds) -> None:
    # Reference: scipy.stats.truncweibull_min, an implementation of its own.
    reference = truncweibull_min(
        SEALANT.shape, bounds.low / SEALANT.scale, bounds.high / SEALANT.scale, scale=SEALANT.scale
    )
    assert Bounded(SEALANT, bounds).quantile(share) == pytest.approx(float(reference.ppf(share)), rel=1e-9)


def test_mass_is_the_share_of_layers_within_the_bounds() -> None:
    assert Bounded(SEALANT, Bounds(0, inf)).mass == 1
    inside = SEALANT.survival(4) - SEALANT.survival(9)
    assert Bounded(SEALANT, Bounds(4, 9)).mass == pytest.approx(inside)


def test_far_out_in_the_tail_a_quantile_is_still_a_number_within_the_bounds() -> None:
    steep = Weibull(200.0, 1.0)
    for bounds in (Bounds(600, inf), Bounds(600, 1e6), Bounds(0, 1e-9), Bounds(4, 4)):
        assert bounds.low <= Bounded(steep, bounds).quantile(0.5) <= bounds.high


def test_law_that_fits_is_left_as_it_is_and_one_that_does_not_is_made_less_sure_of_its_median() -> None:
    likely, unlikely = Bounds(5, 9), Bounds(20, inf)
    assert widened(SEALANT, likely, 0.02) == SEALANT
    wide = widened(SEALANT, unlikely, 0.02)
    assert wide.quantile(0.5) == pytest.approx(SEALANT.quantile(0.5))
    assert Bounded(wide, unlikely).mass == pytest.approx(0.02)
    assert wide.shape < SEALANT.shape


def test_line_between_fitting_and_not_is_the_share_asked_for() -> None:
    # S(t) = 2 % exactly at this t; a hair further out the law no longer fits.
    edge = SEALANT.quantile(0.98)
    assert widened(SEALANT, Bounds(edge * (1 - 1e-9), inf), 0.02) == SEALANT
    assert widened(SEALANT, Bounds(edge * (1 + 1e-6), inf), 0.02) != SEALANT


def test_bounds_too_narrow_for_any_law_get_the_one_that_puts_most_there() -> None:
    narrow = Bounds(30, nextafter(30, inf))
    wide = widened(SEALANT, narrow, 0.02)
    assert wide.shape < SEALANT.shape
    assert Bounded(wide, narrow).quantile(0.5) == pytest.approx(30)


@settings(max_examples=100)
@given(law=LAWS, found=st.lists(st.tuples(GRADES, USED), min_size=1, max_size=5))
def test_window_of_any_history_rises_and_stays_within_its_bounds(
    law: Weibull, found: list[tuple[WaterGrade, float]]
) -> None:
    in_time = sorted((Found(grade, used) for grade, used in found), key=lambda one: one.used)
    evidence = evidence_of(in_time, LEFT)
    low, high = evidence.bounds
    assert 0 <= low <= high
    held = Bounded(widened(law, evidence.bounds, 0.02), evidence.bounds)
    window = [held.quantile(share) for share in (0.1, 0.5, 0.9)]
    assert low <= window[0] <= window[1] <= window[2] <= high
    assert window[2] < inf


@settings(max_examples=100)
@given(law=LAWS, used=USED, better=st.integers(1, 4))
def test_better_grade_on_the_same_day_never_shortens_what_is_expected(
    law: Weibull, used: float, better: int
) -> None:
    worse = Bounded(law, bounds_of(Found(WaterGrade(better - 1), used), LEFT))
    best = Bounded(law, bounds_of(Found(WaterGrade(better), used), LEFT))
    for share in (0.1, 0.5, 0.9):
        assert worse.quantile(share) <= best.quantile(share) * (1 + 1e-12)


def found_on(on: date, water: WaterGrade, moment: Moment = Moment.AFTER_DECON) -> Look:
    return Look(on, water, moment)


def expected(*looks: Look, lumps: tuple[Lump, ...] = ()) -> Outlook:
    return outlook(coat(SEA, SEALED), habits=[kept()], lumps=lumps, looks=looks, seasons=SEASONS)


def codes(told: Outlook) -> list[str]:
    return [reason.code for reason in told.reasons]


MID = SEALED + timedelta(days=100)


def test_dirty_grade_and_one_of_the_laying_day_change_nothing() -> None:
    for look in (
        found_on(MID, WaterGrade.WETS_OUT, Moment.BEFORE_DECON),
        found_on(SEALED, WaterGrade.CLINGING),
        found_on(SEALED - timedelta(days=1), WaterGrade.WETS_OUT),
    ):
        assert expected(look) == expected()


@pytest.mark.parametrize(
    ("water", "words"),
    [
        (WaterGrade.TIGHT, "graded 4 after decontamination on {day}: at least 60 % of its life was left"),
        (WaterGrade.SHEDDING, "graded 3 after decontamination on {day}: 35 to 60 % of its life was left"),
        (WaterGrade.CLINGING, "graded 1 after decontamination on {day}: at most 15 % of its life was left"),
        (WaterGrade.WETS_OUT, "graded 0 after decontamination on {day}: nothing of it was left"),
    ],
)
def test_look_that_counts_is_told_right_after_the_life(water: WaterGrade, words: str) -> None:
    told = expected(found_on(MID, water))
    assert codes(told)[:2] == ["life", "look"]
    assert told.reasons[1].words == words.format(day=f"{MID.day} {MID:%B %Y}")


def test_window_moves_later_by_a_good_grade_and_earlier_by_a_poor_one_and_keeps_that_of_the_figures() -> None:
    plain = expected().window
    good = expected(found_on(MID, WaterGrade.TIGHT))
    poor = expected(found_on(MID, WaterGrade.CLINGING))
    assert plain
    assert good.window
    assert poor.window
    assert plain.likely < good.window.likely
    assert poor.window.high < plain.likely
    assert good.by_figures == poor.by_figures == plain
    assert expected().by_figures is None


def test_layer_that_wets_out_was_worn_by_that_day_and_one_that_does_not_was_not() -> None:
    late = SEALED + timedelta(days=900)
    gone, alive = expected(found_on(MID, WaterGrade.WETS_OUT)), expected(found_on(late, WaterGrade.CLINGING))
    assert gone.window
    assert alive.window
    assert gone.window.high <= MID
    assert alive.window.low >= late


def test_grade_that_the_figures_hardly_allow_is_doubted_and_the_window_is_wider() -> None:
    three_years = SEALED + timedelta(days=1100)
    told = expected(found_on(three_years, WaterGrade.TIGHT))
    assert "look_doubted" in codes(told)
    assert told.window
    assert told.window.low >= three_years
    assert "look_doubted" not in codes(expected(found_on(SEALED + timedelta(days=45), WaterGrade.TIGHT)))
    the_day_after = expected(found_on(SEALED + timedelta(days=1), WaterGrade.SHEDDING))
    plain = expected().window
    assert plain
    assert the_day_after.window
    # One step better would leave nearly every life possible, so hardly anything moves.
    assert abs(the_day_after.window.likely - plain.likely) < timedelta(days=7)


def test_contradiction_between_two_grades_is_said() -> None:
    early, late = found_on(MID, WaterGrade.TIGHT), found_on(MID + timedelta(days=10), WaterGrade.CLINGING)
    told = expected(early, late)
    assert "look_at_odds" in codes(told)
    assert "look_at_odds" not in codes(expected(late))
    assert expected(late, early) == told


def test_layer_whose_events_leave_it_nothing_and_which_is_seen_whole_is_worn_no_sooner_than_that_day() -> (
    None
):
    lumps = tuple(Lump(SEALED + timedelta(days=5 + n), Process.STRIP_WASH) for n in range(12))
    told = expected(found_on(MID, WaterGrade.SHEDDING), lumps=lumps)
    assert told.window
    assert told.window.low >= MID


def test_studio_may_read_its_grades_differently_but_not_upside_down() -> None:
    strict = DEFAULTS.with_overrides({"inspection": {"left": {"tight": [0.5, 0.8]}}})
    look = [found_on(MID, WaterGrade.TIGHT)]
    told = outlook(coat(SEA, SEALED), habits=[kept()], looks=look, seasons=SEASONS, tables=strict)
    assert "50 to 80 % of its life was left" in told.reasons[1].words
    for wrong in ({"lazy": [0.5, 0.7]}, {"tight": [1.0, 1.0]}, {"lazy": [0.35, 0.15]}, {"lazy": [0.2]}):
        with pytest.raises(TablesError, match=r"inspection\.left"):
            DEFAULTS.with_overrides({"inspection": {"left": wrong}})


@settings(max_examples=100, deadline=None)
@given(
    layer=coats(), course=courses, happened=events, seen=looks, seasons=any_seasons, repeat=st.integers(1, 3)
)
def test_any_looks_give_a_window_in_order_on_the_right_side_of_the_last_one(
    layer: Coat, course: list[Habit], happened: list[Lump], seen: list[Look], seasons: Seasons, repeat: int
) -> None:
    told = outlook(layer, habits=course, lumps=happened, looks=seen * repeat, seasons=seasons)
    if told.window is None:
        return
    assert told.window.low <= told.window.likely <= told.window.high
    counting = [look for look in seen if look.moment is Moment.AFTER_DECON and look.on > layer.laid_on]
    if not counting:
        assert told.by_figures is None
        return
    last = max(look.on for look in counting)
    waters = {look.water for look in counting if look.on == last}
    if waters == {WaterGrade.WETS_OUT}:
        assert told.window.high <= last
    if WaterGrade.WETS_OUT not in waters:
        assert told.window.low >= last
