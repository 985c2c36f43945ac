"""The bay sheet: one page a visit, and the entries for processes and water grades."""

from __future__ import annotations

from http import HTTPStatus

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from crm.care.bodies import Body
from crm.care.names import GRADE_WORDS
from crm.care.terms import WaterGrade
from crm.models import Visit
from crm.selectors.visit_page import ended_words, last_surfaces
from crm.services.bench import record_grade, record_step
from crm.services.rights import Right
from crm.web.access import StudioRequest, gate
from crm.web.studio.doing import sent
from crm.web.studio.entries import (
    Entry,
    back_to_sheet,
    recorded_once,
    sheet_context,
    show_entry,
    the_visit,
)
from crm.web.studio.forms.bay_forms import GradeForm, StepForm

STEP = Entry("What was done", "studio/_bay_step_form.html", "step")
NOT_ON_SHEET = (Visit.State.BOOKED, Visit.State.CANCELLED)


@gate(Right.LOOK)
@require_safe
def bay(request: StudioRequest, pk: int) -> HttpResponse:
    """The whole record of one stay."""
    visit = the_visit(pk)
    if visit.state in NOT_ON_SHEET:
        return redirect("visit", pk=visit.pk)
    return render(request, "studio/bay.html", sheet_context(request, visit))


@gate(Right.RECORD)
@require_http_methods(["GET", "HEAD", "POST"])
def bay_step(request: StudioRequest, pk: int) -> HttpResponse:
    """Write down what was done to which surfaces; the answer says what it ended."""
    visit = the_visit(pk)
    last = last_surfaces(visit.steps.all(), visit.layers.all())
    form = StepForm(sent(request), visit=visit, last=last)

    def record() -> str:
        at, body = form.moment(request.now), Body(visit.car.body)
        said = []
        for process in form.done():
            step = record_step(
                visit=visit,
                process=process,
                surfaces=form.cleaned_data["surfaces"],
                at=at,
                note=form.cleaned_data["note"],
                polishing=form.polishing(process),
                by=request.user,
                now=request.now,
            )
            said.append(_first_upper(f"{step} written down."))
            said += [ended_words(ending, body) for ending in step.endings.select_related("layer__product")]
        return " ".join(said)

    if form.is_bound and form.is_valid() and recorded_once(request, form, record):
        return back_to_sheet(request, visit, "steps")
    return show_entry(request, visit, STEP, form)


@gate(Right.RECORD)
@require_http_methods(["GET", "HEAD", "POST"])
def bay_grade(request: StudioRequest, pk: int) -> HttpResponse:
    """Write down how water behaves on the chosen spots."""
    visit = the_visit(pk)
    if request.method != "POST":
        return redirect(f"{reverse('bay', args=[visit.pk])}#water")
    form = GradeForm(request.POST, visit=visit)

    def record() -> str:
        grade: int = form.cleaned_data["grade"]
        for _, surfaces in form.surfaces():
            record_grade(
                visit=visit,
                surfaces=surfaces,
                grade=grade,
                moment=form.cleaned_data["moment_of"],
                at=form.moment(request.now),
                by=request.user,
                now=request.now,
            )
        where = ", ".join(words for words, _ in form.surfaces())
        return f"{_first_upper(where)}: {grade}, {GRADE_WORDS[WaterGrade(grade)]}."

    if form.is_valid() and recorded_once(request, form, record):
        return back_to_sheet(request, visit, "water")
    status = HTTPStatus.UNPROCESSABLE_ENTITY
    known = sheet_context(request, visit, grade_form=form)
    template = "studio/_bay_sheet.html" if request.htmx else "studio/bay.html"
    return render(request, template, {**known, "swapped": bool(request.htmx)}, status=status)


def _first_upper(words: str) -> str:
    return words[:1].upper() + words[1:]
