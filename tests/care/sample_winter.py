"""Cars, weeks and a round that the tests of the winter plan share."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from crm.care.coats import Case, Coat, Habit
from crm.care.course import Setting
from crm.care.surfaces import Zone
from crm.care.tables import DEFAULTS
from crm.care.terms import Air, Prep, ProductClass
from crm.care.winter_car import Candidate
from crm.care.winter_curves import Span, worn_curve
from crm.care.winter_figures import WINTER, WinterFigures
from crm.care.winter_round import Round, Week
from crm.care.winter_worth import Cover, Lying
from tests.care.sample_coats import SEASONS, kept

SETTING = Setting(SEASONS, DEFAULTS)
SPAN = Span.of(date(2026, 11, 1), date(2027, 3, 31))
"""151 days."""
ON = date(2026, 8, 24)
FIRST = date(2026, 9, 7)
HABIT = kept()
PAINT = (Zone.TOPS, Zone.FRONT, Zone.UPPER_SIDES, Zone.LOWER_SIDES)


def lying(
    product_class: ProductClass, laid_on: date, zone: Zone = Zone.LOWER_SIDES, habit: Habit = HABIT
) -> Lying:
    coat = Coat(product_class, zone, laid_on, prep=Prep.CLAYED, air=Air.INSIDE)
    return Lying(product_class, laid_on, worn_curve(Case(coat, (habit,)), SPAN, SETTING))


def covered(
    product_class: ProductClass | None, laid_on: date = date(2026, 4, 14), zones: Sequence[Zone] = PAINT
) -> tuple[Cover, ...]:
    """The zones under one product, or bare."""
    if product_class is None:
        return tuple(Cover(zone) for zone in zones)
    return tuple(Cover(zone, (lying(product_class, laid_on, zone),)) for zone in zones)


def car(
    key: int = 1,
    product_class: ProductClass | None = ProductClass.POLYMER_SEALANT,
    laid_on: date = date(2026, 4, 14),
    **facts: Any,
) -> Candidate:
    given: dict[str, Any] = {
        "cover": covered(product_class, laid_on),
        "habit": HABIT,
        "last_seen": date(2026, 4, 14),
        **facts,
    }
    return Candidate(key=key, **given)


def weeks(*hours: float, nights: float = 20.0) -> tuple[Week, ...]:
    return tuple(Week(FIRST + timedelta(weeks=place), each, nights) for place, each in enumerate(hours))


def a_round(*these: Week, on: date = ON, figures: WinterFigures = WINTER) -> Round:
    return Round(on=on, weeks=these, span=SPAN, setting=SETTING, figures=figures)
