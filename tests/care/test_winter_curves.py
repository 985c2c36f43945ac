"""Curves of wear over the salted season: against the forecast's dates, the plain daily walk and Weibull's law."""

from __future__ import annotations

from datetime import date, timedelta
from math import exp, log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.coats import Case, Coat, Habit, Idle, Lump
from crm.care.forecast import Window, outlook
from crm.care.surfaces import Zone
from crm.care.terms import Air, Parking, Prep, Process, ProductClass, Wash
from crm.care.wear import HOT, SALT, lump_of, quality_of, rates_of, use_of
from crm.care.winter_curves import LaidAnew, Span, curves_anew, half_worn, worn_by, worn_curve
from tests.care.sample_coats import COP, DWX, SEA, TOP, coat, kept
from tests.care.sample_winter import HABIT, SETTING, SPAN


def _curve(case: Case, span: Span = SPAN) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    found = worn_curve(case, span, SETTING)
    assert found is not None
    return found.reshape(len(span.days))


@pytest.mark.parametrize(
    ("product_class", "laid_on", "zone"),
    [
        (SEA, date(2026, 7, 10), Zone.UPPER_SIDES),
        (SEA, date(2026, 9, 10), Zone.LOWER_SIDES),
        (TOP, date(2026, 9, 20), Zone.UPPER_SIDES),
        (DWX, date(2026, 9, 20), Zone.TOPS),
        (COP, date(2024, 10, 3), Zone.FRONT),
    ],
)
def test_curve_meets_one_half_on_the_likely_date_of_the_forecast(
    product_class: ProductClass, laid_on: date, zone: Zone
) -> None:
    case = Case(coat(product_class, laid_on, zone), (HABIT,))
    window = outlook(case.coat, habits=case.habits, seasons=SETTING.seasons).window
    assert window is not None
    span = Span.of(window.low - timedelta(days=3), window.high + timedelta(days=3))
    curve = _curve(case, span)
    met = [date.fromordinal(span.first + int((curve >= share - 1e-9).argmax())) for share in (0.1, 0.5, 0.9)]
    # Everything is known of this car, so the three clocks are one and all three dates are met.
    assert met == [window.low, window.likely, window.high]
    assert half_worn(curve, span) == window.likely


def test_curve_of_unknown_answers_keeps_to_the_likely_clock() -> None:
    case = Case(Coat(SEA, Zone.UPPER_SIDES, date(2026, 7, 10)), ())
    window = outlook(case.coat, habits=(), seasons=SETTING.seasons).window
    assert window is not None
    curve = _curve(case, Span.of(window.low, window.high))
    assert half_worn(curve, Span.of(window.low, window.high)) == window.likely
    assert curve[0] < 0.1
    assert curve[-1] > 0.9


def test_curve_follows_changed_habits_events_and_wheels_off_the_car() -> None:
    """Against a sum over the days: the same model walked plainly."""
    habits = (kept(), Habit(date(2026, 9, 1), Parking.NEAR_SEA, 40_000, True, Wash.TUNNEL, Wash.TOUCH_FREE))
    rest = Idle(date(2026, 11, 20), date(2027, 1, 10))
    coat_ = Coat(
        ProductClass.WHEEL_COATING,
        Zone.WHEELS,
        date(2026, 6, 1),
        prep=Prep.CLAYED,
        air=Air.INSIDE,
        idle=(rest,),
    )
    lumps = (Lump(date(2026, 12, 1), Process.STRIP_WASH), Lump(date(2027, 2, 1), Process.CLAY))
    curve = _curve(Case(coat_, habits, lumps))
    law = SETTING.tables.lives[ProductClass.WHEEL_COATING].life
    assert law is not None
    quality = quality_of(coat_.product_class, coat_.air, coat_.prep, False, SETTING.tables)[1]
    uses = [use_of(habit, SETTING.tables) for habit in habits]
    clock, lost, walked = 0.0, 0.0, []
    for day in range(date(2026, 6, 1).toordinal(), SPAN.end):
        on = date.fromordinal(day)
        for lump in lumps:
            if lump.on == on:
                lost += lump_of(
                    lump.process, coat_.product_class, Zone.WHEELS, uses[1], True, SETTING.tables
                )[1]
        if day >= SPAN.first:
            used = clock / 30.4375 / (quality - lost)
            walked.append(1 - law.weibull.survival(used))
        state = SALT * SETTING.seasons.salt.contains(on) | HOT * SETTING.seasons.hot.contains(on)
        if not rest.start <= on < date(2027, 1, 10):
            use = uses[on >= date(2026, 9, 1)]
            clock += rates_of(coat_.product_class, Zone.WHEELS, use, SETTING.tables)[1][state]
    np.testing.assert_allclose(curve, walked, rtol=1e-9)


