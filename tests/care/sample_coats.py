"""Layers and ways of keeping a car that the forecast tests share: the reference car, changed where it matters."""

from __future__ import annotations

from datetime import date

from crm.care.forecast import Coat, Habit
from crm.care.seasons import Seasons
from crm.care.surfaces import Zone
from crm.care.terms import Air, Parking, Prep, ProductClass, Wash

SEASONS = Seasons()
SEA, WAX, DWX, TOP, LCO, COP = (
    ProductClass.POLYMER_SEALANT,
    ProductClass.NATURAL_WAX,
    ProductClass.DURABLE_WAX,
    ProductClass.SILICA_TOPPER,
    ProductClass.LIGHT_COATING,
    ProductClass.COATING_PROFESSIONAL,
)


def coat(
    product_class: ProductClass, laid_on: date, zone: Zone = Zone.UPPER_SIDES, air: Air = Air.INSIDE
) -> Coat:
    return Coat(product_class, zone, laid_on, prep=Prep.POLISHED_WIPED, air=air)


def kept(
    km: int = 12_000,
    parking: Parking = Parking.OUTDOORS,
    wash: Wash | None = Wash.HAND_NEUTRAL,
    *,
    salted: bool = True,
    on_plan: bool = False,
) -> Habit:
    return Habit(date(2020, 1, 1), parking, km, salted, wash, wash, on_plan)


SEALED, COATED = date(2025, 10, 10), date(2025, 5, 3)
