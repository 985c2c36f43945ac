"""The surfaces of a car, and sets of them.

A surface is the smallest thing a layer can be on. Every surface has a fixed bit, so that a set of
surfaces is one 63-bit whole number that a database can store in a signed 64-bit column. Bits are
never reused: a bit that has been stored means the same surface for ever.

Left and right are as seen from the driver's seat, facing forward (common practice, no source).
Doors and wings are divided into the panel and its lower third, because the lower third wears,
is clayed and is graded on its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import IntEnum, StrEnum
from functools import lru_cache


class Surface(IntEnum):
    """One surface; the value is its bit."""

    BONNET = 0
    ROOF = 1
    BOOT_LID = 2
    TAILGATE_LOWER = 3
    FRONT_BUMPER = 4
    REAR_BUMPER = 5
    LEFT_MIRROR = 6
    RIGHT_MIRROR = 7
    LEFT_FRONT_WING = 8
    RIGHT_FRONT_WING = 9
    LEFT_FRONT_DOOR = 10
    RIGHT_FRONT_DOOR = 11
    LEFT_REAR_DOOR = 12
    RIGHT_REAR_DOOR = 13
    LEFT_REAR_WING = 14
    RIGHT_REAR_WING = 15
    LEFT_FRONT_WING_LOWER = 16
    RIGHT_FRONT_WING_LOWER = 17
    LEFT_FRONT_DOOR_LOWER = 18
    RIGHT_FRONT_DOOR_LOWER = 19
    LEFT_REAR_DOOR_LOWER = 20
    RIGHT_REAR_DOOR_LOWER = 21
    LEFT_REAR_WING_LOWER = 22
    RIGHT_REAR_WING_LOWER = 23
    LEFT_SILL = 24
    RIGHT_SILL = 25
    LEFT_SHUTS = 26
    RIGHT_SHUTS = 27
    BOOT_SHUT = 28
    LOAD_BED = 29
    LEFT_FRONT_WHEEL = 30
    RIGHT_FRONT_WHEEL = 31
    LEFT_REAR_WHEEL = 32
    RIGHT_REAR_WHEEL = 33
    WHEEL_BARRELS = 34
    LEFT_FRONT_WHEEL_TWO = 35
    RIGHT_FRONT_WHEEL_TWO = 36
    LEFT_REAR_WHEEL_TWO = 37
    RIGHT_REAR_WHEEL_TWO = 38
    WHEEL_BARRELS_TWO = 39
    CALIPERS = 40
    TYRES = 41
    WINDSCREEN = 42
    LEFT_GLASS = 43
    RIGHT_GLASS = 44
    REAR_GLASS = 45
    PLASTIC_TRIM = 46
    SEALS = 47
    BRIGHT_METAL = 48
    LEFT_HEADLAMP = 49
    RIGHT_HEADLAMP = 50
    TAIL_LAMPS = 51
    SOFT_TOP = 52
    DRIVER_SEAT = 53
    FRONT_PASSENGER_SEAT = 54
    SECOND_ROW = 55
    THIRD_ROW = 56
    CABIN_TRIM = 57
    CARPETS = 58
    ENGINE_BAY = 59
    UNDERBODY = 60

    @property
    def key(self) -> str:
        """Lower-case name used in forms, data files and drawings: `left_front_door`."""
        return self.name.lower()


_ALL_BITS = (1 << (max(Surface) + 1)) - 1


@dataclass(frozen=True, slots=True)
class Surfaces:
    """A set of surfaces, stored as one whole number (`bits`)."""

    bits: int = 0

    def __post_init__(self) -> None:
        if not 0 <= self.bits <= _ALL_BITS:
            raise ValueError("That is not a set of surfaces: it names a surface that does not exist.")

    @classmethod
    def of(cls, surfaces: Iterable[Surface]) -> Surfaces:
        """The set that holds exactly these surfaces."""
        bits = 0
        for surface in surfaces:
            bits |= 1 << surface
        return cls(bits)

    @classmethod
    def from_keys(cls, keys: Iterable[str]) -> Surfaces:
        """The set named by keys such as `left_front_door`.

        Raises ValueError with a sentence where a key is not known.
        """
        return cls.of(_by_key(key) for key in keys)

    def keys(self) -> list[str]:
        """The keys of the surfaces in the set, in bit order."""
        return [surface.key for surface in self]

    def __iter__(self) -> Iterator[Surface]:
        return (surface for surface in Surface if self.bits >> surface & 1)

    def __contains__(self, surface: Surface) -> bool:
        return bool(self.bits >> surface & 1)

    def __len__(self) -> int:
        return self.bits.bit_count()

    def __bool__(self) -> bool:
        return self.bits != 0

    def __or__(self, other: Surfaces) -> Surfaces:
        return Surfaces(self.bits | other.bits)

    def __and__(self, other: Surfaces) -> Surfaces:
        return Surfaces(self.bits & other.bits)

    def __sub__(self, other: Surfaces) -> Surfaces:
        return Surfaces(self.bits & ~other.bits)

    def __le__(self, other: Surfaces) -> bool:
        return self.bits & ~other.bits == 0


def _by_key(key: str) -> Surface:
    try:
        return Surface[key.upper()]
    except KeyError:
        raise ValueError(f"There is no surface called “{key}”.") from None


class Zone(StrEnum):
    """A named group of surfaces that wear, are graded and are shown together: a lane of the coat chart."""

    TOPS = "tops"
    FRONT = "front"
    UPPER_SIDES = "upper_sides"
    LOWER_SIDES = "lower_sides"
    SHUTS = "shuts"
    LOAD_BED = "load_bed"
    WHEELS = "wheels"
    BARRELS = "barrels"
    WHEELS_TWO = "wheels_two"
    BARRELS_TWO = "barrels_two"
    CALIPERS = "calipers"
    TYRES = "tyres"
    SCREEN = "screen"
    GLASS = "glass"
    TRIM = "trim"
    SEALS = "seals"
    METAL = "metal"
    LAMPS = "lamps"
    SOFT_TOP = "soft_top"
    SEATS = "seats"
    CABIN_TRIM = "cabin_trim"
    CARPETS = "carpets"
    ENGINE_BAY = "engine_bay"
    UNDERBODY = "underbody"


def _sides(*names: str) -> list[Surface]:
    return [Surface[f"{side}_{name}"] for side in ("LEFT", "RIGHT") for name in names]


_S = Surface

ZONES: dict[Zone, Surfaces] = {
    Zone.TOPS: Surfaces.of([_S.BONNET, _S.ROOF, _S.BOOT_LID]),
    Zone.FRONT: Surfaces.of([_S.FRONT_BUMPER, *_sides("MIRROR")]),
    Zone.UPPER_SIDES: Surfaces.of(_sides("FRONT_WING", "FRONT_DOOR", "REAR_DOOR", "REAR_WING")),
    Zone.LOWER_SIDES: Surfaces.of(
        [
            *_sides("FRONT_WING_LOWER", "FRONT_DOOR_LOWER", "REAR_DOOR_LOWER", "REAR_WING_LOWER", "SILL"),
            _S.TAILGATE_LOWER,
            _S.REAR_BUMPER,
        ]
    ),
    Zone.SHUTS: Surfaces.of([*_sides("SHUTS"), _S.BOOT_SHUT]),
    Zone.LOAD_BED: Surfaces.of([_S.LOAD_BED]),
    Zone.WHEELS: Surfaces.of(_sides("FRONT_WHEEL", "REAR_WHEEL")),
    Zone.BARRELS: Surfaces.of([_S.WHEEL_BARRELS]),
    Zone.WHEELS_TWO: Surfaces.of(_sides("FRONT_WHEEL_TWO", "REAR_WHEEL_TWO")),
    Zone.BARRELS_TWO: Surfaces.of([_S.WHEEL_BARRELS_TWO]),
    Zone.CALIPERS: Surfaces.of([_S.CALIPERS]),
    Zone.TYRES: Surfaces.of([_S.TYRES]),
    Zone.SCREEN: Surfaces.of([_S.WINDSCREEN]),
    Zone.GLASS: Surfaces.of([*_sides("GLASS"), _S.REAR_GLASS]),
    Zone.TRIM: Surfaces.of([_S.PLASTIC_TRIM]),
    Zone.SEALS: Surfaces.of([_S.SEALS]),
    Zone.METAL: Surfaces.of([_S.BRIGHT_METAL]),
    Zone.LAMPS: Surfaces.of([*_sides("HEADLAMP"), _S.TAIL_LAMPS]),
    Zone.SOFT_TOP: Surfaces.of([_S.SOFT_TOP]),
    Zone.SEATS: Surfaces.of([_S.DRIVER_SEAT, _S.FRONT_PASSENGER_SEAT, _S.SECOND_ROW, _S.THIRD_ROW]),
    Zone.CABIN_TRIM: Surfaces.of([_S.CABIN_TRIM]),
    Zone.CARPETS: Surfaces.of([_S.CARPETS]),
    Zone.ENGINE_BAY: Surfaces.of([_S.ENGINE_BAY]),
    Zone.UNDERBODY: Surfaces.of([_S.UNDERBODY]),
}
"""Every surface is in exactly one zone."""

ZONE_OF: dict[Surface, Zone] = {surface: zone for zone, members in ZONES.items() for surface in members}

NOTHING = Surfaces()
EVERYTHING = Surfaces(_ALL_BITS)


def surfaces_of(*zones: Zone) -> Surfaces:
    """All surfaces of these zones together."""
    found = NOTHING
    for zone in zones:
        found |= ZONES[zone]
    return found


PAINT_ZONES = (Zone.TOPS, Zone.FRONT, Zone.UPPER_SIDES, Zone.LOWER_SIDES, Zone.SHUTS, Zone.LOAD_BED)
PAINT = surfaces_of(*PAINT_ZONES)
PANELS = surfaces_of(Zone.TOPS, Zone.FRONT, Zone.UPPER_SIDES, Zone.LOWER_SIDES)
"""The painted outside: what "all painted panels" means. Shuts and load bed are chosen on their own."""
WHEELS = surfaces_of(Zone.WHEELS, Zone.BARRELS, Zone.WHEELS_TWO, Zone.BARRELS_TWO)
ALL_GLASS = surfaces_of(Zone.SCREEN, Zone.GLASS)
CABIN = surfaces_of(Zone.SEATS, Zone.CABIN_TRIM, Zone.CARPETS)
EXTERIOR = EVERYTHING - CABIN - surfaces_of(Zone.ENGINE_BAY)
EATEN_BY_SALT = PAINT | WHEELS | surfaces_of(Zone.CALIPERS, Zone.METAL, Zone.UNDERBODY)
"""What a salted winter harms where nothing protects it; glass, trim and tyres it only dirties (common practice)."""


def by_zone(surfaces: Surfaces) -> dict[Zone, Surfaces]:
    """The set split by zone, zones in lane order; zones without a member are left out."""
    return dict(_parts(surfaces))


@lru_cache(maxsize=8192)
def _parts(surfaces: Surfaces) -> tuple[tuple[Zone, Surfaces], ...]:
    """Few sets are laid, and they are split again and again."""
    parts = ((zone, members & surfaces) for zone, members in ZONES.items())
    return tuple((zone, part) for zone, part in parts if part)


def mirrored(surfaces: Surfaces) -> Surfaces:
    """The same surfaces on the other side of the car; a surface with no twin stays itself."""
    return Surfaces.of(_TWIN.get(surface, surface) for surface in surfaces)


def _twin(surface: Surface) -> Surface | None:
    if surface.name.startswith("LEFT_"):
        return Surface[surface.name.replace("LEFT_", "RIGHT_", 1)]
    if surface.name.startswith("RIGHT_"):
        return Surface[surface.name.replace("RIGHT_", "LEFT_", 1)]
    return None


_TWIN = {surface: twin for surface in Surface if (twin := _twin(surface))}
