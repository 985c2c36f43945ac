"""Dew point against PsychroLib, Sonntag (1990) and the handbook; the windows are common practice, no source."""

from __future__ import annotations

import psychrolib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.air import (
    WINDOWS,
    AirVerdict,
    AirWindow,
    Band,
    Finding,
    NotAReading,
    assess_air,
    dew_point,
    margin,
)
from crm.care.terms import Air, ProductClass, Severity

COATING = ProductClass.COATING_PROFESSIONAL
WAX = ProductClass.NATURAL_WAX
TOPPER = ProductClass.SILICA_TOPPER
FILM = ProductClass.PAINT_FILM


@pytest.fixture(autouse=True)
def _si_units() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize(
    ("air_c", "humidity", "reference", "magnus"),
    [
        # PsychroLib 2.5.0, and the Magnus form 17.62 / 243.12 worked out separately.
        (5, 0.90, 3.498, 3.495),
        (10, 0.50, 0.063, 0.041),
        (10, 0.85, 7.598, 7.592),
        (20, 0.60, 12.007, 11.995),
        (20, 0.85, 17.403, 17.399),
        (25, 0.50, 13.864, 13.852),
        (25, 0.80, 21.309, 21.307),
        (35, 0.40, 19.385, 19.384),
    ],
)
def test_dew_point_matches_the_published_table(
    air_c: float, humidity: float, reference: float, magnus: float
) -> None:
    assert dew_point(air_c, humidity) == pytest.approx(magnus, abs=0.0006)
    assert dew_point(air_c, humidity) == pytest.approx(reference, abs=0.05)
    assert psychrolib.GetTDewPointFromRelHum(air_c, humidity) == pytest.approx(reference, abs=0.001)


@settings(max_examples=60, deadline=None)
@given(st.floats(1, 45), st.floats(0.2, 1))
def test_dew_point_agrees_with_psychrolib_above_freezing(air_c: float, humidity: float) -> None:
    reference = psychrolib.GetTDewPointFromRelHum(air_c, humidity)
    if reference > 0.1:
        assert dew_point(air_c, humidity) == pytest.approx(reference, abs=0.05)


def test_dew_point_below_freezing_is_over_water() -> None:
    # Over ice PsychroLib gives -6.06 °C for the same air.
    assert dew_point(0, 0.60) == pytest.approx(-6.85, abs=0.01)
    assert psychrolib.GetTDewPointFromRelHum(0, 0.60) == pytest.approx(-6.06, abs=0.01)


SATURATION_PA = {5: 872.6, 25: 3169.7, 50: 12351.3}
"""Over water: ASHRAE Handbook, Fundamentals 2017, chapter 1, table 3, as quoted by PsychroLib's own tests."""


@pytest.mark.parametrize(("damp_c", "air_c"), [(5, 25), (5, 50), (25, 50)])
def test_dew_point_inverts_the_handbooks_saturation_pressures(damp_c: int, air_c: int) -> None:
    humidity = SATURATION_PA[damp_c] / SATURATION_PA[air_c]
    assert dew_point(air_c, humidity) == pytest.approx(damp_c, abs=0.05)
    assert psychrolib.GetSatVapPres(air_c) == pytest.approx(SATURATION_PA[air_c], rel=0.0003)


def test_dew_point_matches_the_handbooks_first_example() -> None:
    # Chapter 1, example 1: 40 °C, relative humidity 14 % (to 1 %), dew point 7 °C (to half a degree).
    assert dew_point(40, 0.14) == pytest.approx(7, abs=0.5)


@settings(max_examples=60)
@given(st.floats(-40, 60), st.floats(0.05, 0.99))
def test_dew_point_is_below_the_air_and_rises_with_humidity(air_c: float, humidity: float) -> None:
    assert dew_point(air_c, humidity) < air_c
    assert dew_point(air_c, humidity) < dew_point(air_c, humidity + 0.01)
    assert dew_point(air_c, 1) == air_c


@pytest.mark.parametrize("humidity", [0, -0.1, 1.01, 60, float("nan")])
def test_dew_point_refuses_a_humidity_that_is_not_a_fraction(humidity: float) -> None:
    with pytest.raises(NotAReading, match=r"60 % is 0\.60"):
        dew_point(20, humidity)


