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


@pytest.mark.parametrize(("age", "expected"), [(6.0, False), (2.0, True), (20.0, True)])
def test_many_layers_far_from_the_shelf_speak_against_it(age: float, expected: bool) -> None:
    seen = Observations.of(Observation(age * 0.9, age * 1.1) for _ in range(40))
    assert differs(learn(SHELF, seen), SHELF) is expected


def test_one_layer_does_not_yet_speak_against_the_shelf() -> None:
    assert not differs(learn(SHELF, Observations.of([Observation(1.8, 2.2)])), SHELF)
