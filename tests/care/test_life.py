"""Lives: the Weibull law through three elicited numbers, and the life by place.

The lives are common practice, no source.
"""

from __future__ import annotations

from math import isclose

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.life import LONGEST_LIFE, Life, LifeError, Weibull, life_of, life_window, place_of
from crm.care.surfaces import Zone
from crm.care.tables import DEFAULTS
from crm.care.terms import Mark, ProductClass

# Shape, scale and the 10th, 50th and 90th percentiles of the fitted law, worked out apart.
FITTED = [
    (ProductClass.NATURAL_WAX, 2.799, 2.247, (1.01, 1.97, 3.03)),
    (ProductClass.DURABLE_WAX, 3.561, 4.626, (2.46, 4.17, 5.85)),
    (ProductClass.POLYMER_SEALANT, 3.866, 6.997, (3.91, 6.36, 8.68)),
    (ProductClass.SILICA_TOPPER, 2.575, 3.556, (1.48, 3.08, 4.92)),
    (ProductClass.LIGHT_COATING, 2.799, 8.988, (4.02, 7.88, 12.11)),
    (ProductClass.COATING_ENTHUSIAST, 3.451, 22.147, (11.54, 19.92, 28.20)),
    (ProductClass.COATING_PROFESSIONAL, 3.186, 35.662, (17.60, 31.79, 46.33)),
    (ProductClass.PAINT_FILM, 3.366, 93.664, (48.0, 84.0, 120.0)),
]
months = st.floats(0.1, 200)
lives = st.tuples(months, months, months).map(lambda three: Life(*sorted(three)))


@pytest.mark.parametrize(("product_class", "shape", "scale", "percentiles"), FITTED)
def test_life_of_each_class_is_fitted_as_tabled(
    product_class: ProductClass, shape: float, scale: float, percentiles: tuple[float, float, float]
) -> None:
    life = DEFAULTS.lives[product_class].life
    assert life is not None
    assert life.weibull.shape == pytest.approx(shape, abs=0.0006)
    assert life.weibull.scale == pytest.approx(scale, abs=0.0006)
    decimals = 0.06 if product_class is ProductClass.PAINT_FILM else 0.006
    assert life_window(life) == pytest.approx(percentiles, abs=decimals)


def test_weibull_fit_is_exact_for_numbers_that_lie_on_a_law() -> None:
    law = Weibull(shape=2.5, scale=10)
    assert Weibull.through(Life(*law.window)).shape == pytest.approx(2.5)
    assert Weibull.through(Life(*law.window)).scale == pytest.approx(10)


def test_weibull_survival_at_its_scale_is_one_in_e() -> None:
    assert Weibull(3.1, 12).survival(12) == pytest.approx(0.36787944)
    assert Weibull(3.1, 12).survival(0) == 1


@settings(max_examples=100, deadline=None)
@given(life=lives, share=st.floats(0.001, 0.999))
def test_weibull_quantile_undoes_survival(life: Life, share: float) -> None:
    law = life.weibull
    assert law.survival(law.quantile(share)) == pytest.approx(1 - share, abs=1e-9)


@settings(max_examples=100, deadline=None)
@given(life=lives)
def test_life_window_rises_whatever_was_elicited(life: Life) -> None:
    low, likely, high = life_window(life)
    assert 0 < low < likely < high


@pytest.mark.parametrize("spread", [0, 1e-12, 1e-6])
def test_life_of_three_equal_numbers_is_a_narrow_window_around_them(spread: float) -> None:
    low, likely, high = life_window(Life(6, 6 * (1 + spread), 6 * (1 + 2 * spread)))
    assert low < likely < high
    assert low == pytest.approx(6, rel=0.012)
    assert high == pytest.approx(6, rel=0.012)


@pytest.mark.parametrize(
    ("numbers", "sentence"),
    [
        ((0, 2, 3), "more than nothing"),
        ((-1, 2, 3), "more than nothing"),
        ((3, 2, 4), "low over likely to high"),
        ((1, 5, 4), "low over likely to high"),
        ((1, 2, float("nan")), "three numbers"),
        ((1, 2, float("inf")), "three numbers"),
        ((1, 2, LONGEST_LIFE + 1), "fifty years"),
    ],
)
def test_life_refuses_numbers_that_cannot_be_meant(
    numbers: tuple[float, float, float], sentence: str
) -> None:
    with pytest.raises(LifeError, match=sentence):
        Life(*numbers)


@pytest.mark.parametrize("share", [0.0, 1.0, -0.1, 1.5])
def test_weibull_has_no_quantile_outside_the_unit_interval(share: float) -> None:
    with pytest.raises(LifeError):
        Weibull(2, 3).quantile(share)