@pytest.mark.parametrize("air_c", [-46, 61, 200, float("nan")])
def test_dew_point_refuses_air_beyond_the_formula(air_c: float) -> None:
    with pytest.raises(NotAReading, match="degrees Celsius"):
        dew_point(air_c, 0.5)


@pytest.mark.parametrize(
    ("air_c", "humidity", "surface_c", "expected", "dry_enough"),
    [
        # Worked with the Magnus form; the 3 K line is a rule of steel-coating practice.
        (20, 0.60, 15.0, 3.00, True),
        (20, 0.60, 14.9, 2.90, False),
        (10, 0.85, 10.0, 2.41, False),
        (25, 0.50, 17.0, 3.15, True),
        (30, 0.80, 29.0, 2.83, False),
        (12, 0.90, 14.0, 3.59, True),
    ],
)
def test_margin_decides_on_the_three_kelvin_line(
    air_c: float, humidity: float, surface_c: float, expected: float, dry_enough: bool
) -> None:
    assert margin(air_c, humidity, surface_c) == pytest.approx(expected, abs=0.01)
    verdict = assess_air(FILM, air_c, humidity, surface_c, None, own=AirWindow(margin=Band(stop_low=3)))
    assert any("dew point" in finding.words for finding in verdict.findings) == (not dry_enough)


@pytest.mark.parametrize(
    ("air_c", "humidity"), [(5, 0.809), (10, 0.816), (15, 0.822), (20, 0.829), (25, 0.835), (30, 0.840)]
)
def test_margin_is_three_kelvin_at_the_humidity_that_the_formula_says(air_c: float, humidity: float) -> None:
    assert margin(air_c, humidity, air_c) == pytest.approx(3, abs=0.02)


def test_assess_air_is_silent_in_the_worked_visit() -> None:
    verdict = assess_air(COATING, 18.5, 0.61, 17.0, 12)
    assert verdict == AirVerdict(Air.INSIDE, verdict.margin_k, ())
    assert verdict.margin_k == pytest.approx(6.2, abs=0.05)


@pytest.mark.parametrize(
    "product_class", [COATING, WAX, ProductClass.LIGHT_COATING, ProductClass.POLYMER_SEALANT]
)
def test_assess_air_takes_a_heated_unit_of_twelve_degrees_without_a_stop(product_class: ProductClass) -> None:
    verdict = assess_air(product_class, 12, 0.52, 12, 12)
    assert verdict.air is Air.MARGINAL
    assert [finding.severity for finding in verdict.findings] == [Severity.NOTE]


# Each line of the windows from both sides (common practice, no source).
@pytest.mark.parametrize(
    ("product_class", "air_c", "expected"),
    [
        (COATING, 9.9, Air.OUTSIDE),
        (COATING, 10, Air.MARGINAL),
        (COATING, 14.9, Air.MARGINAL),
        (COATING, 15, Air.INSIDE),
        (COATING, 25, Air.INSIDE),
        (COATING, 25.1, Air.MARGINAL),
        (COATING, 30, Air.MARGINAL),
        (COATING, 30.1, Air.OUTSIDE),
        (WAX, 7.9, Air.OUTSIDE),
        (WAX, 8, Air.MARGINAL),
        (WAX, 13, Air.INSIDE),
        (WAX, 33, Air.MARGINAL),
        (TOPPER, 2.9, Air.OUTSIDE),
        (TOPPER, 3, Air.MARGINAL),
        (TOPPER, 5, Air.INSIDE),
    ],
)
def test_assess_air_draws_the_air_lines_of_each_kind(
    product_class: ProductClass, air_c: float, expected: Air
) -> None:
    assert assess_air(product_class, air_c, None, None, None).air is expected


@pytest.mark.parametrize(
    ("humidity", "expected"),
    [
        (0.24, Air.OUTSIDE),
        (0.25, Air.MARGINAL),
        (0.39, Air.MARGINAL),
        (0.40, Air.INSIDE),
        (0.65, Air.INSIDE),
        (0.66, Air.MARGINAL),
        (0.80, Air.MARGINAL),
        (0.81, Air.OUTSIDE),
    ],
)
def test_assess_air_draws_the_humidity_lines_of_coatings(humidity: float, expected: Air) -> None:
    assert assess_air(COATING, None, humidity, None, None).air is expected
    assert assess_air(TOPPER, None, humidity, None, None).air is None


