"""Taking back what was written down wrongly: the row stays on record with the reason and counts no more."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, time

from django.db import transaction

from crm.models import (
    Car,
    CarEvent,
    CorrectionNote,
    Ending,
    GaugeSpot,
    Grade,
    Layer,
    Role,
    Step,
    User,
    Visit,
)
from crm.post.called_off import plan_afresh
from crm.selectors.studio import the_studio
from crm.services.errors import Refused
from crm.services.events import STATUS_AFTER, right_to_record
from crm.services.forecasts import reforecast_car
from crm.services.replaying import apply_later
from crm.services.rights import Right, require
from crm.services.storing import store

_Entry = Step | Grade | Layer | GaugeSpot | CorrectionNote


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
def take_back_spot(*, spot: GaugeSpot, because: str, by: User | None, now: datetime) -> GaugeSpot:
    """The spot was not measured like that: another panel, another number, a gauge that was not zeroed."""
    reason = _allowed(spot.visit, spot, because, by)
    _mark(spot, reason, now)
    return spot


@transaction.atomic
def take_back_correction(
    *, correction: CorrectionNote, because: str, by: User | None, now: datetime
) -> CorrectionNote:
    """The estimate was wrong, or of another car."""
    reason = _allowed(correction.visit, correction, because, by)
    _mark(correction, reason, now)
    return correction


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


@transaction.atomic
def take_back_event(*, event: CarEvent, because: str, by: User | None, now: datetime) -> CarEvent:
    """It did not happen. What it had ended counts again; a car that had gone is back with the people it had.

    Post that was called off stays called off; what it was about is planned afresh, where it is still true.
    """
    require(by, right_to_record(event.kind))
    reason = _reason(event, because)
    _mark(event, reason, now)
    _undo(Ending.objects.filter(event=event), reason, now)
    if event.kind in STATUS_AFTER:
        _bring_back(event)
        plan_afresh(event.car)
    noon = datetime.combine(event.on, time(12), the_studio().zone)
    apply_later(event.car, since=min(noon, event.written_at), by=by, now=now)
    reforecast_car(event.car, now=now)
    return event


def _bring_back(event: CarEvent) -> None:
    """Give a car that had gone its people and its place again, as far as nothing else has ended or taken it since."""
    car = event.car
    gone_otherwise = list(CarEvent.objects.filter(car=car, kind__in=STATUS_AFTER).order_by("on", "pk"))
    kept = Role.objects.filter(car=car, part=Role.Part.KEEPER, until__isnull=True)
    if not kept.exists():
        for role in event.ended_roles.all():
            if Role.objects.filter(car=car, person=role.person, part=role.part, until__isnull=True).exists():
                continue
            other = next((end for end in gone_otherwise if role.since is None or end.on > role.since), None)
            role.until, role.ended_by = (other.on, other) if other else (None, None)
            store(role)
    if car.status != STATUS_AFTER[CarEvent.Kind(event.kind)]:
        return
    if gone_otherwise and not kept.exists():
        car.status = STATUS_AFTER[CarEvent.Kind(gone_otherwise[-1].kind)]
    else:
        newest = car.keepings.order_by("-since").first()
        car.status = Car.Status.STORED if newest and newest.stored else Car.Status.ACTIVE
    store(car)


def _allowed(visit: Visit, row: _Entry, because: str, by: User | None) -> str:
    """The reason, once it is clear that this person may take the row back."""
    require(by, Right.RECORD)
    if visit.state == Visit.State.HANDED_OVER:
        require(by, Right.OVERRIDE)
    return _reason(row, because)


def _reason(row: _Entry | CarEvent, because: str) -> str:
    if row.taken_back_at is not None:
        raise Refused("That was taken back already.")
    if not because.strip():
        raise Refused("Say why it is taken back.", field="because")
    return because.strip()


def _mark(row: _Entry | Ending | CarEvent, because: str, now: datetime) -> None:
    row.taken_back_at, row.taken_back_because = now, because
    store(row)


def _undo(endings: Iterable[Ending], because: str, now: datetime) -> None:
    for ending in endings:
        if ending.taken_back_at is None:
            _mark(ending, because, now)


def _settle(visit: Visit, *, since: datetime, by: User | None, now: datetime) -> None:
    apply_later(visit.car, since=since, by=by, now=now)
    reforecast_car(visit.car, now=now)
