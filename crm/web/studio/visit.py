"""The stay of a car: booking it in, taking it in, what was agreed, and where it stands."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import localdate
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from crm.models import Car, LeftForNextTime, Visit
from crm.selectors.held import keeper_of, plate_of
from crm.services import visits
from crm.services.errors import Refused
from crm.services.rights import Right
from crm.web.access import StudioRequest, found, gate
from crm.web.studio.doing import sent
from crm.web.studio.entries import Entry, back_to_sheet, recorded_once, show_entry, the_visit
from crm.web.studio.forms.visit_forms import AgreedForm, ArrivalForm, LeftForm, NewVisitForm

AGREED = Entry("What was agreed", "studio/_visit_agreed_form.html", "agreed")
LEFT = Entry("Left for next time", "studio/_visit_left_form.html", "left")
ON_SHEET = (Visit.State.IN_BAY, Visit.State.READY, Visit.State.HANDED_OVER)
NOT_OVER = (Visit.State.BOOKED, Visit.State.IN_BAY, Visit.State.READY)


@gate(Right.LOOK)
@require_safe
def visit(request: StudioRequest, pk: int) -> HttpResponse:
    """A booking, with the way to take the car in; a stay under way or over is its bay sheet."""
    row = the_visit(pk)
    if row.state in ON_SHEET:
        return redirect("bay", pk=row.pk)
    return _booking(request, row, ArrivalForm(studio=request.studio))


@gate(Right.CARS)
@require_http_methods(["GET", "HEAD", "POST"])
def visit_new(request: StudioRequest, ref: str) -> HttpResponse:
    """Book a car in, or take in one that stands in the yard already."""
    car = found(Car.objects.all(), ref=ref)
    form = NewVisitForm(sent(request), studio=request.studio, by=request.user)
    made: list[Visit] = []

    def record() -> str:
        here = request.POST.get("do") != "book"
        data = form.cleaned_data
        arrived = data["at"] or request.now
        if not here and localdate(data["planned_in"]) < request.today:
            raise Refused("That day is over. Write the day on which it will come.", field="planned_in")
        row = visits.book(
            car=car,
            branch=form.branch(),
            purpose=data["purpose"],
            at=arrived if here else data["planned_in"],
            out=data["planned_out"],
            by=request.user,
        )
        made.append(row)
        if not here:
            return "The car is booked in."
        visits.arrive(visit=row, arrival=_arrival(form, request), by=request.user)
        return "The car is in the bay."

    if form.is_bound and form.is_valid() and recorded_once(request, form, record):
        return redirect("visit", pk=made[0].pk) if made else redirect("car", ref=car.ref)
    return _ask_new(request, car, form)


def _ask_new(request: StudioRequest, car: Car, form: NewVisitForm) -> HttpResponse:
    plate = plate_of(car, request.today)
    known = {
        "car": car,
        "plate": plate.mark if plate else "",
        "form": form,
        "open_visits": Visit.objects.filter(car=car, state__in=NOT_OVER).order_by("planned_in"),
    }
    return render(request, "studio/visit_new.html", known, status=422 if form.errors else 200)


@gate(Right.CARS)
@require_POST
def visit_arrive(request: StudioRequest, pk: int) -> HttpResponse:
    """The keys are handed in."""
    row = the_visit(pk)
    form = ArrivalForm(request.POST, studio=request.studio)

    def record() -> str:
        visits.arrive(visit=row, arrival=_arrival(form, request), by=request.user)
        return "The car is in the bay."

    if form.is_valid() and recorded_once(request, form, record):
        return redirect("bay", pk=row.pk)
    return _booking(request, the_visit(pk), form)


def _arrival(form: ArrivalForm, request: StudioRequest) -> visits.Arrival:
    data = form.cleaned_data
    at = data["at"] or request.now
    if at > request.now:
        raise Refused("That time has not come yet.", field="at")
    return visits.Arrival(
        at=at, odometer_km=form.odometer_km(), note=data["arrival_note"], acknowledged=data["acknowledged"]
    )


def _booking(request: StudioRequest, row: Visit, form: ArrivalForm) -> HttpResponse:
    plate = plate_of(row.car, request.today)
    known = {
        "visit": row,
        "car": row.car,
        "plate": plate.mark if plate else "",
        "keeper": keeper_of(row.car, request.today),
        "form": form,
        "waiting": LeftForNextTime.objects.filter(car=row.car, done_at__isnull=True),
        "may_change": request.may(Right.CARS),
        "States": Visit.State,
    }
    return render(request, "studio/visit.html", known, status=422 if form.errors else 200)


@gate(Right.CARS)
@require_http_methods(["GET", "HEAD", "POST"])
def visit_agree(request: StudioRequest, pk: int) -> HttpResponse:
    """Scope, what was left out, the promise in its words and months, the hours."""
    row = the_visit(pk)
    may_promise = request.may(Right.HAND_OVER) and row.state != Visit.State.HANDED_OVER
    form = AgreedForm(sent(request), visit=row, may_promise=may_promise)

    def record() -> str:
        visits.hold(row)
        visits.agree(visit=row, agreed=form.agreed(row), by=request.user)
        return "What was agreed is written down."

    if form.is_bound and form.is_valid() and recorded_once(request, form, record):
        return back_to_sheet(request, row, "agreed")
    return show_entry(request, row, AGREED, form)


@gate(Right.CARS)
@require_http_methods(["GET", "HEAD", "POST"])
def left_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Something to be read when the car comes back."""
    row = the_visit(pk)
    form = LeftForm(sent(request), visit=row)

    def record() -> str:
        visits.leave_for_next_time(
            visit=row,
            text=form.cleaned_data["text"],
            surfaces=form.cleaned_data["surfaces"],
            at=request.now,
            by=request.user,
        )
        return "Left for next time."

    if form.is_bound and form.is_valid() and recorded_once(request, form, record):
        return back_to_sheet(request, row, "left")
    return show_entry(request, row, LEFT, form)


@gate(Right.RECORD)
@require_POST
def visit_left_done(request: StudioRequest, pk: int, left: int) -> HttpResponse:
    """What an earlier visit left has been dealt with on this one."""
    row = the_visit(pk)
    what = found(LeftForNextTime.objects.filter(car=row.car), pk=left)
    if what.done_at is None:
        visits.done_at_last(left=what, at=request.now, by=request.user)
    messages.success(request, f"Done: {what.text}")
    return back_to_sheet(request, row, "top")


@gate(Right.RECORD)
@require_POST
def visit_ready(request: StudioRequest, pk: int) -> HttpResponse:
    """The work is done; the car waits."""
    row = the_visit(pk)
    if row.state != Visit.State.READY:
        visits.make_ready(visit=row, at=request.now, by=request.user)
    messages.success(request, "The car is ready to go.")
    return redirect("bay", pk=row.pk)


@gate(Right.RECORD)
@require_POST
def visit_back(request: StudioRequest, pk: int) -> HttpResponse:
    """Something is left to do after all."""
    row = the_visit(pk)
    visits.back_to_the_bay(visit=row, by=request.user)
    messages.success(request, "The car is in the bay again.")
    return redirect("bay", pk=row.pk)


@gate(Right.CARS)
@require_POST
def visit_cancel(request: StudioRequest, pk: int) -> HttpResponse:
    """The car does not come, or goes again untouched."""
    row = the_visit(pk)
    try:
        visits.cancel(visit=row, by=request.user)
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect(reverse("visit", args=[row.pk]))
    messages.success(request, "The visit is cancelled.")
    return redirect("visit", pk=row.pk)
