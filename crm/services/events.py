"""Things that happened to a car away from the bench, and what follows from them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time

from django.db import transaction

from crm.care.surfaces import NOTHING, Surfaces
from crm.care.terms import Process
from crm.models import Car, CarEvent, User
from crm.post.called_off import call_off
from crm.selectors.studio import the_studio
from crm.services.bench import end_by_event
from crm.services.errors import Refused
from crm.services.forecasts import reforecast_car
from crm.services.registry import end_roles
from crm.services.rights import Right, require
from crm.services.storing import store

NEEDS_SURFACES = (
    CarEvent.Kind.RESPRAY,
    CarEvent.Kind.PANEL_REPLACED,
    CarEvent.Kind.GLASS_REPLACED,
    CarEvent.Kind.WHEEL_REFURBISH,
    CarEvent.Kind.RETRIM,
    CarEvent.Kind.LAMP_REPLACED,
    CarEvent.Kind.FILM_REMOVED,
    CarEvent.Kind.POLISHED_ELSEWHERE,
)
STATUS_AFTER = {
    CarEvent.Kind.SOLD: Car.Status.SOLD,
    CarEvent.Kind.SCRAPPED: Car.Status.SCRAPPED,
    CarEvent.Kind.STOLEN: Car.Status.STOLEN,
}


def right_to_record(kind: str) -> Right:
    """What one must be allowed to write such an event down or take it back: a sale ends people's parts."""
    return Right.PEOPLE if kind in STATUS_AFTER else Right.CARS


@dataclass(frozen=True, kw_only=True)
class Happened:
    """What happened, when, to which surfaces, and how the studio knows."""

    kind: CarEvent.Kind
    on: date
    surfaces: Surfaces = NOTHING
    certainty: CarEvent.Certainty = CarEvent.Certainty.TOLD
    baked: bool | None = None
    note: str = ""


@transaction.atomic
def record_event(*, car: Car, happened: Happened, by: User | None, now: datetime) -> CarEvent:
    """Write down an event. What it physically removed ends.

    A car that was sold, scrapped or stolen leaves every list; what waits for the people it left is called off.

    Raises Refused where the day has not come or the surfaces are missing.
    """
    require(by, right_to_record(happened.kind))
    studio = the_studio()
    if happened.on > now.astimezone(studio.zone).date():
        raise Refused("That day has not come yet.", field="on")
    surfaces = happened.surfaces & car.surfaces
    if happened.kind in NEEDS_SURFACES and not surfaces:
        raise Refused("Choose the surfaces that it happened to.", field="surfaces")
    event = CarEvent(
        car=car,
        kind=happened.kind,
        on=happened.on,
        surfaces=surfaces,
        certainty=happened.certainty,
        baked=happened.baked,
        note=happened.note.strip(),
        written_at=now,
        by=by,
    )
    store(event)
    if happened.kind in NEEDS_SURFACES or happened.kind == CarEvent.Kind.TYRES_REPLACED:
        noon = datetime.combine(happened.on, time(12), studio.zone)
        end_by_event(event=event, process=Process(happened.kind.value), by=by, now=now, at=min(noon, now))
    status = STATUS_AFTER.get(happened.kind)
    if status:
        if not end_roles(event=event, by=by):
            car.status = status
            store(car)
        call_off(car=car, now=now)
    reforecast_car(car, now=now)
    return event
