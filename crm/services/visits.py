"""The stay of a car: booked, arrived, ready, cancelled. Handing over has a module of its own."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from django.db import transaction

from crm.care.distance import distance_words
from crm.care.surfaces import NOTHING, Surfaces
from crm.models import Branch, Car, LeftForNextTime, Units, User, Visit
from crm.selectors.studio import local_day, the_studio
from crm.services.errors import Refused
from crm.services.rights import Right, require
from crm.services.storing import store
from crm.services.winter_round import follow_in_book

NEXT: dict[str, tuple[str, ...]] = {
    Visit.State.BOOKED: (Visit.State.IN_BAY, Visit.State.CANCELLED),
    Visit.State.IN_BAY: (Visit.State.READY, Visit.State.HANDED_OVER, Visit.State.CANCELLED),
    Visit.State.READY: (Visit.State.IN_BAY, Visit.State.HANDED_OVER),
    Visit.State.HANDED_OVER: (),
    Visit.State.CANCELLED: (Visit.State.BOOKED,),
}
"""Which state may follow which."""
_NEVER_CHANGED = ("car", "branch", "came_from")
"""Columns that are written once, when the visit is made."""
IN_THE_BAY = (Visit.State.IN_BAY, Visit.State.READY)
"""States of a car that stands here. It can do so once at a time."""


@dataclass(frozen=True, kw_only=True)
class Arrival:
    """What is written down when the keys are handed in."""

    at: datetime
    odometer_km: int | None = None
    note: str = ""
    acknowledged: bool = False


@dataclass(frozen=True, kw_only=True)
class Agreed:
    """What was agreed before work began, and what was sold."""

    scope: str = ""
    left_out: str = ""
    promise: str = ""
    promise_months: int | None = None
    hours: Decimal | None = None
    bay_min_c: Decimal | None = None


@transaction.atomic
def book(
    *, car: Car, branch: Branch, purpose: str, at: datetime, out: datetime | None = None, by: User | None
) -> Visit:
    """Book a stay. Raises Refused where the car leaves before it comes."""
    require(by, Right.CARS)
    if out is not None and out < at:
        raise Refused("The car cannot leave before it comes.", field="planned_out")
    visit = Visit(car=car, branch=branch, purpose=purpose, planned_in=at, planned_out=out)
    store(visit)
    follow_in_book(branch.pk)
    return visit


@transaction.atomic
def arrive(*, visit: Visit, arrival: Arrival, by: User | None) -> Visit:
    """Take the car in: odometer, condition, and whether the owner agreed to it."""
    require(by, Right.CARS)
    hold(visit)
    if Visit.objects.filter(car=visit.car, state__in=IN_THE_BAY).exclude(pk=visit.pk).exists():
        raise Refused("This car is in the bay already. Go on with that visit, or hand it over first.")
    _take_down(visit, arrival)
    move(visit, Visit.State.IN_BAY)
    store(visit)
    return visit


@transaction.atomic
def write_down_old_visit(*, visit: Visit, arrival: Arrival, left: datetime, by: User | None) -> Visit:
    """A stay of long ago that is only now written down: no sheet is made and nobody is written to.

    It was over before anything was written, so the car may stand in the bay at this moment.
    """
    require(by, Right.CARS)
    hold(visit)
    if visit.state != Visit.State.BOOKED:
        raise Refused(f"A visit that is {visit.get_state_display()} is no old stay.")
    _take_down(visit, arrival)
    visit.state = Visit.State.HANDED_OVER
    visit.ready_at = visit.handed_over_at = left
    store(visit)
    return visit


def _take_down(visit: Visit, arrival: Arrival) -> None:
    """What is seen when the keys are handed in; the odometer never runs backwards."""
    lower = (
        Visit.objects.filter(car=visit.car, odometer_km__isnull=False, arrived_at__lt=arrival.at)
        .exclude(pk=visit.pk)
        .order_by("-arrived_at")
        .first()
    )
    if arrival.odometer_km is not None and lower and (lower.odometer_km or 0) > arrival.odometer_km:
        studio = the_studio()
        day = local_day(studio, lower.arrived_at or arrival.at)
        shown = distance_words(lower.odometer_km or 0, in_miles=studio.units == Units.MILES)
        raise Refused(
            f"The odometer showed {shown} on {day:%-d %B %Y}; it cannot show less now.", field="odometer"
        )
    visit.arrived_at = visit.arrived_at or arrival.at
    visit.odometer_km = arrival.odometer_km if arrival.odometer_km is not None else visit.odometer_km
    visit.arrival_note = arrival.note.strip()
    if arrival.acknowledged:
        visit.acknowledged_at = arrival.at


@transaction.atomic
def agree(*, visit: Visit, agreed: Agreed, by: User | None) -> Visit:
    """Write down scope, promise and hours. The promise of a visit that was handed over stands as it was given."""
    require(by, Right.CARS)
    hold(visit)
    if (agreed.promise.strip(), agreed.promise_months) != (visit.promise, visit.promise_months):
        require(by, Right.HAND_OVER)
    frozen = visit.state == Visit.State.HANDED_OVER
    if frozen and (agreed.promise.strip(), agreed.promise_months) != (visit.promise, visit.promise_months):
        raise Refused("The promise was given at hand-over and stands as it was given.", field="promise")
    visit.scope, visit.left_out = agreed.scope.strip(), agreed.left_out.strip()
    visit.promise, visit.promise_months = agreed.promise.strip(), agreed.promise_months
    more_or_less = agreed.hours != visit.hours
    visit.hours = agreed.hours
    visit.bay_min_c = agreed.bay_min_c
    store(visit)
    if more_or_less:
        follow_in_book(visit.branch_id)
    return visit


@transaction.atomic
def make_ready(*, visit: Visit, at: datetime, by: User | None) -> Visit:
    """The work is done; the car waits for its keeper."""
    require(by, Right.RECORD)
    hold(visit)
    move(visit, Visit.State.READY)
    visit.ready_at = at
    store(visit)
    return visit


@transaction.atomic
def back_to_the_bay(*, visit: Visit, by: User | None) -> Visit:
    """Something is left to do after all."""
    require(by, Right.RECORD)
    hold(visit)
    move(visit, Visit.State.IN_BAY)
    visit.ready_at = None
    store(visit)
    return visit


@transaction.atomic
def close_old_visit(*, visit: Visit, at: datetime, by: User | None) -> Visit:
    """Close a visit of long ago that was taken in by hand: no sheet is made and nobody is written to."""
    require(by, Right.CARS)
    hold(visit)
    move(visit, Visit.State.HANDED_OVER)
    visit.ready_at = visit.ready_at or at
    visit.handed_over_at = at
    store(visit)
    return visit


@transaction.atomic
def cancel(*, visit: Visit, by: User | None) -> Visit:
    """The car does not come, or goes again untouched."""
    require(by, Right.CARS)
    hold(visit)
    if visit.steps.exists() or visit.layers.exists():
        raise Refused("Work was recorded on this visit. Hand the car over instead of cancelling.")
    move(visit, Visit.State.CANCELLED)
    store(visit)
    follow_in_book(visit.branch_id)
    return visit


@transaction.atomic
def leave_for_next_time(
    *, visit: Visit, text: str, surfaces: Surfaces = NOTHING, at: datetime, by: User | None
) -> LeftForNextTime:
    """Something to be read when the car comes back."""
    require(by, Right.CARS)
    if not text.strip():
        raise Refused("Say what is left for next time.", field="text")
    row = LeftForNextTime(car=visit.car, visit=visit, text=text.strip(), surfaces=surfaces, at=at, by=by)
    store(row)
    return row


@transaction.atomic
def done_at_last(*, left: LeftForNextTime, at: datetime, by: User | None) -> LeftForNextTime:
    """What was left has been dealt with."""
    require(by, Right.RECORD)
    left.done_at = at
    store(left)
    return left


def hold(visit: Visit) -> None:
    """Read the row again as it stands now, held against changes at the same moment until the transaction ends.

    Without it, a form that was sent a moment after a hand-over would write the visit back as it was before.
    """
    columns = [field.name for field in Visit._meta.concrete_fields if field.name not in _NEVER_CHANGED]  # noqa: SLF001
    visit.refresh_from_db(fields=columns, from_queryset=Visit.objects.select_for_update())


def move(visit: Visit, to: Visit.State) -> None:
    """Change the state, or say why it cannot be changed."""
    if visit.state != to and to not in NEXT[visit.state]:
        raise Refused(f"A visit that is {visit.get_state_display()} cannot become {to.label}.")
    visit.state = to


def is_late(at: datetime, now: datetime) -> bool:
    """Whether a fact is written down so long after it was true that the record must say so."""
    return now - at > timedelta(hours=12)
