"""What a forecast starts from: one layer in one zone, how the car is kept, and what happened to it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from crm.care.life import Life
from crm.care.surfaces import Zone
from crm.care.terms import Air, Moment, Parking, Prep, Process, ProductClass, Wash, WaterGrade


class CoatError(ValueError):
    """Facts of a layer or of a car's use that cannot be meant; the message says what to change."""


@dataclass(frozen=True, slots=True)
class Habit:
    """How the car is kept from a day on, until the next habit. None is an answer that nobody gave.

    Each habit is complete in itself: nothing carries over from the one before. The winter wash is the one of
    the salted months. A car that is `stored` is laid up: its parking, washing and distance do not count.
    """

    since: date
    parking: Parking | None = None
    km_a_year: int | None = None
    salted_roads: bool | None = None
    wash_summer: Wash | None = None
    wash_winter: Wash | None = None
    on_plan: bool = False
    stored: bool = False

    def __post_init__(self) -> None:
        if self.km_a_year is not None and self.km_a_year < 0:
            raise CoatError("A car cannot be driven less than nothing in a year.")


@dataclass(frozen=True, slots=True)
class Lump:
    """One event that takes a share of a layer's life. On the day of laying it came before the layer."""

    on: date
    process: Process


@dataclass(frozen=True, slots=True)
class Look:
    """How water behaved on a layer on a day, and when it was looked at: only after decontamination it is proof."""

    on: date
    water: WaterGrade
    moment: Moment


@dataclass(frozen=True, slots=True)
class Idle:
    """A time off the car, for a set of wheels: from `start` until the day before `end`. No end: still off."""

    start: date
    end: date | None = None

    def __post_init__(self) -> None:
        if self.end is not None and self.end < self.start:
            raise CoatError("A set of wheels cannot go back on before it came off.")


@dataclass(frozen=True, slots=True)
class Coat:
    """One layer in one zone.

    `life` is the studio's own for the product at the main site of its class, in reference months (None: the
    class's default); `learned` where it was learned from the studio's own cars. `hard_used` is for a layer on the
    spot of its zone that wears first.
    """

    product_class: ProductClass
    zone: Zone
    laid_on: date
    life: Life | None = None
    prep: Prep | None = None
    air: Air | None = None
    got_wet_early: bool = False
    idle: tuple[Idle, ...] = ()
    hard_used: bool = False
    learned: bool = False


@dataclass(frozen=True, slots=True)
class Case:
    """One layer in one zone with everything its forecast rests on.

    Where the layers of a car stand together and share one tuple of habits, many of them are worked out faster.
    """

    coat: Coat
    habits: tuple[Habit, ...]
    lumps: tuple[Lump, ...] = ()
    looks: tuple[Look, ...] = ()