@pytest.mark.parametrize(
    ("product_class", "zone", "life"),
    [
        (ProductClass.POLYMER_SEALANT, Zone.TOPS, Life(4, 6, 9)),
        (ProductClass.POLYMER_SEALANT, Zone.WHEELS, Life(0.75, 1.5, 3)),
        (ProductClass.POLYMER_SEALANT, Zone.WHEELS_TWO, Life(0.75, 1.5, 3)),
        (ProductClass.WHEEL_COATING, Zone.WHEELS, Life(6, 12, 24)),
        (ProductClass.WHEEL_COATING, Zone.BARRELS, Life(5, 10, 20)),
        (ProductClass.WHEEL_COATING, Zone.BARRELS_TWO, Life(5, 10, 20)),
        (ProductClass.RAIN_REPELLENT, Zone.SCREEN, Life(1, 2, 3)),
        (ProductClass.RAIN_REPELLENT, Zone.GLASS, Life(3, 5, 8)),
        (ProductClass.GLASS_COATING, Zone.SCREEN, Life(4, 9, 15)),
        (ProductClass.GLASS_COATING, Zone.GLASS, Life(12, 18, 30)),
        (ProductClass.COLOUR_WRAP, Zone.UPPER_SIDES, Life(36, 60, 84)),
        (ProductClass.COLOUR_WRAP, Zone.TOPS, Life(24, 36, 60)),
        (ProductClass.PAINT_FILM, Zone.LAMPS, Life(36, 60, 96)),
        (ProductClass.LEATHER_COATING, Zone.SEATS, Life(6, 12, 18)),
    ],
)
def test_life_follows_the_place(product_class: ProductClass, zone: Zone, life: Life) -> None:
    assert life_of(product_class, zone, tables=DEFAULTS) == life


def test_life_in_the_shuts_is_longer_than_on_the_panels() -> None:
    life = life_of(ProductClass.POLYMER_SEALANT, Zone.SHUTS, tables=DEFAULTS)
    assert life is not None
    assert (life.low, life.likely, life.high) == pytest.approx((5.6, 8.4, 12.6))


@pytest.mark.parametrize(
    ("product_class", "zone"),
    [
        (ProductClass.LEATHER_CREAM, Zone.SEATS),
        (ProductClass.LEATHER_CREAM, Zone.CABIN_TRIM),
        (ProductClass.FABRIC_GUARD, Zone.CARPETS),
    ],
)
def test_life_on_the_spot_that_wears_first_is_halved(product_class: ProductClass, zone: Zone) -> None:
    whole = life_of(product_class, zone, tables=DEFAULTS)
    spot = life_of(product_class, zone, hard_used=True, tables=DEFAULTS)
    assert whole is not None
    assert spot == whole.scaled(0.5)


def test_life_that_the_studio_gave_holds_at_the_main_site() -> None:
    own = Life(10, 14, 20)
    assert life_of(ProductClass.WHEEL_COATING, Zone.WHEELS, own=own, tables=DEFAULTS) == own
    assert life_of(ProductClass.POLYMER_SEALANT, Zone.LOWER_SIDES, own=own, tables=DEFAULTS) == own


def test_life_that_the_studio_gave_is_carried_over_by_the_ratio_of_the_defaults() -> None:
    carried = life_of(ProductClass.GLASS_COATING, Zone.GLASS, own=Life(5, 9, 18), tables=DEFAULTS)
    assert carried == Life(10, 18, 36)
    wheel = life_of(ProductClass.POLYMER_SEALANT, Zone.WHEELS, own=Life(4, 8, 10), tables=DEFAULTS)
    assert wheel == Life(1, 2, 2.5)


def test_life_of_an_unknown_layer_is_not_guessed_even_with_figures() -> None:
    assert life_of(ProductClass.UNKNOWN, Zone.TOPS, tables=DEFAULTS) is None
    assert life_of(ProductClass.UNKNOWN, Zone.TOPS, own=Life(1, 2, 3), tables=DEFAULTS) is None


@pytest.mark.parametrize("product_class", ProductClass)
def test_every_class_has_a_place_in_every_zone(product_class: ProductClass) -> None:
    for zone in Zone:
        place = place_of(product_class, zone, DEFAULTS)
        assert (place.life is None) == (product_class is ProductClass.UNKNOWN)
        assert place.mark in Mark
        assert place.ratio > 0


def test_life_scaled_never_passes_the_longest_life() -> None:
    assert Life(300, 500, 600).scaled(2) == Life(600, 600, 600)
    assert isclose(Life(1, 2, 3).scaled(1.4).likely, 2.8)
