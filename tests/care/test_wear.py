"""Rates, qualities and lumps. The figures are common practice with no source; here it is how they combine."""

from __future__ import annotations

from datetime import date

import pytest

from crm.care.coats import CoatError, Habit, Idle
from crm.care.surfaces import CABIN, Zone, by_zone
from crm.care.tables import DEFAULTS
from crm.care.terms import Air, Parking, Prep, Process, ProductClass, Wash
from crm.care.wear import HOT, SALT, UNKNOWN_USE, Use, lump_of, quality_of, rates_of, use_of

SEALANT, COATING, WAX = (
    ProductClass.POLYMER_SEALANT,
    ProductClass.COATING_PROFESSIONAL,
    ProductClass.NATURAL_WAX,
)
REFERENCE = Habit(date(2020, 1, 1), Parking.OUTDOORS, 12_000, True, Wash.HAND_NEUTRAL, Wash.HAND_NEUTRAL)
HABITS_BY_ANSWER: dict[str, list[object]] = {
    "parking": list(Parking),
    "km_a_year": [0, 4999, 5000, 15_000, 15_001, 30_000, 30_001, 200_000],
    "salted_roads": [True, False],
    "wash_summer": list(Wash),
    "wash_winter": list(Wash),
}


def reference(**changes: object) -> Use:
    facts: dict[str, object] = {name: getattr(REFERENCE, name) for name in Habit.__slots__}
    return use_of(Habit(**(facts | changes)), DEFAULTS)  # type: ignore[arg-type]


def likely(product_class: ProductClass, zone: Zone, use: Use) -> tuple[float, ...]:
    return rates_of(product_class, zone, use, DEFAULTS)[1]


def test_rate_of_the_reference_car_is_one_outside_the_seasons() -> None:
    assert likely(SEALANT, Zone.UPPER_SIDES, reference()) == pytest.approx((1.0, 1.15, 1.4, 1.4))


@pytest.mark.parametrize(
    ("zone", "changes", "plain", "salted"),
    [
        (Zone.TOPS, {}, 1.15, 1.15 * 1.4),
        (Zone.LOWER_SIDES, {}, 1.1, 1.1 * 1.4 * 1.3),
        (Zone.SHUTS, {}, 1.0, 1.4),
        (Zone.UPPER_SIDES, {"salted_roads": False}, 1.0, 1.0),
        (Zone.UPPER_SIDES, {"parking": Parking.TREES_OR_INDUSTRY}, 1.2, 1.2 * 1.4),
        (Zone.UPPER_SIDES, {"km_a_year": 4999}, 0.85, 0.85 * 1.4),
        (Zone.UPPER_SIDES, {"km_a_year": 5000}, 1.0, 1.4),
        (Zone.UPPER_SIDES, {"km_a_year": 15_000}, 1.0, 1.4),
        (Zone.UPPER_SIDES, {"km_a_year": 15_001}, 1.15, 1.15 * 1.4),
        (Zone.UPPER_SIDES, {"km_a_year": 30_001}, 1.35, 1.35 * 1.4),
        (Zone.UPPER_SIDES, {"wash_winter": Wash.TOUCH_FREE}, 1.0, 1.6 * 1.4),
        (Zone.UPPER_SIDES, {"wash_summer": Wash.TUNNEL}, 1.5, 1.4),
        (Zone.UPPER_SIDES, {"on_plan": True}, 0.9, 0.9 * 1.4),
        (Zone.UPPER_SIDES, {"stored": True, "wash_summer": Wash.TUNNEL}, 0.8 * 0.85, 0.8 * 0.85),
    ],
)
def test_rate_is_the_product_of_its_factors(
    zone: Zone, changes: dict[str, object], plain: float, salted: float
) -> None:
    rates = likely(SEALANT, zone, reference(**changes))
    assert (rates[0], rates[SALT]) == pytest.approx((plain, salted))


def test_rate_knows_no_summer_heat_under_a_roof() -> None:
    assert likely(WAX, Zone.UPPER_SIDES, reference())[HOT] == pytest.approx(1.3)
    assert likely(WAX, Zone.UPPER_SIDES, reference(parking=Parking.CARPORT))[HOT] == pytest.approx(0.9)


def test_rate_is_held_between_its_limits() -> None:
    worst = reference(parking=Parking.TREES_OR_INDUSTRY, km_a_year=50_000, wash_winter=Wash.TOUCH_FREE)
    assert likely(WAX, Zone.FRONT, worst)[SALT] == 2.5
    slow = DEFAULTS.with_overrides({"wear": {"stored": {"parking": 0.2}}})
    assert rates_of(WAX, Zone.TOPS, reference(stored=True), slow)[1][0] == 0.5


def test_rate_takes_the_harder_season_where_two_overlap() -> None:
    rates = likely(WAX, Zone.UPPER_SIDES, reference())
    assert rates[HOT | SALT] == rates[SALT] == pytest.approx(1.6)


def test_rate_in_the_cabin_knows_only_distance_and_plan() -> None:
    rough = reference(parking=Parking.NEAR_SEA, wash_summer=Wash.TUNNEL, wash_winter=Wash.TUNNEL)
    for zone in by_zone(CABIN):
        assert likely(ProductClass.LEATHER_COATING, zone, rough) == (1.0, 1.0, 1.0, 1.0)
        assert likely(ProductClass.LEATHER_COATING, zone, reference(km_a_year=20_000))[0] == 1.15


