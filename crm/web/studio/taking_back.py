"""Taking a process, a grade or a layer back: a reason first, then it no longer counts."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from crm.care.bodies import Body
from crm.care.words import describe
from crm.models import CorrectionNote, GaugeSpot, Grade, Layer, Step, Visit
from crm.services.rights import Right
from crm.services.taking_back import (
    take_back_correction,
    take_back_grade,
    take_back_layer,
    take_back_spot,
    take_back_step,
)
from crm.web.access import StudioRequest, found, gate
from crm.web.studio.doing import sent
from crm.web.studio.entries import Entry, back_to_sheet, recorded_once, show_entry, the_visit
from crm.web.studio.forms.visit_forms import BecauseForm

_Entry = Step | Grade | Layer | GaugeSpot | CorrectionNote
ANCHORS = {
    "step": "steps",
    "grade": "water",
    "layer": "layers",
    "gauge": "gauge",
    "correction": "correction",
}


@gate(Right.RECORD)
@require_http_methods(["GET", "HEAD", "POST"])
def bay_take_back(request: StudioRequest, pk: int, kind: str, row: int) -> HttpResponse:
    """Ask for the reason, then take one entry of this visit back."""
    visit = the_visit(pk)
    entry = _entry(visit, kind, row)
    if entry.taken_back_at is not None:
        return redirect("bay", pk=visit.pk)
    form = BecauseForm(sent(request))

    def record() -> str:
        known: dict[str, Any] = {
            "because": form.cleaned_data["because"],
            "by": request.user,
            "now": request.now,
        }
        if isinstance(entry, Step):
            take_back_step(step=entry, **known)
        elif isinstance(entry, Grade):
            take_back_grade(grade=entry, **known)
        elif isinstance(entry, GaugeSpot):
            take_back_spot(spot=entry, **known)
        elif isinstance(entry, CorrectionNote):
            take_back_correction(correction=entry, **known)
        else:
            take_back_layer(layer=entry, **known)
        return "Taken back. It stays on record with the reason."

    if form.is_bound and form.is_valid() and recorded_once(request, form, record):
        return back_to_sheet(request, visit, ANCHORS[kind])
    what = f"{entry.product if isinstance(entry, Layer) else entry}, {describe(entry.surfaces, Body(visit.car.body))}"
    asked = Entry("Take it back", "studio/_bay_take_back_form.html", kind, "Take it back")
    return show_entry(request, visit, asked, form, what=what)


def _entry(visit: Visit, kind: str, row: int) -> _Entry:
    """The entry that an address names, also one that was taken back already."""
    if kind == "step":
        return found(Step.everything.filter(visit=visit), pk=row)
    if kind == "grade":
        return found(Grade.everything.filter(visit=visit), pk=row)
    if kind == "layer":
        return found(Layer.everything.filter(visit=visit), pk=row)
    if kind == "gauge":
        return found(GaugeSpot.everything.filter(visit=visit), pk=row)
    if kind == "correction":
        return found(CorrectionNote.everything.filter(visit=visit), pk=row)
    raise Http404
