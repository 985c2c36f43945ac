"""Giving the car back: the sheet is read first, then frozen and put into the post."""

from __future__ import annotations

from http import HTTPStatus

import structlog
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from crm.models import Message, Sheet, Visit
from crm.papers.aftercare import aftercare_pdf
from crm.papers.calendar import aftercare_ics
from crm.selectors.sheet import SheetContent, SheetUnreadable, content_of
from crm.services import hand_over as handing_over
from crm.services.errors import Refused
from crm.services.rights import Right
from crm.web.access import StudioRequest, gate
from crm.web.studio.doing import sent
from crm.web.studio.entries import recorded_once, the_visit
from crm.web.studio.forms.visit_forms import HandOverForm

log = structlog.get_logger(__name__)


@gate(Right.HAND_OVER)
@require_http_methods(["GET", "HEAD", "POST"])
def hand_over(request: StudioRequest, pk: int) -> HttpResponse:
    """Look at the exact sheet and at what speaks against it; then hand over."""
    visit = the_visit(pk)
    if visit.state == Visit.State.HANDED_OVER:
        return redirect("sheet", pk=visit.pk)
    form = HandOverForm(sent(request))

    def record() -> str:
        data = form.cleaned_data
        handing_over.hand_over(
            visit=visit,
            by=request.user,
            at=data["at"] or request.now,
            now=request.now,
            reason=data["reason"],
        )
        return "The car is handed over."

    if form.is_bound and form.is_valid() and recorded_once(request, form, record):
        return redirect("sheet", pk=visit.pk)
    visit = the_visit(pk)
    preview = handing_over.preview(visit, now=request.now)
    known = {
        "visit": visit,
        "car": visit.car,
        "preview": preview,
        "content": preview.content,
        "form": form,
        "may_go": visit.state in (Visit.State.IN_BAY, Visit.State.READY),
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return render(request, "studio/hand_over.html", known, status=status)


@gate(Right.LOOK)
@require_safe
def sheet(request: StudioRequest, pk: int) -> HttpResponse:
    """The sheet as it was given, its paper and calendar file, and what waits in the post for it."""
    visit, given, content = _given(pk)
    known = {
        "visit": visit,
        "car": visit.car,
        "sheet": given,
        "content": content,
        "posted": Message.objects.filter(visit=visit).select_related("person").order_by("not_before"),
    }
    return render(request, "studio/hand_over_sheet.html", known)


@gate(Right.LOOK)
@require_safe
def sheet_pdf(request: StudioRequest, pk: int) -> HttpResponse:  # noqa: ARG001
    """The sheet as paper, made from what was frozen."""
    visit, given, content = _given(pk)
    response = HttpResponse(aftercare_pdf(given), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{_file_name(visit, content)}.pdf"'
    return response


@gate(Right.LOOK)
@require_safe
def sheet_ics(request: StudioRequest, pk: int) -> HttpResponse:  # noqa: ARG001
    """The ends of the waits and the wash plan as a calendar file."""
    visit, given, content = _given(pk)
    response = HttpResponse(aftercare_ics(given), content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{_file_name(visit, content)}.ics"'
    return response


def _given(pk: int) -> tuple[Visit, Sheet, SheetContent]:
    """The sheet of a stay and what it says. Raises Refused with the sentence where it cannot be read back."""
    visit = the_visit(pk)
    given = Sheet.objects.filter(visit=visit).first()
    if given is None:
        raise Http404
    try:
        return visit, given, content_of(given)
    except SheetUnreadable as unreadable:
        log.exception("sheet_unreadable", visit=visit.pk)
        raise Refused(unreadable.sentence) from unreadable


def _file_name(visit: Visit, content: SheetContent) -> str:
    """A name that says which car and which day of the studio's, in letters that every device can store."""
    day = content.handed_over_at.astimezone(content.zone)
    return f"aftercare-{visit.car.ref.lower()}-{day:%Y-%m-%d}"
