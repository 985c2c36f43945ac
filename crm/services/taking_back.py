"""Taking back what was written down wrongly: the row stays on record with the reason and counts no more."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from crm.models import Ending, Grade, Layer, Step, User, Visit
from crm.services.errors import Refused
from crm.services.forecasts import reforecast_car
from crm.services.replaying import apply_later
from crm.services.rights import Right, require
from crm.services.storing import store


@transaction.atomic
def take_back_step(*, step: Step, because: str, by: User | None, now: datetime) -> Step:
    """The process was not done there. What it had ended counts again, unless something later ended it too."""
    reason = _allowed(step.visit, step, because, by)
    _mark(step, reason, now)
    _undo(Ending.objects.filter(step=step), reason, now)
    _settle(step.visit, since=step.at, by=by, now=now)
    return step


@transaction.atomic
def take_back_grade(*, grade: Grade, because: str, by: User | None, now: datetime) -> Grade:
    """The grade was wrong."""
    reason = _allowed(grade.visit, grade, because, by)
    _mark(grade, reason, now)
    reforecast_car(grade.visit.car, now=now)
    return grade


@transaction.atomic
def take_back_layer(*, layer: Layer, because: str, by: User | None, now: datetime) -> Layer:
    """The layer was not laid like that. What it had taken over from counts again."""
    if layer.visit is None:
        raise Refused("This layer was not recorded on a visit. End it on the car file instead.")
    reason = _allowed(layer.visit, layer, because, by)
    _mark(layer, reason, now)
    _undo(Ending.objects.filter(next_layer=layer), reason, now)
    _undo(Ending.objects.filter(layer=layer), reason, now)
    _settle(layer.visit, since=layer.laid_at, by=by, now=now)
    return layer


def _allowed(visit: Visit, row: Step | Grade | Layer, because: str, by: User | None) -> str:
    """The reason, once it is clear that this person may take the row back."""
    require(by, Right.RECORD)
    if visit.state == Visit.State.HANDED_OVER:
        require(by, Right.OVERRIDE)
    if row.taken_back_at is not None:
        raise Refused("That was taken back already.")
    if not because.strip():
        raise Refused("Say why it is taken back.", field="because")
    return because.strip()


def _mark(row: Step | Grade | Layer | Ending, because: str, now: datetime) -> None:
    row.taken_back_at, row.taken_back_because = now, because
    store(row)


def _undo(endings: Iterable[Ending], because: str, now: datetime) -> None:
    for ending in endings:
        if ending.taken_back_at is None:
            _mark(ending, because, now)


def _settle(visit: Visit, *, since: datetime, by: User | None, now: datetime) -> None:
    apply_later(visit.car, since=since, by=by, now=now)
    reforecast_car(visit.car, now=now)
