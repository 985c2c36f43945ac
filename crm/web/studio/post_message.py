"""One message: as its receiver reads it, why it stands as it does, and what a person may do with it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from http import HTTPStatus

import structlog
from csp.constants import NONE, SELF, UNSAFE_INLINE
from csp.decorators import csp
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.clickjacking import xframe_options_sameorigin
from django.views.decorators.http import require_POST, require_safe

from crm.models import Message
from crm.post import desk
from crm.post.recheck import reach_of
from crm.post.render import NOT_LEFT, NothingToSay, Rendered, as_it_reads
from crm.selectors.post_list import course_of, matters_of
from crm.selectors.sheet import SheetUnreadable
from crm.services.errors import Refused
from crm.services.rights import Right
from crm.web.access import StudioRequest, found, gate
from crm.web.studio.doing import done
from crm.web.studio.forms.entry import OnceForm
from crm.web.studio.post_forms import ActForm, CancelForm, SettleForm

log = structlog.get_logger(__name__)
State = Message.State

MAY_BE_SENT = (State.WAITING, State.HELD, State.FAILED)


@dataclass(frozen=True)
class Reading:
    """The words of a message, or the sentence that says why there are none."""

    words: Rendered | None
    against: str = ""


@gate(Right.POST)
@require_safe
def message(request: StudioRequest, pk: int) -> HttpResponse:
    """A message, its facts, and what can be done with it."""
    return _page(request, _message(pk), {})


@gate(Right.POST)
@require_safe
@xframe_options_sameorigin
@csp(  # type: ignore[arg-type]
    {
        "default-src": [NONE],
        "style-src": [UNSAFE_INLINE],
        "frame-ancestors": [SELF],
        "form-action": [NONE],
        "base-uri": [NONE],
        "sandbox": [],
    }
)
def message_as_read(request: StudioRequest, pk: int) -> HttpResponse:
    """The message's own HTML for the frame: no script, no form, nothing fetched from anywhere."""
    reading = _reading(request, _message(pk))
    if reading.words is None:
        raise Http404
    response = HttpResponse(reading.words.html)
    response["Cache-Control"] = "no-store"
    return response


@gate(Right.POST)
@require_POST
def message_hold(request: StudioRequest, pk: int) -> HttpResponse:
    """Keep it back until somebody releases it."""
    row = _message(pk)
    form = ActForm(request.POST)
    return _act(
        request, row, form, "It is held.", lambda: desk.hold(message=row, by=request.user, now=request.now)
    )


@gate(Right.POST)
@require_POST
def message_release(request: StudioRequest, pk: int) -> HttpResponse:
    """Let it go its way."""
    row = _message(pk)
    form = ActForm(request.POST)
    return _act(
        request,
        row,
        form,
        "It goes its way.",
        lambda: desk.release(message=row, by=request.user, now=request.now),
    )


@gate(Right.POST)
@require_POST
def message_send(request: StudioRequest, pk: int) -> HttpResponse:
    """Put it at the front."""
    row = _message(pk)
    form = ActForm(request.POST)
    said = "It leaves with the next turn of the post, a letter in sending hours only."
    return _act(
        request, row, form, said, lambda: desk.send_now(message=row, by=request.user, now=request.now)
    )


@gate(Right.POST)
@require_POST
def message_cancel(request: StudioRequest, pk: int) -> HttpResponse:
    """Never send it; the reason stays with it."""
    row = _message(pk)
    form = CancelForm(request.POST)

    def cancel() -> None:
        desk.cancel(message=row, because=form.cleaned_data["because"], by=request.user, now=request.now)

    return _act(request, row, form, "It is cancelled.", cancel)


@gate(Right.POST)
@require_POST
def message_resolve(request: StudioRequest, pk: int) -> HttpResponse:
    """Say what came of it."""
    row = _message(pk)
    form = SettleForm(request.POST)

    def settle() -> None:
        what = desk.Settled(form.cleaned_data["found"])
        desk.resolve_uncertain(message=row, found=what, by=request.user, now=request.now)

    return _act(request, row, form, "It is settled.", settle)


def _act(
    request: StudioRequest, row: Message, form: OnceForm, said: str, work: Callable[[], object]
) -> HttpResponse:
    def work_or_refuse() -> None:
        try:
            work()
        except desk.DeskRefused as error:
            raise Refused(str(error)) from error

    if form.is_valid() and done(request, form, work_or_refuse):
        messages.success(request, said)
        return redirect("message", pk=row.pk)
    return _page(request, _message(row.pk), {type(form).__name__: form})


def _message(pk: int) -> Message:
    rows = Message.objects.select_related("person", "visit__car", "sheet", "contact", "touched_by")
    return found(rows, pk=pk)


def _page(request: StudioRequest, row: Message, wrong: Mapping[str, OnceForm]) -> HttpResponse:
    studio, acts = request.studio, request.may(Right.POST)
    leaving = row.state in MAY_BE_SENT
    known = {
        "letter": row,
        "reading": _reading(request, row),
        "matters": matters_of(row, studio=studio, today=request.today),
        "course": course_of(row),
        "reach": reach_of(row, now=request.now, studio=studio) if leaving else None,
        "words_of_now": not row.text or row.state in NOT_LEFT,
        "has_papers": row.kind == Message.Kind.AFTERCARE and row.sheet is not None,
        "may_people": request.may(Right.PEOPLE),
        "may_hold": acts and row.state == State.WAITING,
        "may_release": acts and row.state == State.HELD,
        "may_send": acts and leaving,
        "may_cancel": acts and row.state in NOT_LEFT,
        "may_resolve": acts and row.state == State.UNCERTAIN,
        "act_form": wrong.get("ActForm", ActForm()),
        "cancel_form": wrong.get("CancelForm", CancelForm()),
        "settle_form": wrong.get("SettleForm", SettleForm()),
        "refused": [error for form in wrong.values() for error in form.non_field_errors()],
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if wrong else HTTPStatus.OK
    return render(request, "studio/message.html", known, status=status)


def _reading(request: StudioRequest, row: Message) -> Reading:
    """What left or may have left word for word; of what has not, the words that it would have now."""
    try:
        return Reading(as_it_reads(row, now=request.now, studio=request.studio))
    except (NothingToSay, SheetUnreadable) as nothing:
        return Reading(None, str(nothing))
    except Exception:
        # A message whose facts cannot be read must still be looked at and cancelled.
        log.exception("message_not_shown", message=row.pk)
        return Reading(None, "It cannot be put into words from what is on record.")