@pytest.mark.parametrize(
    ("surface_c", "bay_min_c", "expected"),
    [
        (7.9, None, Air.OUTSIDE),
        (8, None, Air.MARGINAL),
        (12, None, Air.INSIDE),
        (28.1, None, Air.MARGINAL),
        (35.1, None, Air.OUTSIDE),
        (None, 4.9, Air.OUTSIDE),
        (None, 5, Air.MARGINAL),
        (None, 9.9, Air.MARGINAL),
        (None, 10, Air.INSIDE),
    ],
)
def test_assess_air_draws_the_surface_and_overnight_lines(
    surface_c: float | None, bay_min_c: float | None, expected: Air
) -> None:
    assert assess_air(COATING, None, None, surface_c, bay_min_c).air is expected


def test_assess_air_is_none_where_nothing_was_recorded() -> None:
    assert assess_air(COATING, None, None, None, None) == AirVerdict(None, None, ())


def test_assess_air_says_what_is_out_and_by_which_line() -> None:
    verdict = assess_air(COATING, 12, 0.90, 14, None)
    assert verdict.findings == (
        Finding(Severity.NOTE, "Air at 12 °C, below 15 °C: workable, not ideal."),
        Finding(Severity.STOP, "Humidity of 90 %, above 80 %: outside the limits."),
        Finding(Severity.NOTE, "Surface above the dew point by 3.5 K, below 5 K: workable, not ideal."),
    )


def test_assess_air_says_that_water_settles_on_a_panel_below_the_dew_point() -> None:
    # 20 °C at 65 % has its dew point at 13.2 °C by the Magnus formula.
    verdict = assess_air(COATING, 20, 0.65, 12.5, None)
    (below,) = [finding for finding in verdict.findings if "dew point" in finding.words]
    assert below.words == "Surface 0.8 K below the dew point, so water settles on it: outside the limits."
    assert below.severity is Severity.STOP


def test_assess_air_never_rounds_a_value_onto_the_line_it_misses() -> None:
    verdict = assess_air(COATING, 9.98, None, None, None)
    assert verdict.findings == (Finding(Severity.STOP, "Air at 9.9 °C, below 10 °C: outside the limits."),)


def test_assess_air_prefers_the_products_own_sheet_and_keeps_the_rest_of_its_class() -> None:
    own = AirWindow.from_data_sheet(air_low=5, air_high=35)
    assert assess_air(COATING, 8, None, None, None, own=own).air is Air.INSIDE
    assert assess_air(COATING, 6.9, None, None, None, own=own).air is Air.MARGINAL
    assert assess_air(COATING, 4.9, None, None, None, own=own).air is Air.OUTSIDE
    assert assess_air(COATING, 8, 0.9, None, None, own=own).air is Air.OUTSIDE


def test_data_sheet_humidity_is_marginal_within_ten_per_cent_of_a_limit() -> None:
    own = AirWindow.from_data_sheet(humidity_high=0.70)
    assert assess_air(COATING, None, 0.59, None, None, own=own).air is Air.INSIDE
    assert assess_air(COATING, None, 0.61, None, None, own=own).air is Air.MARGINAL
    assert assess_air(COATING, None, 0.71, None, None, own=own).air is Air.OUTSIDE
    with pytest.raises(NotAReading, match="fraction"):
        AirWindow.from_data_sheet(humidity_high=70)


def test_every_class_has_a_window_and_an_unknown_layer_has_no_limits() -> None:
    assert set(WINDOWS) == set(ProductClass)
    assert assess_air(ProductClass.UNKNOWN, -5, 0.99, 40, -5).findings == ()


def test_film_does_not_mind_the_dew_point() -> None:
    assert assess_air(FILM, 20, 0.95, 20, None).air is Air.INSIDE


@pytest.mark.parametrize("bad", [float("nan"), float("inf")])
def test_assess_air_refuses_a_reading_that_is_no_number(bad: float) -> None:
    with pytest.raises(NotAReading):
        assess_air(COATING, None, None, bad, None)
