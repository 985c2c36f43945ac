"""The shapes of the wear model's figures: lives by class and place, zones, and the factors of wear."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from crm.care.figures import Triple
from crm.care.life import Life
from crm.care.surfaces import Zone
from crm.care.terms import Air, Mark, Parking, Prep, Process, Wash


class Family(StrEnum):
    """Classes that wear in the same way: a column of the wear tables."""

    WAX = "wax"
    DURABLE_WAX = "durable_wax"
    SEALANT = "sealant"
    TOPPER = "topper"
    LIGHT_COATING = "light_coating"
    COATING = "coating"
    FILM = "film"
    CABIN = "cabin"


class Influence(StrEnum):
    """What can reach a zone."""

    PARKING = "parking"
    DISTANCE = "distance"
    WASH = "wash"
    SALT = "salt"
    HEAT = "heat"
    PLAN = "plan"


@dataclass(frozen=True, slots=True)
class Site:
    """A life stated for one place."""

    life: Life
    mark: Mark


@dataclass(frozen=True, slots=True)
class ClassLife:
    """A class of product: its life at its main site (the first of `home`) and at special sites."""

    life: Life | None
    mark: Mark
    family: Family
    home: tuple[Zone, ...]
    sites: Mapping[Zone, Site]


@dataclass(frozen=True, slots=True)
class HardUse:
    """The spot of a zone that wears first, and the share of the life that it gets."""

    spot: str
    share: float


@dataclass(frozen=True, slots=True)
class ZoneWear:
    """What a zone does to a layer: rate, salt effect, life, and which influences reach it."""

    wear: float
    salt: float
    life_times: float
    because: str
    acts: frozenset[Influence]
    hard_use: HardUse | None
    mark: Mark


@dataclass(frozen=True, slots=True)
class WearFactors:
    """Factors on the rate (pessimistic, likely, kind) and on the life (for low, likely, high).

    Known answers have three equal numbers; the key None is for an answer that nobody gave.
    """

    slowest: float
    fastest: float
    parking: Mapping[Parking | None, Triple]
    under_a_roof: frozenset[Parking]
    distance_limits: tuple[float, ...]
    distance: tuple[float, ...]
    distance_unknown: Triple
    plan: float
    stored_parking: float
    stored_distance: float
    off_the_car_months: Triple
    salted_unknown: Triple
    heat_unknown: Triple
    wash: Mapping[Family, Mapping[Wash | None, Triple]]
    salt: Mapping[Family, float]
    hot: Mapping[Family, float]
    air: Mapping[Air | None, Triple]
    got_wet_early: float
    prep: Mapping[Family, Mapping[Prep | None, Triple]]
    lumps: Mapping[Family, Mapping[Process, float]]
    ends: frozenset[Process]
    marks: Mapping[str, Mark]
