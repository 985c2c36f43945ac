"""What was done to a car and seen on it, visit by visit, in one query however many kinds of fact there are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from django.db.models import Case, IntegerField, JSONField, QuerySet, Value, When
from django.db.models.functions import Cast, JSONObject

from crm.care.surfaces import Surfaces
from crm.models import Car, CorrectionNote, GaugeSpot, Grade, Step


class Done(NamedTuple):
    """A step ("step"), a water grade ("grade"), a gauge reading ("gauge") or a correction ("correction") of a visit.

    The readings of one spot are rows of their own that share the spot's `pk`.
    """

    what: str
    pk: int
    visit_id: int
    at: datetime
    surfaces: Surfaces
    code: str
    """The process of a step, the moment of a grade, the mode of a reading."""
    grade: int | None
    note: str
    late: bool
    more: Mapping[str, Any] | None = None
    """Columns that only one kind of fact has, by their names."""


def done_to(car: Car) -> list[Done]:
    """Every step, grade, reading and correction on the visits of a car that stands, in the order of time."""
    first, *others = (
        rows.filter(visit__car=car).order_by() for rows in (_steps(), _grades(), _readings(), _corrections())
    )
    rows: Sequence[tuple[object, ...]] = list(first.union(*others, all=True))
    return sorted((Done._make(row) for row in rows), key=lambda row: (row.at, row.what, row.pk))


def _steps() -> QuerySet[Step, tuple[object, ...]]:
    weight = Case(
        When(weight__isnull=False, then=JSONObject(weight="weight")),
        default=_nothing(),
        output_field=JSONField(),
    )
    return Step.objects.values_list(
        Value("step"), "pk", "visit_id", "at", "surfaces", "process", _no_number(), "note", "late", weight
    )


def _grades() -> QuerySet[Grade, tuple[object, ...]]:
    return Grade.objects.values_list(
        Value("grade"), "pk", "visit_id", "at", "surfaces", "moment", "grade", "note", "late", _nothing()
    )


def _readings() -> QuerySet[GaugeSpot, tuple[object, ...]]:
    more = JSONObject(
        position="readings__position",
        um="readings__um",
        label="label",
        place="place",
        film="film",
        gauge="gauge",
        finish="finish",
    )
    return GaugeSpot.objects.values_list(
        Value("gauge"), "pk", "visit_id", "at", "surfaces", "readings__mode", _no_number(), Value(""), "late", more
    )  # fmt: skip


def _corrections() -> QuerySet[CorrectionNote, tuple[object, ...]]:
    more = JSONObject(
        low="low", high="high", lights="lights", method="method", wiped="wiped", stages="stages"
    )
    return CorrectionNote.objects.values_list(
        Value("correction"), "pk", "visit_id", "at", "surfaces", Value(""), _no_number(), Value(""), "late", more
    )  # fmt: skip


def _no_number() -> Cast:
    return Cast(Value(None), IntegerField())


def _nothing() -> Cast:
    return Cast(Value(None), JSONField())
