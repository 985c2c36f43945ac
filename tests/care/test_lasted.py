"""Figures that a person can take: round numbers of a law, and whether what was seen speaks against the shelf."""

from __future__ import annotations

from decimal import Decimal

import pytest

from crm.care.lasted import LEAST_MONTHS, MOST_MONTHS, differs, rounded
from crm.care.learning import learn
from crm.care.life import Life, Weibull
from crm.care.observed import Observation, Observations

SHELF = Life(4, 6, 9)


def test_figures_are_rounded_as_one_writes_them_down() -> None:
    law = Life(2.87, 7.3, 19.6).weibull
    low, likely, high = law.window
    found = rounded(law)
    # Tenths up to 3 months, halves up to 12, whole ones beyond (own choice).
    assert found.low == Decimal(str(round(low, 1)))
    assert found.likely == Decimal(str(round(likely * 2) / 2))
    assert found.high == round(high)
    assert [
        abs(float(one) - exact)
        for one, exact in zip((found.low, found.likely, found.high), law.window, strict=True)
    ] < [
        0.051,
        0.251,
        0.501,
    ]


@pytest.mark.parametrize(("shape", "scale"), [(0.05, 1e-5), (0.05, 1e4), (200, 239.7), (3.9, 7), (1, 1e6)])
def test_round_figures_rise_and_are_such_as_a_shelf_takes(shape: float, scale: float) -> None:
    found = rounded(Weibull(shape, scale))
    figures = [found.low, found.likely, found.high]
    assert figures == sorted(figures)
    assert figures[0] >= LEAST_MONTHS
    assert figures[2] <= MOST_MONTHS
    assert [figure.quantize(Decimal("0.01")) for figure in figures] == figures


@pytest.mark.parametrize(("age", "expected"), [(6.36, False), (2.0, True), (20.0, True)])
def test_many_layers_far_from_the_shelf_speak_against_it(age: float, expected: bool) -> None:
    seen = Observations.of(Observation(age * 0.9, age * 1.1) for _ in range(40))
    assert differs(learn(SHELF, seen), SHELF) is expected


def test_one_layer_does_not_yet_speak_against_the_shelf() -> None:
    assert not differs(learn(SHELF, Observations.of([Observation(1.8, 2.2)])), SHELF)


@pytest.mark.parametrize("side", [0, 1])
def test_the_edge_is_that_of_the_figures_that_are_shown(side: int) -> None:
    learned = learn(SHELF, Observations.of(Observation(5.4, 6.6) for _ in range(40)))
    edge = round(learned.between(0.9)[1][side], 1)
    out = 1 if side else -1

    def by_half(months: float) -> Life:
        """A shelf by whose law half are gone by that month."""
        shelf = SHELF.scaled(months / SHELF.weibull.window[1])
        assert shelf.weibull.window[1] == pytest.approx(months)
        return shelf

    assert not differs(learned, by_half(edge - out * 0.1))
    assert not differs(learned, by_half(edge + out * 0.04))
    assert differs(learned, by_half(edge + out * 0.06))


def test_the_stated_figure_is_not_what_is_compared() -> None:
    """4 / 6 / 9 is drawn as a curve by which half are gone at 6.36 months (worked by hand from the fit)."""
    learned = learn(SHELF, Observations.of(Observation(5.4, 6.6) for _ in range(40)))
    low, high = learned.between(0.9)[1]
    shelf = SHELF.scaled((round(high, 1) + 0.06) / SHELF.weibull.window[1])
    assert low < shelf.likely < high
    assert differs(learned, shelf)
