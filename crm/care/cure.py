"""How long a layer takes to set: from its class or its data sheet, as moments on the clock.

The hours are true elapsed hours, so they survive a change of the clocks.

Cold: the rule of thumb says double every wait for each 10 °C under 20 °C. The waits of a class are
ranges whose upper end is about twice the lower, so the upper end, which is the default here, already
covers a bay down to 10 °C (the preferred minimum). Doubling therefore goes on from 10 °C: a coating kept
dry for 24 h and unwashed for 7 days at 12 °C needs 48 h and 14 days at 0 °C, which are the figures that
the trade quotes for cold. Common practice as a range, no source.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Any

from crm.care.months import elapsed
from crm.care.terms import Mark, ProductClass


class Clock(StrEnum):
    """The times at which a setting layer allows the next thing, named as in `Clocks`."""

    DRIVE = "drive_from"
    DRY = "dry_until"
    WASH = "wash_from"
    TOPPER = "topper_from"
    CURED = "cured_at"


@dataclass(frozen=True, slots=True)
class Cure:
    """Hours from laying until each clock; `topper_h` None where nothing is usually laid on top."""

    drive_h: float
    dry_h: float
    wash_h: float
    topper_h: float | None
    full_h: float


@dataclass(frozen=True, slots=True)
class CureRange:
    """What common practice says of a class: (least, most) hours for each clock, and how sure that is."""

    hours: dict[Clock, tuple[float, float]]
    mark: Mark


@dataclass(frozen=True, slots=True)
class Clocks:
    """The moments of one layer. `stretched`: by how much cold lengthened every wait, 1 for not at all."""

    drive_from: datetime
    dry_until: datetime
    wash_from: datetime
    topper_from: datetime | None
    cured_at: datetime
    stretched: float


_CLOCK_OF = {
    "drive": Clock.DRIVE,
    "dry": Clock.DRY,
    "wash": Clock.WASH,
    "topper": Clock.TOPPER,
    "full": Clock.CURED,
}


@cache
def _data() -> dict[str, Any]:
    return tomllib.loads(files("crm.care").joinpath("data/cure.toml").read_text("utf-8"))


def cure_range_of(product_class: ProductClass) -> CureRange:
    """Least and most hours of a class, for showing beside the default."""
    row = _data()[product_class.value]
    hours = {
        clock: (float(row[name][0]), float(row[name][1])) for name, clock in _CLOCK_OF.items() if name in row
    }
    return CureRange(hours, Mark(row["mark"]))


def cure_of(product_class: ProductClass) -> Cure:
    """The default hours of a class: the longer, cautious end of each range.

    One exception is written in the table: on a coating a topper waits for the full cure (21 days), not
    for the longest figure that is heard. An unknown old layer has no waits.
    """
    row = _data()[product_class.value]

    def used(name: str) -> float:
        return float(row.get(f"{name}_use", row[name][1]))

    return Cure(
        drive_h=used("drive"),
        dry_h=used("dry"),
        wash_h=used("wash"),
        topper_h=used("topper") if "topper" in row else None,
        full_h=used("full"),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnHours:
    """Hours that a studio wrote down for a product from its data sheet; None leaves those of the class."""

    dry_h: float | None = None
    wash_h: float | None = None
    topper_h: float | None = None
    full_h: float | None = None


def cure_in_force(product_class: ProductClass, own: OwnHours) -> Cure:
    """The hours that count for a product: its own where there are any, the default of its class elsewhere."""
    usual = cure_of(product_class)
    return Cure(
        drive_h=usual.drive_h,
        dry_h=usual.dry_h if own.dry_h is None else own.dry_h,
        wash_h=usual.wash_h if own.wash_h is None else own.wash_h,
        topper_h=usual.topper_h if own.topper_h is None else own.topper_h,
        full_h=usual.full_h if own.full_h is None else own.full_h,
    )


def stretch(coldest_c: float | None) -> float:
    """By how much the coldest hours in the bay lengthen every wait: 1 from 10 °C up, 2 at 0 °C, 4 at most."""
    cold = _data()["cold"]
    if coldest_c is None or coldest_c >= cold["from_c"]:
        return 1.0
    lengthened = 2.0 ** ((cold["from_c"] - coldest_c) / cold["doubles_every_c"])
    return float(min(lengthened, cold["most"]))


def coldest_known(*, air_c: float | None, bay_min_c: float | None) -> float | None:
    """The coldest that was measured while the layer set, in °C, or None where nothing was.

    The air it was laid in is part of that time, so without a reading of the night it counts by itself.
    """
    return min((reading for reading in (air_c, bay_min_c) if reading is not None), default=None)


def clocks(
    cure: Cure, *, applied_at: datetime, coldest_c: float | None, cold_lengthens: bool = True
) -> Clocks:
    """The moments at which each wait is over, in the zone of `applied_at`.

    `coldest_c` is the coldest of the bay while the layer sets, in °C, or None where it was not recorded.
    Raises NaiveMoment where `applied_at` has no zone.
    """
    factor = stretch(coldest_c) if cold_lengthens else 1.0

    def after(hours: float) -> datetime:
        return elapsed(applied_at, hours * factor)

    return Clocks(
        drive_from=after(cure.drive_h),
        dry_until=after(cure.dry_h),
        wash_from=after(cure.wash_h),
        topper_from=None if cure.topper_h is None else after(cure.topper_h),
        cured_at=after(cure.full_h),
        stretched=factor,
    )
