"""Body plans: which surfaces a kind of car has, and the order in which one walks around it."""

from __future__ import annotations

from enum import StrEnum

from crm.care.surfaces import ALL_GLASS, EVERYTHING, NOTHING, PANELS, Surface, Surfaces, Zone, surfaces_of


class Body(StrEnum):
    """The shape of a car, as far as its surfaces differ."""

    HATCHBACK = "hatchback"
    HATCHBACK_3 = "hatchback_3"
    SALOON = "saloon"
    ESTATE = "estate"
    COUPE = "coupe"
    CONVERTIBLE = "convertible"
    VAN = "van"
    PICK_UP = "pick_up"


BODY_NAMES: dict[Body, str] = {
    Body.HATCHBACK: "hatchback, five doors",
    Body.HATCHBACK_3: "hatchback, three doors",
    Body.SALOON: "saloon",
    Body.ESTATE: "estate or off-roader",
    Body.COUPE: "coupe",
    Body.CONVERTIBLE: "convertible",
    Body.VAN: "van",
    Body.PICK_UP: "pick-up",
}

_S = Surface
_REAR_DOORS = Surfaces.of(
    [_S.LEFT_REAR_DOOR, _S.RIGHT_REAR_DOOR, _S.LEFT_REAR_DOOR_LOWER, _S.RIGHT_REAR_DOOR_LOWER]
)
_THIRD_ROW = Surfaces.of([_S.THIRD_ROW])
_SECOND_ROW = Surfaces.of([_S.SECOND_ROW])
_SOFT_TOP = Surfaces.of([_S.SOFT_TOP])
_BED = Surfaces.of([_S.LOAD_BED])
_ROOF = Surfaces.of([_S.ROOF])
_BOOT_LID = Surfaces.of([_S.BOOT_LID])
_BOOT_SHUT = Surfaces.of([_S.BOOT_SHUT])
_USUAL = EVERYTHING - _SOFT_TOP - _BED - _THIRD_ROW

SURFACES_OF_BODY: dict[Body, Surfaces] = {
    Body.HATCHBACK: _USUAL,
    Body.HATCHBACK_3: _USUAL - _REAR_DOORS,
    Body.SALOON: _USUAL,
    Body.ESTATE: _USUAL | _THIRD_ROW,
    Body.COUPE: _USUAL - _REAR_DOORS,
    Body.CONVERTIBLE: (_USUAL | _SOFT_TOP) - _REAR_DOORS - _ROOF,
    Body.VAN: _USUAL | _THIRD_ROW,
    Body.PICK_UP: (_USUAL | _BED) - _BOOT_LID - _BOOT_SHUT,
}

WALK_ROUND: tuple[Surface, ...] = (
    _S.BONNET,
    _S.FRONT_BUMPER,
    _S.LEFT_FRONT_WING,
    _S.LEFT_FRONT_WING_LOWER,
    _S.LEFT_MIRROR,
    _S.LEFT_FRONT_DOOR,
    _S.LEFT_FRONT_DOOR_LOWER,
    _S.LEFT_REAR_DOOR,
    _S.LEFT_REAR_DOOR_LOWER,
    _S.LEFT_SILL,
    _S.LEFT_REAR_WING,
    _S.LEFT_REAR_WING_LOWER,
    _S.BOOT_LID,
    _S.TAILGATE_LOWER,
    _S.REAR_BUMPER,
    _S.RIGHT_REAR_WING,
    _S.RIGHT_REAR_WING_LOWER,
    _S.RIGHT_SILL,
    _S.RIGHT_REAR_DOOR,
    _S.RIGHT_REAR_DOOR_LOWER,
    _S.RIGHT_FRONT_DOOR,
    _S.RIGHT_FRONT_DOOR_LOWER,
    _S.RIGHT_MIRROR,
    _S.RIGHT_FRONT_WING,
    _S.RIGHT_FRONT_WING_LOWER,
    _S.ROOF,
)
"""The outside in the order in which a detailer passes it (common practice, no source)."""


def surfaces_of_body(body: Body) -> Surfaces:
    """Every surface that a car of this shape can have."""
    return SURFACES_OF_BODY[body]


def painted_panels(body: Body) -> Surfaces:
    """What "all painted panels" means on this shape."""
    return SURFACES_OF_BODY[body] & PANELS


def plain_sets(body: Body) -> dict[str, Surfaces]:
    """The sets that the picker offers in one tap, by their words, those that this shape has."""
    has = SURFACES_OF_BODY[body]
    offered = {
        "all painted panels": PANELS,
        "tops": surfaces_of(Zone.TOPS),
        "front": surfaces_of(Zone.FRONT),
        "upper sides": surfaces_of(Zone.UPPER_SIDES),
        "lower sides": surfaces_of(Zone.LOWER_SIDES),
        "shuts": surfaces_of(Zone.SHUTS),
        "load bed": surfaces_of(Zone.LOAD_BED),
        "wheel faces": surfaces_of(Zone.WHEELS),
        "wheel barrels": surfaces_of(Zone.BARRELS),
        "second set of wheels": surfaces_of(Zone.WHEELS_TWO, Zone.BARRELS_TWO),
        "all glass": ALL_GLASS,
        "windscreen": surfaces_of(Zone.SCREEN),
        "soft top": surfaces_of(Zone.SOFT_TOP),
        "seats": surfaces_of(Zone.SEATS),
    }
    return {words: members & has for words, members in offered.items() if members & has != NOTHING}
