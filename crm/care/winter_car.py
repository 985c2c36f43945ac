"""A car as the winter round sees it, and what would be done to it: facts without a name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import NamedTuple

from crm.care.coats import Habit
from crm.care.factors import Family
from crm.care.surfaces import Zone
from crm.care.tables import Tables
from crm.care.terms import WaterGrade
from crm.care.winter_figures import WINTER, Package, WinterFigures, Work
from crm.care.winter_worth import Cover

_COATED = frozenset({Family.LIGHT_COATING, Family.COATING})
_PAINT = frozenset({Zone.TOPS, Zone.FRONT, Zone.UPPER_SIDES, Zone.LOWER_SIDES})


class Whereabouts(StrEnum):
    """Where a car stands in life."""

    ACTIVE = "active"
    STORED = "stored"
    SOLD = "sold"
    SCRAPPED = "scrapped"
    STOLEN = "stolen"


@dataclass(frozen=True, slots=True, kw_only=True)
class Owner:
    """What decides whether the person who would be asked is asked.

    `reachable`: there is an address, and leave to write to it; `because` says in words why there is not, where that
    is known. `unpaid` and `too_far` only where it is known.
    """

    reachable: bool = True
    because: str = ""
    opted_out: bool = False
    died: bool = False
    paused_since: date | None = None
    complaint_since: date | None = None
    unpaid: bool = False
    too_far: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Candidate:
    """A car that may be asked. `key` is any number that names it; plans stand in the order of their keys.

    `cover`: every critical zone that the car has, with what lies on it. `owner`: None where nobody is written
    down. `habit`: how it is kept now; None where nobody asked. `coat_grade`: the last decontaminated grade on its
    coated paint. `swap_due`: its wheels are to be swapped this autumn. `promise_due`: the day by which it was
    promised an inspection, where that falls into this season. `booked_on`: its next visit. `set_aside`: why
    somebody of the studio leaves it out this season.
    """

    key: int
    cover: Sequence[Cover]
    owner: Owner | None = field(default_factory=Owner)
    whereabouts: Whereabouts = Whereabouts.ACTIVE
    habit: Habit | None = None
    last_seen: date | None = None
    booked_on: date | None = None
    coat_grade: WaterGrade | None = None
    swap_due: bool = False
    promise_due: date | None = None
    set_aside: str = ""


class Proposal(NamedTuple):
    """What a car would come for, and why that."""

    package: Package
    because: str


def proposal_for(car: Candidate, tables: Tables, figures: WinterFigures = WINTER) -> Proposal:
    """The package that suits the state of a car. What has no place in the rush is never proposed.

    Wheels off where the wheels are swapped anyway and the car is driven far or its wheels are bare; a top-up on a
    coating that still sheds (grade 2 or better after decontamination, or not graded yet); a winter coat for
    everything else. Common practice, no source.
    """
    fitting = [
        (work, because) for work, because in _fitting(car, tables, figures) if figures.packages[work].rush
    ]
    work, because = fitting[0] if fitting else (Work.WINTER_COAT, "the usual for the season")
    return Proposal(figures.packages[work], because)


def _fitting(car: Candidate, tables: Tables, figures: WinterFigures) -> list[tuple[Work, str]]:
    found = []
    km = car.habit.km_a_year if car.habit else None
    far = km is not None and km >= figures.far_km
    if car.swap_due and (far or _bare_wheels(car)):
        why = "it is driven far" if far else "nothing protects its wheels"
        found.append((Work.WHEELS_OFF, f"its wheels are swapped anyway and {why}"))
    if _is_coated(car, tables) and (car.coat_grade is None or car.coat_grade >= WaterGrade.LAZY):
        graded = "has not been graded yet" if car.coat_grade is None else "still works"
        found.append((Work.TOP_UP, f"its coating {graded}"))
    found.append((Work.WINTER_COAT, _why_coat(car, tables)))
    return found


def _why_coat(car: Candidate, tables: Tables) -> str:
    if _is_coated(car, tables):
        return "its coating has given way"
    layered = any(one.layers for one in car.cover if one.zone in _PAINT)
    return "its paint is waxed or sealed" if layered else "its paint is bare"


def _is_coated(car: Candidate, tables: Tables) -> bool:
    return any(
        tables.lives[layer.product_class].family in _COATED
        for one in car.cover
        if one.zone in _PAINT
        for layer in one.layers
    )


def _bare_wheels(car: Candidate) -> bool:
    wheels = [one for one in car.cover if one.zone is Zone.WHEELS]
    return bool(wheels) and not any(one.layers for one in wheels)
