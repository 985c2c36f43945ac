"""Taking back what was written down wrongly: the row stays on record with the reason and counts no more."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime, time

from django.db import transaction
from django.db.models import Q, QuerySet

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
from crm.selectors.held import held_from, held_on
from crm.selectors.studio import local_day, the_studio
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
        _bring_back(event, local_day(the_studio(), now))
        plan_afresh(event.car)
    noon = datetime.combine(event.on, time(12), the_studio().zone)
    apply_later(event.car, since=min(noon, event.written_at), by=by, now=now)
    reforecast_car(event.car, now=now)
    return event


def _bring_back(event: CarEvent, today: date) -> None:
    """Give a car that had gone its people and its place again, as far as nothing else has ended or taken it since."""
    car = event.car
    gone_otherwise = list(CarEvent.objects.filter(car=car, kind__in=STATUS_AFTER).order_by("on", "pk"))
    kept = Role.objects.filter(held_from(today), car=car, part=Role.Part.KEEPER)
    before = {role: _end_before(role) for role in event.ended_roles.all()}
    if not _taken_since(kept, before, today):
        for role, (until, by) in before.items():
            others = Role.objects.filter(car=car, person=role.person, part=role.part, until__isnull=True)
            if until is None and others.exists():
                continue
            role.until, role.ended_by = _first_end(role, until, by, gone_otherwise)
            store(role)
    if car.status != STATUS_AFTER[CarEvent.Kind(event.kind)]:
        return
    if gone_otherwise and not kept.exists():
        car.status = STATUS_AFTER[CarEvent.Kind(gone_otherwise[-1].kind)]
    else:
        newest = car.keepings.order_by("-since").first()
        car.status = Car.Status.STORED if newest and newest.stored else Car.Status.ACTIVE
    store(car)


_End = tuple[date | None, CarEvent | None]
"""The day on which a role ends, and the event that ended it."""


def _end_before(role: Role) -> _End:
    """How a role ended, or was to end, before the event that ended it: the newest that no event taken back wrote."""
    standing = CarEvent.objects.filter(car=role.car_id).in_bulk()
    for row in role.history.order_by("-history_id"):
        if row.ended_by_id is None or row.ended_by_id in standing:
            return row.until, standing.get(row.ended_by_id)
    return None, None


def _taken_since(kept: QuerySet[Role], before: Mapping[Role, _End], today: date) -> bool:
    """Whether somebody else keeps the car in what would be the time of its former keeper."""
    others = kept.exclude(pk__in=[role.pk for role in before])
    ends = [until for role, (until, _) in before.items() if role.part == Role.Part.KEEPER]
    if not ends:
        return others.filter(held_on(today)).exists()
    limit = None if None in ends else max(until for until in ends if until is not None)
    begun = Q(since__isnull=True) | Q(since__lt=limit) if limit else Q()
    return others.filter(begun).exists()


def _first_end(role: Role, until: date | None, by: CarEvent | None, gone: Iterable[CarEvent]) -> _End:
    """The end that a role had, or the first departure of the car that comes before it."""
    for event in gone:
        if (role.since is None or event.on > role.since) and (until is None or event.on < until):
            return event.on, event
    return until, by


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