def test_event_that_takes_the_rest_leaves_nothing() -> None:
    day = date(2026, 12, 1)
    case = Case(coat(SEA, date(2026, 10, 1)), (HABIT,), (Lump(day, Process.CLAY),))
    curve = _curve(case)
    at = day.toordinal() - SPAN.first
    assert curve[at - 1] < 0.5
    assert (curve[at:] == 1).all()


def test_unknown_class_has_no_curve() -> None:
    case = Case(coat(ProductClass.UNKNOWN, date(2026, 1, 1)), (HABIT,))
    assert worn_curve(case, SPAN, SETTING) is None
    assert (
        curves_anew(
            LaidAnew(ProductClass.UNKNOWN, Zone.TOPS, Prep.CLAYED, use_of(HABIT, SETTING.tables)),
            (1,),
            SPAN,
            SETTING,
        )
        is None
    )


def test_inspection_bounds_cut_the_curve_to_the_lives_that_remain() -> None:
    case = Case(coat(SEA, date(2026, 9, 1)), (HABIT,))
    law = SETTING.tables.lives[SEA].life
    assert law is not None
    plain = _curve(case)
    bounded = worn_curve(case, SPAN, SETTING, lives=(4.0, 8.0))
    assert bounded is not None
    # P(T <= t | 4 < T <= 8), by Bayes.
    before, after = 1 - law.weibull.survival(4.0), 1 - law.weibull.survival(8.0)
    np.testing.assert_allclose(bounded, np.clip((plain - before) / (after - before), 0, 1), atol=1e-12)
    assert bounded[0] == 0.0
    assert bounded[-1] == 1.0
    contradicting = worn_curve(case, SPAN, SETTING, lives=(90.0, 91.0))
    assert contradicting is not None
    assert (contradicting == 0).all()


@pytest.mark.parametrize("product_class", [SEA, TOP, DWX])
def test_curve_of_a_stored_window_stays_near_the_exact_one(product_class: ProductClass) -> None:
    case = Case(coat(product_class, date(2026, 8, 20)), (HABIT,))
    window = outlook(case.coat, habits=case.habits, seasons=SETTING.seasons).window
    assert window is not None
    apart = np.abs(worn_by(window, case.coat.laid_on, SPAN) - _curve(case))
    assert apart.max() < 0.03


@given(
    ages=st.lists(st.integers(1, 4000), min_size=3, max_size=3).map(sorted),
    laid=st.dates(date(2015, 1, 1), date(2026, 12, 31)),
)
@settings(max_examples=60)
def test_stored_window_is_met_on_its_three_dates_and_never_falls(ages: list[int], laid: date) -> None:
    low, likely, high = (laid + timedelta(days=age) for age in ages)
    span = Span.of(laid - timedelta(days=5), high + timedelta(days=30))
    curve = worn_by(Window(low, likely, high), laid, span)
    assert (np.diff(curve) >= 0).all()
    assert ((curve >= 0) & (curve <= 1)).all()
    if low < likely < high:
        found = [curve[day.toordinal() - span.first] for day in (low, likely, high)]
        assert found == pytest.approx([0.1, 0.5, 0.9], abs=1e-9)


def test_stored_window_of_a_weibull_law_gives_that_law_back() -> None:
    """Where wear runs evenly the three dates lie on one Weibull law, and so does the whole curve."""
    laid, shape, scale = date(2026, 1, 1), 2.5, 400.0
    days = [scale * (-log(1 - share)) ** (1 / shape) for share in (0.1, 0.5, 0.9)]
    window = Window(*(laid + timedelta(days=round(day)) for day in days))
    curve = worn_by(window, laid, SPAN)
    exact = [1 - exp(-(((day - laid.toordinal()) / scale) ** shape)) for day in SPAN.days]
    np.testing.assert_allclose(curve, exact, atol=0.003)


def test_new_layer_counts_from_the_day_it_has_set_and_wears_as_one_that_was_laid_that_day() -> None:
    laid = (date(2026, 10, 14), date(2026, 11, 18))
    use = use_of(HABIT, SETTING.tables)
    layer = LaidAnew(SEA, Zone.LOWER_SIDES, Prep.CLAYED, use)
    curves = curves_anew(layer, tuple(day.toordinal() for day in laid), SPAN, SETTING)
    assert curves is not None
    assert curves.shape == (2, 151)
    for row, day in zip(curves, laid, strict=True):
        same = _curve(Case(Coat(SEA, Zone.LOWER_SIDES, day, prep=Prep.CLAYED, air=Air.INSIDE), (HABIT,)))
        # A paint sealant has fully set after 48 hours by the longer figure (common practice, no source).
        ready = max(0, day.toordinal() + 2 - SPAN.first)
        assert (row[:ready] == 1).all()
        np.testing.assert_allclose(row[ready:], same[ready:], rtol=1e-9)
