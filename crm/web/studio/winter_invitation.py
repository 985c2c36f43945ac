"""One invitation of a winter round: why it was asked, and what the owner says."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from http import HTTPStatus

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from crm.care.months import wall_clock
from crm.care.winter_figures import WORK_NAMES, Work
from crm.care.winter_words import nights_words
from crm.models import Visit, WinterInvitation
from crm.selectors.reach import LEFT
from crm.selectors.winter_asked import Asked, Stands, asked_of
from crm.selectors.winter_lines import asked_lines, chance_words
from crm.services import winter_asking
from crm.services.rights import Right
from crm.web.access import StudioRequest, found, gate
from crm.web.studio.doing import done, sent
from crm.web.studio.forms.winter_forms import AnswerForm
from crm.web.studio.winter import done_or_said

USUALLY_COMES = time(8, 40)
SAID = {
    WinterInvitation.Answer.YES: "Yes. The visit is booked.",
    WinterInvitation.Answer.LATER: "Later. It is asked once more, in some weeks, if there is room.",
    WinterInvitation.Answer.NO_THANKS: "No thanks. It is not asked again this season.",
}


@gate(Right.LOOK, to_change=Right.POST)
@require_http_methods(["GET", "HEAD", "POST"])
def winter_invitation(request: StudioRequest, pk: int) -> HttpResponse:
    """An invitation with its answer; a POST writes the answer down, or another one."""
    row = _invitation(pk)
    asked = asked_of([row], now=request.now)[0]
    form = AnswerForm(sent(request), initial=_initial(request, asked))

    def work() -> None:
        winter_asking.hear_winter_answer(
            invitation=row,
            answer=form.answer_given(),
            comes_at=form.comes(),
            note=form.cleaned_data["note"],
            by=request.user,
            now=request.now,
        )

    if form.is_bound and form.is_valid() and done(request, form, work):
        messages.success(request, SAID[form.answer_given()])
        return redirect("winter_invitation", pk=row.pk)
    if form.is_bound:
        # What was refused has left its marks on the row in hand.
        row = _invitation(pk)
        asked = asked_of([row], now=request.now)[0]
    known = {
        "row": row,
        "line": asked_lines([asked], today=request.today, zone=request.studio.zone)[0],
        "asked": asked,
        "season": row.round,
        "work": WORK_NAMES[Work(row.work)],
        "nights": nights_words(row.nights),
        "chance": chance_words(row.chance),
        "form": form,
        "may_change": request.may(Right.POST),
        "may_people": request.may(Right.PEOPLE),
        "settled": asked.stands is Stands.CAME,
        "mistake": _can_be_taken_back(asked),
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return render(request, "studio/winter_invitation.html", known, status=status)


@gate(Right.POST)
@require_POST
def winter_take_back(request: StudioRequest, pk: int) -> HttpResponse:
    """It was asked by mistake, and nothing has left yet."""
    row = _invitation(pk)
    went_well = done_or_said(
        request,
        lambda: winter_asking.take_back_invitation(invitation=row, by=request.user, now=request.now),
        "Taken back. The plan looks at the car again.",
    )
    if went_well:
        return redirect("winter_week", pk=row.round_id, monday=row.monday)
    return redirect("winter_invitation", pk=row.pk)


def _invitation(pk: int) -> WinterInvitation:
    rows = WinterInvitation.objects.select_related(
        "round__branch", "car", "person", "message", "visit", "asked_by", "answer_by"
    )
    return found(rows, pk=pk)


def _initial(request: StudioRequest, asked: Asked) -> dict[str, object]:
    """The answer as it stands; the day that is offered first is that of the booking, or the Monday it was asked for."""
    row = asked.invitation
    return {"answer": row.answer or None, "note": row.note, "comes_at": _comes(request, asked)}


def _comes(request: StudioRequest, asked: Asked) -> datetime:
    visit, monday = asked.visit, asked.invitation.monday
    if visit is not None and visit.state == Visit.State.BOOKED:
        return visit.planned_in
    day = monday if monday >= request.today else request.today + timedelta(days=1)
    return wall_clock(day, USUALLY_COMES, request.studio.zone)


def _can_be_taken_back(asked: Asked) -> bool:
    row = asked.invitation
    left = row.message is not None and row.message.state in LEFT
    return not row.answer and not left and asked.stands is not Stands.LAPSED
