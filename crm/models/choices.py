"""The closed lists of the engine as choices of a column.

Callables, so that a migration records the list by name and a better word for a member is not a migration.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from crm.care import paint_terms, words
from crm.care.bodies import BODY_NAMES
from crm.care.winter_figures import WORK_NAMES

Choices = list[tuple[str, str]]


def _choices(names: Mapping[StrEnum, str]) -> Choices:
    return [(member.value, name) for member, name in names.items()]


def bodies() -> Choices:
    """Shapes of car."""
    return _choices(BODY_NAMES)  # type: ignore[arg-type]


def paints() -> Choices:
    """Paint systems."""
    return _choices(words.PAINT_NAMES)  # type: ignore[arg-type]


def parkings() -> Choices:
    """Where a car spends its nights."""
    return _choices(words.PARKING_NAMES)  # type: ignore[arg-type]


def washes() -> Choices:
    """The main way a car is washed."""
    return _choices(words.WASH_NAMES)  # type: ignore[arg-type]


def wash_plans() -> Choices:
    """How often a car comes in for a wash."""
    return _choices(words.PLAN_NAMES)  # type: ignore[arg-type]


def preps() -> Choices:
    """How far a surface was prepared."""
    return _choices(words.PREP_NAMES)  # type: ignore[arg-type]


def processes() -> Choices:
    """Things done to surfaces."""
    return _choices(words.PROCESS_NAMES)  # type: ignore[arg-type]


def moments() -> Choices:
    """When a surface was graded."""
    return _choices(words.MOMENT_NAMES)  # type: ignore[arg-type]


def end_reasons() -> Choices:
    """Why a layer ended."""
    return _choices(words.END_WORDS)  # type: ignore[arg-type]


def product_classes() -> Choices:
    """Classes of product."""
    return _choices(words.CLASS_NAMES)  # type: ignore[arg-type]


def cut_weights() -> Choices:
    """How hard a compound was worked."""
    return _choices(paint_terms.WEIGHT_NAMES)  # type: ignore[arg-type]


def paint_pasts() -> Choices:
    """What is known of a car's paint before the studio first polished it."""
    return _choices(paint_terms.PAST_NAMES)  # type: ignore[arg-type]


def gauge_modes() -> Choices:
    """What a reading was taken with."""
    return _choices(paint_terms.MODE_NAMES)  # type: ignore[arg-type]


def spot_places() -> Choices:
    """Where on a panel a spot lies."""
    return _choices(paint_terms.PLACE_NAMES)  # type: ignore[arg-type]


def finishes() -> Choices:
    """What somebody who looked found the paint of a panel to be."""
    return _choices(paint_terms.FINISH_NAMES)  # type: ignore[arg-type]


def stages() -> Choices:
    """How many stages of machine work a correction took."""
    return _choices(paint_terms.STAGE_NAMES)  # type: ignore[arg-type]


def winter_works() -> Choices:
    """What a car comes for in autumn."""
    return _choices(WORK_NAMES)  # type: ignore[arg-type]
