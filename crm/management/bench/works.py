"""What is done to the cars of the bench: products, kinds of visit, and ways of keeping a car."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from crm.care.coats import Habit
from crm.care.surfaces import PANELS, Surface, Surfaces, Zone, surfaces_of
from crm.care.terms import Parking, Process, ProductClass, Wash


class Site(StrEnum):
    """Where a product belongs; a new layer ends the old one at the same site."""

    PAINT = "paint"
    ON_TOP = "on_top"
    WHEELS = "wheels"
    SCREEN = "screen"
    GLASS = "glass"
    TRIM = "trim"
    TYRES = "tyres"
    SEATS = "seats"
    CARPETS = "carpets"
    LAMPS = "lamps"
    SHUTS = "shuts"


@dataclass(frozen=True)
class Bottle:
    """A product of the bench and where it goes."""

    name: str
    product_class: ProductClass
    site: Site


GANNET = Bottle("Gannet paint sealant", ProductClass.POLYMER_SEALANT, Site.PAINT)
FULMAR = Bottle("Fulmar two-year coating", ProductClass.COATING_ENTHUSIAST, Site.PAINT)
SQUALL = Bottle("Squall silica topper", ProductClass.SILICA_TOPPER, Site.ON_TOP)
HAAR = Bottle("Haar hard wax", ProductClass.DURABLE_WAX, Site.SHUTS)
DUNLIN = Bottle("Dunlin wheel sealant", ProductClass.WHEEL_SEALANT, Site.WHEELS)
CURLEW = Bottle("Curlew wheel coating", ProductClass.WHEEL_COATING, Site.WHEELS)
DRIZZLE = Bottle("Drizzle rain repellent", ProductClass.RAIN_REPELLENT, Site.SCREEN)
SKUA = Bottle("Skua glass coating", ProductClass.GLASS_COATING, Site.GLASS)
TERN = Bottle("Tern trim dressing", ProductClass.TRIM_DRESSING, Site.TRIM)
PLOVER = Bottle("Plover trim coating", ProductClass.TRIM_COATING, Site.TRIM)
SISKIN = Bottle("Siskin tyre dressing", ProductClass.TYRE_WATER_DRESSING, Site.TYRES)
WHIMBREL = Bottle("Whimbrel leather cream", ProductClass.LEATHER_CREAM, Site.SEATS)
HERON = Bottle("Heron fabric guard", ProductClass.FABRIC_GUARD, Site.CARPETS)
GREBE = Bottle("Grebe lamp sealant", ProductClass.LAMP_SEALANT, Site.LAMPS)
SHELF = (
    GANNET, FULMAR, SQUALL, HAAR, DUNLIN, CURLEW, DRIZZLE, SKUA, TERN, PLOVER, SISKIN, WHIMBREL, HERON, GREBE,
)  # fmt: skip

_WING = Surfaces.of([Surface.LEFT_REAR_WING, Surface.LEFT_REAR_WING_LOWER])
_WHEELS = surfaces_of(Zone.WHEELS)


@dataclass(frozen=True)
class Work:
    """A kind of visit: what is cleaned and polished, and what is laid where."""

    purpose: str
    share: float
    """How often it comes among the visits of a car."""
    steps: tuple[Process, ...]
    laid: tuple[tuple[Bottle, Surfaces], ...]
    graded: bool = False

    @property
    def polishes(self) -> bool:
        """Whether it takes every layer off the paint."""
        return Process.ONE_STEP_POLISH in self.steps


_WASHING = (Process.PRE_WASH_MILD, Process.CONTACT_WASH)
_CLEANING = (*_WASHING, Process.IRON_REMOVER)

WORKS = (
    Work("wash", 0.24, _WASHING, ((SQUALL, PANELS),)),
    Work("wash", 0.20, _WASHING, ((SQUALL, PANELS), (SISKIN, surfaces_of(Zone.TYRES)))),
    Work(
        "detail",
        0.15,
        _CLEANING,
        (
            (GANNET, PANELS - _WING),
            (DUNLIN, _WHEELS),
            (DRIZZLE, surfaces_of(Zone.SCREEN)),
            (TERN, surfaces_of(Zone.TRIM)),
            (SISKIN, surfaces_of(Zone.TYRES)),
        ),
        graded=True,
    ),
    Work(
        "winter",
        0.18,
        _CLEANING,
        (
            (GANNET, PANELS),
            (HAAR, surfaces_of(Zone.SHUTS)),
            (DUNLIN, _WHEELS),
            (DRIZZLE, surfaces_of(Zone.SCREEN)),
            (TERN, surfaces_of(Zone.TRIM)),
            (GREBE, surfaces_of(Zone.LAMPS)),
        ),
        graded=True,
    ),
    Work(
        "spring",
        0.12,
        _CLEANING,
        (
            (SQUALL, PANELS),
            (DUNLIN, _WHEELS),
            (WHIMBREL, surfaces_of(Zone.SEATS)),
            (HERON, surfaces_of(Zone.CARPETS)),
        ),
        graded=True,
    ),
    Work(
        "coating",
        0.07,
        (*_CLEANING, Process.CLAY, Process.ONE_STEP_POLISH, Process.PANEL_WIPE),
        (
            (FULMAR, surfaces_of(Zone.TOPS)),
            (FULMAR, surfaces_of(Zone.FRONT)),
            (FULMAR, surfaces_of(Zone.UPPER_SIDES)),
            (FULMAR, surfaces_of(Zone.LOWER_SIDES)),
            (HAAR, surfaces_of(Zone.SHUTS)),
            (CURLEW, _WHEELS),
            (SKUA, surfaces_of(Zone.SCREEN)),
            (SKUA, surfaces_of(Zone.GLASS)),
            (PLOVER, surfaces_of(Zone.TRIM)),
            (GREBE, surfaces_of(Zone.LAMPS)),
            (WHIMBREL, surfaces_of(Zone.SEATS)),
        ),
        graded=True,
    ),
    Work("inspection", 0.04, (), (), graded=True),
)
SMALLEST = WORKS[0]
"""One layer: what fills up the last places of a plan."""
FIRST = tuple(work for work in WORKS if len(work.laid) > 3)
"""What a car comes for the first time."""

_SINCE = date(2010, 1, 1)
WAYS_OF_KEEPING = (
    Habit(_SINCE, Parking.OUTDOORS, 14_000, True, Wash.HAND_NEUTRAL, Wash.LANCE_BRUSH),
    Habit(_SINCE, Parking.GARAGE, 6_000, False, Wash.HAND_NEUTRAL, Wash.HARDLY_EVER),
    Habit(_SINCE, Parking.NEAR_SEA, 22_000, True, Wash.TUNNEL, Wash.TUNNEL),
    Habit(_SINCE),
    Habit(_SINCE, Parking.OUTDOORS, 35_000, True, Wash.LANCE_OWN_MITT, Wash.TOUCH_FREE, on_plan=True),
)
