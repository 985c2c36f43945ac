"""How an entry of the bay sheet is shown, recorded once, and answered: as a page, or swapped into the sheet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django_htmx.http import retarget

from crm.care.bodies import Body
from crm.care.distance import distance_words
from crm.care.terms import Moment, Process
from crm.models import Message, Units, Visit
from crm.selectors.gauge_sheet import gauge_sheet
from crm.selectors.visit_page import VisitPage, visit_page
from crm.services.rights import Right
from crm.web.access import StudioRequest, found
from crm.web.studio.doing import done
from crm.web.studio.forms.bay_forms import GradeForm
from crm.web.studio.forms.entry import OnceForm

DECONTAMINATION = (
    Process.IRON_REMOVER,
    Process.TAR_REMOVER,
    Process.MINERAL_REMOVER,
    Process.CLAY,
    Process.STRIP_WASH,
)


@dataclass(frozen=True)
class Entry:
    """One kind of entry: its heading, its form's partial template, and the place in the sheet where it opens."""

    title: str
    template: str
    slot: str
    button: str = "Write it down"


def the_visit(pk: int) -> Visit:
    """The visit that an address names."""
    return found(Visit.objects.select_related("car", "branch", "handed_over_by"), pk=pk)


def show_entry(
    request: StudioRequest, visit: Visit, entry: Entry, form: OnceForm, **context: Any
) -> HttpResponse:
    """The form, with what was typed and what is wrong with it; a page of its own, or a part of the sheet.

    It is sent to where it came from.
    """
    wrong = form.is_bound and not form.is_valid()
    status = HTTPStatus.UNPROCESSABLE_ENTITY if wrong else HTTPStatus.OK
    known = {
        "visit": visit,
        "car": visit.car,
        "body": Body(visit.car.body),
        "entry": entry,
        "form": form,
        "act": request.path,
        "alone": not request.htmx,
        **context,
    }
    if not request.htmx:
        return render(request, "studio/bay_entry.html", known, status=status)
    response = render(request, entry.template, known, status=status)
    response["HX-Reswap"] = "innerHTML show:top"
    return retarget(response, f"#entry-{entry.slot}")


def recorded_once(request: StudioRequest, form: OnceForm, record: Callable[[], str]) -> bool:
    """Record a form that is in order, once. False where a service refused: its sentence is on the form then."""
    said = "That was written down already."

    def work() -> None:
        nonlocal said
        said = record()

    if not done(request, form, work):
        return False
    messages.success(request, said)
    return True


def back_to_sheet(request: StudioRequest, visit: Visit, anchor: str) -> HttpResponse:
    """The sheet as it stands now: swapped in place, or as a page that opens where the entry was made."""
    if request.htmx:
        return render(
            request,
            "studio/_bay_sheet.html",
            {**sheet_context(request, the_visit(visit.pk)), "swapped": True},
        )
    return redirect(f"{reverse('bay', args=[visit.pk])}#{anchor}")


def sheet_context(
    request: StudioRequest, visit: Visit, *, grade_form: GradeForm | None = None
) -> dict[str, Any]:
    """What the bay sheet is drawn from."""
    page = visit_page(visit, today=request.today)
    in_miles = request.studio.units == Units.MILES
    km = visit.odometer_km
    return {
        "page": page,
        "gauge": gauge_sheet(visit, studio=request.studio, now=request.now),
        "visit": visit,
        "car": visit.car,
        "body": Body(visit.car.body),
        "grade_form": grade_form or GradeForm(visit=visit, initial={"moment_of": moment_now(page)}),
        "grade_act": reverse("bay_grade", args=[visit.pk]),
        "odometer": "" if km is None else distance_words(km, in_miles=in_miles),
        "may_record": request.may(Right.RECORD) and visit.state != Visit.State.CANCELLED,
        "may_take_back": request.may(Right.RECORD)
        and (visit.state != Visit.State.HANDED_OVER or request.may(Right.OVERRIDE)),
        "may_change": request.may(Right.CARS),
        "may_hand_over": request.may(Right.HAND_OVER),
        "posted": list(Message.objects.filter(visit=visit).order_by("not_before")) if page.sheet else [],
        "States": Visit.State,
    }


def moment_now(page: VisitPage) -> Moment:
    """Which grade is taken next: the one after decontamination, once that has begun."""
    begun = any(spot.after for spot in page.spots) or any(
        step.process in DECONTAMINATION for step in page.visit.steps.all()
    )
    return Moment.AFTER_DECON if begun else Moment.BEFORE_DECON
