"""What processes end. Common practice, no source."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from crm.care.removal import Effect, Ends, Family, Lying, effect_of, ends, family_of, superseded
from crm.care.surfaces import EVERYTHING, PANELS, Surfaces, Zone, surfaces_of
from crm.care.terms import EndReason, Process, ProductClass

WAX = ProductClass.NATURAL_WAX
SEALANT = ProductClass.POLYMER_SEALANT
TOPPER = ProductClass.SILICA_TOPPER
LIGHT = ProductClass.LIGHT_COATING
COATING = ProductClass.COATING_PROFESSIONAL
FILM = ProductClass.PAINT_FILM
UNKNOWN = ProductClass.UNKNOWN
BONNET = Surfaces.from_keys(["bonnet"])
LAID = datetime(2026, 5, 3, 12, tzinfo=UTC)


def _lying(
    product_class: ProductClass, surfaces: Surfaces = PANELS, key: int = 1, name: str = "Gannet"
) -> Lying:
    return Lying(key, product_class, key, name, surfaces, LAID)


E, W, H, N = Effect.ENDS, Effect.WEARS, Effect.HARMS, Effect.NOTHING


# Columns: wax, sealant, light coating, coating, film, dressing, fabric, unknown. What is not listed is untouched.
_ENDS_ALL_BUT_FABRIC = (E, E, E, E, E, E, N, E)
_POLISHED = (E, E, E, E, H, E, N, E)
_MACHINE_WASHED = (W, W, W, W, W, W, N, W)
EFFECTS: dict[Process, tuple[Effect, ...]] = {
    Process.PRE_WASH_STRONG: (W, W, W, W, W, W, N, W),
    Process.TOUCH_FREE_WASH: _MACHINE_WASHED,
    Process.TUNNEL_WASH: _MACHINE_WASHED,
    Process.TAR_REMOVER: (W, W, W, W, N, N, N, W),
    Process.STRIP_WASH: (W, W, W, W, N, W, N, W),
    Process.CLAY: (E, E, W, W, H, N, N, W),
    Process.PANEL_WIPE: (E, W, N, N, N, N, N, W),
    Process.FINE_POLISH: _POLISHED,
    Process.ONE_STEP_POLISH: _POLISHED,
    Process.CUT: _POLISHED,
    Process.SANDING: _POLISHED,
    Process.FILM_REMOVED: _ENDS_ALL_BUT_FABRIC,
    Process.RESPRAY: _ENDS_ALL_BUT_FABRIC,
    Process.PANEL_REPLACED: _ENDS_ALL_BUT_FABRIC,
    Process.GLASS_REPLACED: _ENDS_ALL_BUT_FABRIC,
    Process.WHEEL_REFURBISH: _ENDS_ALL_BUT_FABRIC,
    Process.TYRES_REPLACED: (E, E, E, E, N, E, N, E),
    Process.RETRIM: (E, E, E, E, E, E, E, E),
    Process.LAMP_REPLACED: (E, E, E, E, E, N, N, E),
}
_ONE_OF_EACH = (WAX, SEALANT, LIGHT, COATING, FILM, ProductClass.TYRE_GEL, ProductClass.FABRIC_GUARD, UNKNOWN)


@pytest.mark.parametrize("process", Process)
def test_effect_of_every_process_on_each_family(process: Process) -> None:
    assert {family_of(each) for each in _ONE_OF_EACH} == set(Family)
    assert tuple(effect_of(process, each) for each in _ONE_OF_EACH) == EFFECTS.get(process, (N,) * 8)


@pytest.mark.parametrize("process", Process)
def test_ends_agrees_with_the_effects(process: Process) -> None:
    lying = [_lying(product_class, EVERYTHING, key) for key, product_class in enumerate(ProductClass)]
    ended = {found.key for found in ends(process, EVERYTHING, lying)}
    assert ended == {
        key
        for key, product_class in enumerate(ProductClass)
        if effect_of(process, product_class) is Effect.ENDS
    }


def test_every_class_is_in_one_family() -> None:
    assert {family_of(product_class) for product_class in ProductClass} == set(Family)
    assert family_of(ProductClass.DURABLE_WAX) is Family.WAX


def test_ends_only_where_the_process_touched() -> None:
    assert ends(Process.CLAY, BONNET, [_lying(SEALANT)]) == (
        Ends(1, BONNET, EndReason.CLAYED, "Gannet ended there: clay."),
    )
    assert ends(Process.CLAY, BONNET, [_lying(SEALANT, PANELS - BONNET)]) == ()


def test_ends_takes_everything_on_top_when_the_paint_goes() -> None:
    lying = [_lying(FILM, BONNET, 1), _lying(TOPPER, PANELS, 2), _lying(UNKNOWN, PANELS, 3)]
    found = ends(Process.RESPRAY, BONNET, lying)
    assert [(each.key, each.surfaces, each.reason) for each in found] == [
        (1, BONNET, EndReason.RESPRAYED),
        (2, BONNET, EndReason.RESPRAYED),
        (3, BONNET, EndReason.RESPRAYED),
    ]


@pytest.mark.parametrize(
    ("process", "zones", "product_class"),
    [
        (Process.GLASS_REPLACED, (Zone.SCREEN, Zone.GLASS), ProductClass.GLASS_COATING),
        (
            Process.WHEEL_REFURBISH,
            (Zone.WHEELS, Zone.BARRELS, Zone.WHEELS_TWO, Zone.BARRELS_TWO),
            ProductClass.WHEEL_COATING,
        ),
        (Process.TYRES_REPLACED, (Zone.TYRES,), ProductClass.TYRE_COATING),
        (
            Process.RETRIM,
            (Zone.SEATS, Zone.CABIN_TRIM, Zone.CARPETS, Zone.SOFT_TOP),
            ProductClass.LEATHER_COATING,
        ),
        (Process.LAMP_REPLACED, (Zone.LAMPS,), ProductClass.LAMP_FILM),
        (
            Process.RESPRAY,
            (Zone.TOPS, Zone.FRONT, Zone.UPPER_SIDES, Zone.LOWER_SIDES, Zone.SHUTS, Zone.LOAD_BED, Zone.TRIM),
            COATING,
        ),
    ],
)
def test_ends_reaches_no_farther_than_the_part(
    process: Process, zones: tuple[Zone, ...], product_class: ProductClass
) -> None:
    (found,) = ends(process, EVERYTHING, [_lying(product_class, EVERYTHING)])
    assert found.surfaces == surfaces_of(*zones)


@pytest.mark.parametrize("product_class", [WAX, TOPPER, COATING, FILM, ProductClass.GLASS_COATING])
def test_superseded_takes_over_from_the_same_class_where_they_overlap(product_class: ProductClass) -> None:
    lying = [_lying(product_class, PANELS, 1), _lying(product_class, PANELS, 9)]
    (found,) = superseded(product_class, BONNET, lying=lying, key=9)
    assert (found.key, found.surfaces, found.reason) == (1, BONNET, EndReason.SUPERSEDED)


def test_superseded_leaves_a_coating_under_its_topper_and_a_layer_elsewhere() -> None:
    assert superseded(TOPPER, PANELS, lying=[_lying(COATING)], key=9) == ()
    assert superseded(COATING, BONNET, lying=[_lying(COATING, PANELS - BONNET)], key=9) == ()
    assert superseded(WAX, BONNET, lying=[_lying(SEALANT)], key=9) == ()
    assert superseded(UNKNOWN, BONNET, lying=[_lying(UNKNOWN)], key=9) == ()


def test_superseded_takes_over_from_relatives_of_the_same_purpose() -> None:
    tyres = surfaces_of(Zone.TYRES)
    found = superseded(
        ProductClass.TYRE_GEL, tyres, lying=[_lying(ProductClass.TYRE_WATER_DRESSING, tyres)], key=9
    )
    assert [each.key for each in found] == [1]