def test_rate_of_a_wrap_on_the_tops_is_not_told_twice() -> None:
    # Its life on the tops is stated for them already.
    assert likely(ProductClass.COLOUR_WRAP, Zone.TOPS, reference())[0] == 1.0
    assert likely(ProductClass.PAINT_FILM, Zone.TOPS, reference())[0] == 1.15


def test_second_set_of_wheels_wears_like_the_first() -> None:
    for one, two in ((Zone.WHEELS, Zone.WHEELS_TWO), (Zone.BARRELS, Zone.BARRELS_TWO)):
        first = rates_of(ProductClass.WHEEL_COATING, one, UNKNOWN_USE, DEFAULTS)
        assert rates_of(ProductClass.WHEEL_COATING, two, UNKNOWN_USE, DEFAULTS) == first


def test_clocks_agree_where_everything_is_known() -> None:
    slow, middle, kind = rates_of(SEALANT, Zone.TOPS, reference(), DEFAULTS)
    assert slow == middle == kind


def test_clocks_part_where_washing_is_unknown() -> None:
    use = reference(wash_summer=None, wash_winter=None)
    rates = rates_of(ProductClass.DURABLE_WAX, Zone.UPPER_SIDES, use, DEFAULTS)
    assert tuple(clock[0] for clock in rates) == (1.5, 1.2, 1.0)


@pytest.mark.parametrize("product_class", ProductClass)
def test_unknown_answers_keep_the_clocks_around_the_known_ones(product_class: ProductClass) -> None:
    for answer, values in HABITS_BY_ANSWER.items():
        unknown = rates_of(product_class, Zone.LOWER_SIDES, reference(**{answer: None}), DEFAULTS)
        for value in values:
            known = rates_of(product_class, Zone.LOWER_SIDES, reference(**{answer: value}), DEFAULTS)[1]
            for state in range(4):
                assert unknown[0][state] >= unknown[1][state] >= unknown[2][state]
                assert unknown[2][state] <= known[state]
                # Washing is the one answer whose worst case (the touch-free machine) is not assumed.
                if not answer.startswith("wash"):
                    assert unknown[0][state] >= known[state]


@pytest.mark.parametrize(
    ("air", "prep", "wet", "quality"),
    [
        (Air.INSIDE, Prep.POLISHED_WIPED, False, (1.0, 1.0, 1.0)),
        (None, Prep.POLISHED_WIPED, False, (0.8, 1.0, 1.0)),
        (Air.MARGINAL, Prep.CLAYED, False, (0.85 * 0.75,) * 3),
        (Air.OUTSIDE, Prep.WASHED, True, (0.65 * 0.5 * 0.7,) * 3),
    ],
)
def test_quality_is_the_product_of_what_happened_at_the_laying(
    air: Air | None, prep: Prep, wet: bool, quality: tuple[float, float, float]
) -> None:
    assert quality_of(COATING, air, prep, wet, DEFAULTS) == pytest.approx(quality)


def test_lump_of_a_machine_wash_counts_only_where_it_is_not_the_habit() -> None:
    mixed = reference(wash_summer=Wash.HAND_NEUTRAL, wash_winter=Wash.TUNNEL)
    tunnel = Process.TUNNEL_WASH
    assert lump_of(tunnel, SEALANT, Zone.TOPS, mixed, False, DEFAULTS) == (0.08, 0.08, 0.08)
    assert lump_of(tunnel, SEALANT, Zone.TOPS, mixed, True, DEFAULTS) == (0.0, 0.0, 0.0)
    assert lump_of(tunnel, SEALANT, Zone.TOPS, UNKNOWN_USE, True, DEFAULTS) == (0.08, 0.08, 0.0)
    assert lump_of(tunnel, SEALANT, Zone.SEATS, mixed, False, DEFAULTS) == (0.0, 0.0, 0.0)
    stored = reference(stored=True, wash_summer=Wash.TUNNEL)
    assert lump_of(tunnel, SEALANT, Zone.TOPS, stored, False, DEFAULTS) == (0.08, 0.08, 0.08)


def test_lump_of_a_process_that_takes_the_surface_is_the_whole_life() -> None:
    assert lump_of(Process.RESPRAY, COATING, Zone.TOPS, UNKNOWN_USE, False, DEFAULTS) == (1.0, 1.0, 1.0)


def test_lump_of_a_process_that_costs_nothing_is_nothing() -> None:
    assert lump_of(Process.CONTACT_WASH, WAX, Zone.TOPS, UNKNOWN_USE, False, DEFAULTS) == (0.0, 0.0, 0.0)


def test_rates_in_the_salted_months_are_those_of_salt_and_winter_washing() -> None:
    rates = rates_of(SEALANT, Zone.UPPER_SIDES, reference(), DEFAULTS)[1]
    assert rates[SALT] / rates[0] == pytest.approx(1.4)


def test_habit_refuses_a_distance_below_nothing() -> None:
    with pytest.raises(CoatError, match="less than nothing"):
        Habit(date(2026, 1, 1), km_a_year=-1)


def test_idle_refuses_an_end_before_its_start() -> None:
    with pytest.raises(CoatError, match="before it came off"):
        Idle(date(2026, 4, 1), date(2026, 3, 31))
