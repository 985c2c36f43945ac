"""What the composer is told: the layers on the car, the fresh ones, how the owner lives, and the season."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from crm.care.advice_sheet import in_utc, require_no_day
from crm.care.seasons import Season
from crm.care.surfaces import Zone
from crm.care.terms import Circumstance, Paint, Process, ProductClass, Wash

_BEFORE_SALT_DAYS = 45  # a sheet is read for weeks, so winter advice is on it before the season opens


@dataclass(frozen=True, slots=True)
class OnCar:
    """A live layer on a zone, with the whole phrase for roughly how long: "until around February".

    `until_words` is empty where nothing can be forecast. ForecastDayError where it names a day. `panels` is the
    layer's painted panels in words, where they are not whole zones: "all painted panels except left rear wing".
    """

    product_class: ProductClass
    zone: Zone
    name: str
    until_words: str
    panels: str = ""

    def __post_init__(self) -> None:
        require_no_day(self.until_words)


@dataclass(frozen=True, slots=True)
class Setting:
    """A layer of this visit on a zone, with its clocks as aware moments; NaiveTimeError where one is not.

    `topper_from` is None where the product never takes a topper or its sheet does not say; full cure stands
    in for it then.
    """

    product_class: ProductClass
    zone: Zone
    name: str
    laid_at: datetime
    drive_from: datetime
    dry_until: datetime
    wash_from: datetime
    topper_from: datetime | None
    cured_at: datetime

    def __post_init__(self) -> None:
        for clock in CLOCKS:
            self.clock(clock)

    def clock(self, name: str) -> datetime:
        """One of the layer's clocks in UTC, by its field name."""
        if name == "topper_from" and self.topper_from is None:
            return in_utc(self.cured_at)
        moment: datetime = getattr(self, name)
        return in_utc(moment)


CLOCKS = ("laid_at", "drive_from", "dry_until", "wash_from", "topper_from", "cured_at")


@dataclass(frozen=True, slots=True)
class Circumstances:
    """How the owner lives with the car. None is "did not say", which is never read as a no."""

    flags: frozenset[Circumstance] = frozenset()
    wash_summer: Wash | None = None
    wash_winter: Wash | None = None
    paint: Paint = Paint.UNKNOWN
    salted_roads: bool | None = None


@dataclass(frozen=True, slots=True)
class Situation:
    """Everything the conditions of a text are asked about."""

    layers: tuple[OnCar, ...]
    fresh: tuple[Setting, ...]
    circumstances: Circumstances
    processes: frozenset[Process]
    season: str
    wash: Wash | None
    salted: bool
    pairs: frozenset[tuple[ProductClass, Zone]] = field(init=False)
    fresh_pairs: frozenset[tuple[ProductClass, Zone]] = field(init=False)

    def __post_init__(self) -> None:
        fresh = frozenset((layer.product_class, layer.zone) for layer in self.fresh)
        live = frozenset((layer.product_class, layer.zone) for layer in self.layers)
        object.__setattr__(self, "fresh_pairs", fresh)
        object.__setattr__(self, "pairs", live | fresh)


def situation_of(
    layers: Sequence[OnCar],
    fresh: Sequence[Setting],
    circumstances: Circumstances,
    today: date,
    salt: Season,
    processes: Sequence[Process],
) -> Situation:
    """The situation on a day: the season is "salt" from 45 days before the salted months, else "open".

    Roads count as salted unless the owner said that they are not; a mark in the circumstances wins over that.
    """
    in_salt = salt.contains(today)
    near = in_salt or (salt.next_start(today) - today).days <= _BEFORE_SALT_DAYS
    marked = Circumstance.SALTED_ROADS in circumstances.flags
    return Situation(
        layers=tuple(layers),
        fresh=tuple(fresh),
        circumstances=circumstances,
        processes=frozenset(processes),
        season="salt" if near else "open",
        wash=circumstances.wash_winter if in_salt else circumstances.wash_summer,
        salted=marked or circumstances.salted_roads is not False,
    )
