"""Paint thickness and correction on the bay sheet: a spot, the next spot, and what a correction achieved."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from crm.care.bodies import Body
from crm.care.correction import expected_words, stages_of
from crm.care.paint_change import POLISHES
from crm.care.panels import panel_of, panels_in_order
from crm.care.surfaces import NOTHING, PAINT, Surface
from crm.care.terms import Process
from crm.models import Step, Visit
from crm.selectors.gauge_sheet import SpotToMeasure, gauge_sheet, panel_after, spot_to_measure
from crm.selectors.paint import PaintFacts, paint_facts
from crm.selectors.studio import tables_of
from crm.services.gauge import record_correction, record_spot
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
from crm.web.studio.forms.gauge_forms import CorrectionForm, SpotForm

SPOT = Entry("Paint gauge", "studio/_bay_gauge_form.html", "gauge")
CORRECTION = Entry("What the correction achieved", "studio/_bay_correction_form.html", "correction")


@gate(Right.RECORD)
@require_http_methods(["GET", "HEAD", "POST"])
def bay_gauge(request: StudioRequest, pk: int) -> HttpResponse:
    """Measure a spot of a panel; the answer says what the readings mean. Without a panel, choose one first."""
    visit = the_visit(pk)
    if request.method != "POST":
        return _ask(request, visit)
    form = SpotForm(request.POST, visit=visit)

    def record() -> str:
        row = record_spot(visit=visit, spot=form.spot(request.now), by=request.user, now=request.now)
        return _said(request, visit, panel_of(row.surface))

    if form.is_valid() and recorded_once(request, form, record):
        return (
            _go_on(request, visit, form) if "next" in request.POST else back_to_sheet(request, visit, "gauge")
        )
    return show_entry(request, visit, SPOT, form, **_beside(request, visit, form.panel))


@gate(Right.RECORD)
@require_http_methods(["GET", "HEAD", "POST"])
def bay_correction(request: StudioRequest, pk: int) -> HttpResponse:
    """Write down what a correction achieved, by eye."""
    visit = the_visit(pk)
    polishes = [step for step in visit.steps.all() if Process(step.process) in POLISHES]
    form = CorrectionForm(sent(request), visit=visit, initial=_polished(polishes))

    def record() -> str:
        correction = form.correction(request.now)
        record_correction(visit=visit, correction=correction, by=request.user, now=request.now)
        doubt = correction.estimate.doubt(tables_of(request.studio).thickness)
        words = correction.estimate.words
        return " ".join(part for part in (f"{words[:1].upper()}{words[1:]}.", doubt) if part)

    if form.is_bound and form.is_valid() and recorded_once(request, form, record):
        return back_to_sheet(request, visit, "correction")
    stages = stages_of(Process(step.process) for step in polishes)
    expected = expected_words(stages, tables_of(request.studio).thickness) if stages else ""
    return show_entry(request, visit, CORRECTION, form, expected=expected)


def _polished(polishes: list[Step]) -> dict[str, Any]:
    """What a correction is of, as far as it was written down: the panels, and the stages it took."""
    on = NOTHING
    for step in polishes:
        on |= step.surfaces & PAINT
    stages = stages_of(Process(step.process) for step in polishes)
    return {"surfaces": on, "stages": stages.value if stages else ""}


def _ask(request: StudioRequest, visit: Visit) -> HttpResponse:
    form, known = _to_measure(request, visit, request.GET)
    return show_entry(request, visit, SPOT, form, **known)


def _to_measure(
    request: StudioRequest, visit: Visit, asked: Mapping[str, str]
) -> tuple[SpotForm, dict[str, Any]]:
    """The form for the next spot of the panel that is asked for, and what stands beside it."""
    order = panels_in_order(Body(visit.car.body))
    panel = next((panel for panel in order if panel.key == asked.get("panel")), None)
    known = _beside(request, visit, panel)
    spot: SpotToMeasure | None = known["spot"]
    initial: dict[str, Any] = {}
    if spot is not None:
        initial = {
            "panel": spot.panel.key,
            "label": spot.label,
            "lower": spot.lower,
            "place": spot.place.value,
            "mode": spot.mode.value,
            "gauge": spot.gauge,
            "unit": "mil" if asked.get("unit") == "mil" else "um",
        }
    return SpotForm(visit=visit, initial=initial), known


def _beside(request: StudioRequest, visit: Visit, panel: Surface | None) -> dict[str, Any]:
    """What was read on the panel before, or the panels to choose among."""
    if panel is None:
        return {"spot": None, "gauge": gauge_sheet(visit, studio=request.studio, now=request.now)}
    return {"spot": spot_to_measure(visit, panel, facts=_facts(request, visit)), "gauge": None}


def _go_on(request: StudioRequest, visit: Visit, done: SpotForm) -> HttpResponse:
    """The form for the next spot: inside the sheet as it stands now, or as a page of its own."""
    panel = panel_after(visit, Surface[done.cleaned_data["panel"].upper()], facts=_facts(request, visit))
    asked = {"panel": panel.key, "unit": done.cleaned_data["unit"] or "um"}
    if not request.htmx:
        return redirect(f"{reverse('bay_gauge', args=[visit.pk])}?{urlencode(asked)}")
    form, known = _to_measure(request, visit, asked)
    following = {"form": form, "act": request.path, "entry": SPOT, **known}
    sheet = {**sheet_context(request, the_visit(visit.pk)), "swapped": True, "next_spot": following}
    return render(request, "studio/_bay_sheet.html", sheet)


def _said(request: StudioRequest, visit: Visit, panel: Surface) -> str:
    """What the panel's readings say, as soon as they are written down."""
    sheet = gauge_sheet(visit, studio=request.studio, now=request.now)
    found = next(item for item in sheet.measured if item.panel is panel)
    band = f"{found.letter}, {found.band}." if found.band else ""
    words = (f"{found.name[:1].upper()}{found.name[1:]}:", band, found.says.words, found.says.action)
    return " ".join(part for part in (*words, *found.says.remarks) if part)


def _facts(request: StudioRequest, visit: Visit) -> PaintFacts:
    return paint_facts(visit.car, zone=request.studio.zone, until=request.now)
