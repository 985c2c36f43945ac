"""What changes about a car: its facts, its plate, how it is kept, what happened elsewhere."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from crm.care.bodies import Body
from crm.care.chassis import chassis_note
from crm.care.plates import mark_note
from crm.care.words import describe
from crm.models import Car, CarEvent, LeftForNextTime, Plate
from crm.selectors.held import Standing, standing, told_apart
from crm.services.ahead import call_off_plate
from crm.services.events import STATUS_AFTER, record_event, right_to_record
from crm.services.registry import give_plate, take_plate_off, write_down_keeping
from crm.services.rights import Right
from crm.services.taking_back import take_back_event
from crm.services.taking_on import change_car
from crm.services.visits import done_at_last
from crm.web.access import StudioRequest, found, gate, not_for
from crm.web.errors import refusal
from crm.web.studio.doing import done, sent
from crm.web.studio.forms.car_forms import FactsForm, KeptForm, PlateForm, PlateOffForm
from crm.web.studio.forms.entry import OnceForm
from crm.web.studio.forms.event_forms import ElsewhereForm
from crm.web.studio.forms.visit_forms import BecauseForm


def _page(request: StudioRequest, name: str, car: Car, form: OnceForm, **more: object) -> HttpResponse:
    status = 422 if form.is_bound else 200
    return render(request, f"studio/{name}.html", {"car": car, "form": form, **more}, status=status)


@gate(Right.LOOK, to_change=Right.CARS)
def facts(request: StudioRequest, ref: str) -> HttpResponse:
    """Identity, body, paint, circumstances, wash plan and what not to do."""
    car = found(Car.objects.all(), ref=ref)
    form = FactsForm(sent(request), car=car)
    if form.is_bound and form.is_valid():
        if done(request, form, lambda: change_car(car=car, facts=form.car(), by=request.user)):
            messages.success(request, "The facts are written down.")
            note = chassis_note(car.chassis) if car.chassis else None
            if note:
                messages.info(request, note)
            return redirect("car", car.ref)
        car.refresh_from_db()
    return _page(request, "car_facts", car, form)


@gate(Right.LOOK, to_change=Right.CARS)
def plate(request: StudioRequest, ref: str) -> HttpResponse:
    """A new plate on the car, or the plate off it; the old one stays findable. Either day may lie ahead."""
    car = found(Car.objects.all(), ref=ref)
    plates = told_apart(Plate.objects.filter(car=car), day=request.today)
    current, later = next(iter(plates[Standing.NOW]), None), plates[Standing.LATER]
    comes_off = request.POST.get("do") == "off" and current is not None
    form = PlateForm(None if comes_off else sent(request), initial={"since": request.today})
    off = PlateOffForm(
        request.POST if comes_off else None, initial={"until": request.today}, auto_id="off_%s"
    )
    if comes_off and current is not None and off.is_valid():
        until = off.cleaned_data["until"]
        if done(request, off, lambda: take_plate_off(plate=current, until=until, by=request.user)):
            messages.success(request, f"{current.mark} is off this car.")
            return redirect("car", car.ref)
    if form.is_bound and form.is_valid():
        data, given = form.cleaned_data, list[Plate]()
        if done(
            request,
            form,
            lambda: given.append(
                give_plate(car=car, mark=data["mark"], since=data["since"], by=request.user)
            ),
        ):
            messages.success(request, "The plate is changed.")
            note = mark_note(given[0].normal) if given else None
            if note:
                messages.info(request, note)
            return redirect("car", car.ref)
    return _page(
        request,
        "car_plate",
        car,
        off if comes_off else form,
        plate_form=form,
        off_form=off,
        plate=current,
        later=later,
    )


@gate(Right.CARS)
@require_POST
def plate_called_off(request: StudioRequest, ref: str, pk: int) -> HttpResponse:
    """A plate that was to go onto the car on a day to come does not."""
    row = found(Plate.objects.all(), pk=pk, car__ref=ref)
    if standing(row.since, row.until, day=request.today) is Standing.LATER:
        call_off_plate(plate=row, by=request.user)
        messages.success(request, f"{row.mark} does not go onto this car.")
    return redirect("car_plate", ref)


@gate(Right.LOOK, to_change=Right.CARS)
def kept(request: StudioRequest, ref: str) -> HttpResponse:
    """How the car is kept and used from a day on."""
    car = found(Car.objects.all(), ref=ref)
    now = car.keepings.order_by("-since").first()
    form = KeptForm(sent(request), studio=request.studio, now=now, today=request.today)
    if (
        form.is_bound
        and form.is_valid()
        and done(request, form, lambda: write_down_keeping(car=car, kept=form.kept(), by=request.user))
    ):
        messages.success(request, "Written down. The forecasts follow from it.")
        return redirect("car", car.ref)
    return _page(request, "car_kept", car, form)


@gate(Right.LOOK, to_change=Right.CARS)
def elsewhere(request: StudioRequest, ref: str) -> HttpResponse:
    """Something that happened to the car away from the bench."""
    car = found(Car.objects.all(), ref=ref)
    kinds = [kind for kind in CarEvent.Kind if request.may(right_to_record(kind))]
    form = ElsewhereForm(sent(request), car=car, kinds=kinds, initial={"on": request.today})
    if (
        form.is_bound
        and form.is_valid()
        and done(
            request,
            form,
            lambda: record_event(car=car, happened=form.happened(), by=request.user, now=request.now),
        )
    ):
        messages.success(request, "Written down. What it took off the car has ended there.")
        return redirect("car", car.ref)
    return _page(request, "car_elsewhere", car, form, sale=CarEvent.Kind.SOLD in kinds)


@gate(Right.CARS)
def event_take_back(request: StudioRequest, ref: str, pk: int) -> HttpResponse:
    """What was written down as having happened elsewhere did not happen."""
    event = found(CarEvent.everything.select_related("car"), pk=pk, car__ref=ref)
    if not request.may(right_to_record(event.kind)):
        return refusal(request, not_for(request.user), status=403)
    if event.taken_back_at is not None:
        return redirect("car", ref)
    form = BecauseForm(sent(request))

    def work() -> None:
        because = form.cleaned_data["because"]
        take_back_event(event=event, because=because, by=request.user, now=request.now)

    if form.is_bound and form.is_valid() and done(request, form, work):
        messages.success(request, "Taken back. It stays on record with the reason.")
        return redirect("car", ref)
    car = event.car
    where = describe(event.surfaces, Body(car.body)) if event.surfaces else ""
    gone = event.kind in STATUS_AFTER
    return _page(request, "event_take_back", car, form, event=event, where=where, gone=gone)


@gate(Right.RECORD)
@require_POST
def left_done(request: StudioRequest, ref: str, pk: int) -> HttpResponse:
    """What was left for next time has been dealt with."""
    left = found(LeftForNextTime.objects.select_related("car"), pk=pk, car__ref=ref)
    if left.done_at is None:
        done_at_last(left=left, at=request.now, by=request.user)
        messages.success(request, "Done at last, and off the list.")
    return redirect("car", ref)
