"""Readings, spots and panels: the dry-film standard's vocabulary, and what a gauge cannot see."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.paint_terms import GaugeMode, SpotPlace
from crm.care.thickness import NotAThickness, PanelReadings, Reading, Spot, from_mil, um
from tests.care.sample_paint import PLASTIC, panel, spot

MAGNETIC, EDDY, ULTRASONIC = GaugeMode.MAGNETIC, GaugeMode.EDDY, GaugeMode.ULTRASONIC
QUICK = settings(max_examples=80, deadline=None)
thicknesses = st.integers(1, 5000).map(float)
readings = st.one_of(st.builds(Reading, thicknesses, st.sampled_from([MAGNETIC, EDDY])), st.just(PLASTIC))
spots = st.builds(
    Spot,
    st.just("1"),
    st.just(datetime(2025, 5, 3, 9, tzinfo=UTC)),
    st.lists(readings, min_size=1, max_size=6).map(tuple),
    st.sampled_from(SpotPlace),
    st.booleans(),
)


@pytest.mark.parametrize(
    # 1 mil is 25.4 µm by the definition of the inch; the products are arithmetic.
    ("mil", "micrometres"),
    [(1, 25.4), (0.3, 7.62), (0.5, 12.7), (4, 101.6), (7, 177.8)],
)
def test_mils_are_turned_into_micrometres(mil: float, micrometres: float) -> None:
    assert from_mil(mil) == pytest.approx(micrometres, rel=1e-12)


@pytest.mark.parametrize(
    ("value", "mode", "sentence"),
    [
        (
            0.0,
            MAGNETIC,
            "A reading of 0 is not paint. On plastic, carbon or glass-fibre choose “not measurable”",
        ),
        (-3.0, EDDY, "A reading of -3 is not paint."),
        (5000.5, MAGNETIC, "5000.5 µm is over half a centimetre."),
        (float("nan"), MAGNETIC, "A reading has to be a number."),
        (float("inf"), ULTRASONIC, "A reading has to be a number."),
        (None, MAGNETIC, "A figure is missing. On plastic, carbon or glass-fibre choose “not measurable”."),
        (0.0, GaugeMode.NOT_MEASURABLE, "Where nothing can be measured there is no figure: leave it empty."),
    ],
)
def test_a_reading_that_cannot_be_is_refused(value: float | None, mode: GaugeMode, sentence: str) -> None:
    with pytest.raises(NotAThickness) as refused:
        Reading(value, mode)
    assert str(refused.value)[: len(sentence)] == sentence


@pytest.mark.parametrize("value", [0.1, 5000.0])
def test_the_thinnest_and_the_thickest_reading_are_taken(value: float) -> None:
    assert Reading(value, MAGNETIC).um == value


def test_a_spot_is_the_average_of_at_least_three_readings() -> None:
    # SSPC-PA 2: a spot measurement is the average of at least three readings within a 4 cm circle. The two
    # spots are a worked case: 119.33 and 115.33.
    before, after = spot(118, 121, 119), spot(114, 117, 115)
    assert (round(before.mean or 0, 2), round(after.mean or 0, 2)) == (119.33, 115.33)
    assert (before.is_whole, before.remark) == (True, "")
    assert before.readings == tuple(Reading(value, MAGNETIC) for value in (118, 121, 119))


@pytest.mark.parametrize(("values", "said"), [((118.0,), "1 reading,"), ((118.0, 120.0), "2 readings,")])
def test_fewer_readings_are_kept_and_said_to_be_too_few(values: tuple[float, ...], said: str) -> None:
    few = spot(*values)
    assert (few.mean, few.is_whole) == (sum(values) / len(values), False)
    assert few.remark == f"Spot 1 has {said} too few to be a spot: take 3 within 4 cm."
    assert PanelReadings((few,)).remarks == (few.remark,)


def test_what_cannot_be_measured_does_not_make_a_spot_whole() -> None:
    mixed = replace(spot(118, 120), readings=(*spot(118, 120).readings, PLASTIC))
    assert (mixed.mean, mixed.is_whole) == (119, False)


def test_readings_of_two_kinds_are_kept_and_not_averaged() -> None:
    both = replace(spot(1, 2), readings=(Reading(118, MAGNETIC), Reading(140, EDDY), Reading(119, MAGNETIC)))
    assert (both.mean, both.values) == (None, (118, 119, 140))
    assert both.remark == (
        "Spot 1 has readings of two kinds, as some gauges give on zinc-coated steel: measure it again."
    )


@pytest.mark.parametrize(
    ("made", "sentence"),
    [
        (lambda: Spot("1", datetime(2025, 5, 3, 9, tzinfo=UTC), ()), "A spot needs a reading"),
        (lambda: Spot("1", datetime(2025, 5, 3, 9), (PLASTIC,)), "The moment of a reading needs"),  # noqa: DTZ001
    ],
)
def test_a_spot_that_cannot_be_is_refused(made: object, sentence: str) -> None:
    assert callable(made)
    with pytest.raises(NotAThickness, match=sentence):
        made()


def test_a_panel_is_told_by_its_lowest_and_its_middle_spot() -> None:
    bonnet = panel(101, 92, 108, 104, 95)
    assert (bonnet.n, bonnet.minimum, bonnet.median, bonnet.maximum) == (5, 92, 101, 108)
    assert (bonnet.on_metal, set(bonnet.modes)) == (92, {MAGNETIC})


def test_edges_and_film_do_not_make_the_figures_of_a_panel() -> None:
    bonnet = PanelReadings(
        (spot(118, 118, 118), spot(64, 64, 64, place=SpotPlace.EDGE), spot(310, 310, 310, film=True))
    )
    assert (bonnet.n, bonnet.minimum, bonnet.maximum, bonnet.edge) == (1, 118, 118, 64)
    assert bonnet.under_film


def test_a_body_is_mixed_and_plastic_has_no_figures() -> None:
    wing, tail = PanelReadings((spot(),)), PanelReadings((spot(240, 241, 239, mode=ULTRASONIC),))
    assert (wing.n, wing.minimum, wing.median, wing.not_measurable) == (0, None, None, True)
    assert (tail.minimum, tail.on_metal, tail.not_measurable) == (240, None, False)
    assert PanelReadings((*wing.spots, spot(92, 92, 92, mode=EDDY))).on_metal == 92
    assert PanelReadings(()).not_measurable is False


@pytest.mark.parametrize(
    ("value", "written"), [(118.0, "118"), (119.3333, "119.3"), (79.97, "79.9"), (80.0, "80"), (0.1, "0.1")]
)
def test_a_thickness_is_never_written_over_the_line_it_is_under(value: float, written: str) -> None:
    assert um(value) == written


@QUICK
@given(st.lists(spots, max_size=6), st.integers(0, 5))
def test_what_cannot_be_measured_never_changes_a_figure(found: list[Spot], where: int) -> None:
    before = PanelReadings(tuple(found))
    more = list(found)
    if more:
        place = where % len(more)
        more[place] = replace(more[place], readings=(*more[place].readings, PLASTIC))
    after = PanelReadings((*more, spot(on=date(2025, 5, 3))))
    assert (after.minimum, after.median, after.maximum, after.n, after.on_metal, after.edge) == (
        before.minimum,
        before.median,
        before.maximum,
        before.n,
        before.on_metal,
        before.edge,
    )


@QUICK
@given(st.lists(spots, max_size=6), st.randoms(use_true_random=False))
def test_the_order_of_spots_and_readings_does_not_matter(found: list[Spot], random: object) -> None:
    assert hasattr(random, "sample")
    turned = [replace(one, readings=tuple(random.sample(one.readings, len(one.readings)))) for one in found]
    turned = random.sample(turned, len(turned))
    before, after = PanelReadings(tuple(found)), PanelReadings(tuple(turned))
    assert (before.means, before.on_metal, before.edge) == (after.means, after.on_metal, after.edge)
    if before.means:
        assert before.means[0] == before.minimum
        assert before.minimum is not None
        assert before.median is not None
        assert before.maximum is not None
        assert before.minimum <= before.median <= before.maximum
