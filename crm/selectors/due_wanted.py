"""What a list of cars that are due back can be asked for."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from crm.care.surfaces import PAINT_ZONES, Zone
from crm.care.terms import Condition


class ZoneGroup(StrEnum):
    """Zones as one speaks of them across the yard."""

    PAINT = "paint"
    WHEELS = "wheels"
    GLASS = "glass"
    TRIM = "trim"
    CABIN = "cabin"


GROUPS: dict[ZoneGroup, tuple[Zone, ...]] = {
    ZoneGroup.PAINT: PAINT_ZONES,
    ZoneGroup.WHEELS: (
        Zone.WHEELS,
        Zone.BARRELS,
        Zone.WHEELS_TWO,
        Zone.BARRELS_TWO,
        Zone.CALIPERS,
        Zone.TYRES,
    ),
    ZoneGroup.GLASS: (Zone.SCREEN, Zone.GLASS),
    ZoneGroup.TRIM: (
        Zone.TRIM,
        Zone.SEALS,
        Zone.METAL,
        Zone.LAMPS,
        Zone.SOFT_TOP,
        Zone.UNDERBODY,
        Zone.ENGINE_BAY,
    ),
    ZoneGroup.CABIN: (Zone.SEATS, Zone.CABIN_TRIM, Zone.CARPETS),
}
GROUP_OF: dict[Zone, ZoneGroup] = {zone: group for group, zones in GROUPS.items() for zone in zones}
OUTSIDE = tuple(
    zone for zone, group in GROUP_OF.items() if group is not ZoneGroup.CABIN and zone is not Zone.ENGINE_BAY
)


class Lapsing(StrEnum):
    """By when a layer may be thin."""

    MONTH = "month"
    WINTER = "winter"
    QUARTER = "quarter"
    ANY = "any"


class Salted(StrEnum):
    """Whether a car is driven on salted roads, as far as anybody said."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """Which cars a list is asked for. What is None or empty does not narrow it."""

    lapsing: Lapsing = Lapsing.ANY
    condition: Condition | None = None
    """Holding takes in what is still setting."""
    group: ZoneGroup | None = None
    """None is the outside of the car."""
    salted: Salted | None = None
    on_plan: bool | None = None
    text: str = ""
    latest_first: bool = False
