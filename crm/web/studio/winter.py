"""The winter round of a branch: its page, opening it, its hours, planning again, closing it."""

from __future__ import annotations

from collections.abc import Callable
from http import HTTPStatus

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from crm.models import WinterRound
from crm.selectors.stale import stale_count
from crm.selectors.studio import tables_of
from crm.selectors.winter_screen import round_page
from crm.services import winter_round
from crm.services.errors import Refused
from crm.services.rights import Right
from crm.web.access import StudioRequest, gate
from crm.web.studio.doing import done, sent
from crm.web.studio.forms.entry import OnceForm
from crm.web.studio.forms.winter_forms import OpenForm, WeeksForm
from crm.web.studio.winter_branch import branch_choice, nothing_new, round_at, the_round


@gate(Right.LOOK)
@require_safe
def winter(request: StudioRequest) -> HttpResponse:
    """The round that is going at a branch, or that of the coming season; a page that teaches where there is none."""
    choice = branch_choice(request)
    season = round_at(choice.branch, request)
    known: dict[str, object] = {
        "choice": choice,
        "may_change": request.may(Right.POST),
        "figures": tables_of(request.studio).winter,
    }
    if season is None:
        return render(request, "studio/winter_none.html", known)
    page = round_page(season, studio=request.studio, now=request.now)
    waiting = nothing_new(request, current=page.current or not season.is_going)
    if waiting is not None:
        return waiting
    known |= {"page": page, "season": season, "form": OnceForm(), "stale": stale_count()}
    return render(request, "studio/winter.html", known)


@gate(Right.POST)
@require_http_methods(["GET", "HEAD", "POST"])
def winter_open(request: StudioRequest) -> HttpResponse:
    """Open the round of the coming season at a branch."""
    choice = branch_choice(request)
    suggested = winter_round.suggested_opening(request.studio, request.today)
    names = ("first_monday", "weeks", "hours", "nights")
    form = OpenForm(sent(request), initial={name: getattr(suggested, name) for name in names})

    def work() -> None:
        if choice.branch is None:
            raise Refused("There is no branch to open a round for. Make one in the settings first.")
        winter_round.open_round(
            branch=choice.branch, opening=form.opening(), by=request.user, now=request.now
        )

    if form.is_bound and form.is_valid() and done(request, form, work):
        messages.success(request, "The round is open. Its plan is being made.")
        return redirect(_address_of_branch(choice.branch.pk if choice.branch else None))
    known = {
        "form": form,
        "choice": choice,
        "going": round_at(choice.branch, request),
        "figures": tables_of(request.studio).winter,
    }
    return render(request, "studio/winter_open.html", known, status=_status(form))


@gate(Right.POST)
@require_http_methods(["GET", "HEAD", "POST"])
def winter_weeks(request: StudioRequest, pk: int) -> HttpResponse:
    """Hands-on hours and nights of the weeks that are not over."""
    season = the_round(pk)
    page = round_page(season, studio=request.studio, now=request.now)
    form = WeeksForm(sent(request), weeks=page.weeks)

    def work() -> None:
        winter_round.give_weeks(season=season, weeks=form.given(), by=request.user)

    if form.is_bound and form.is_valid() and done(request, form, work):
        messages.success(request, "The hours stand. The plan follows them.")
        return to_round(season)
    known = {"form": form, "season": season, "page": page}
    return render(request, "studio/winter_weeks.html", known, status=_status(form))


@gate(Right.POST)
@require_POST
def winter_again(request: StudioRequest, pk: int) -> HttpResponse:
    """Have the plan made anew."""
    season = the_round(pk)
    done_or_said(
        request,
        lambda: winter_round.plan_again(season=season, by=request.user),
        "The plan is being made again.",
    )
    return to_round(season)


@gate(Right.POST)
@require_http_methods(["GET", "HEAD", "POST"])
def winter_close(request: StudioRequest, pk: int) -> HttpResponse:
    """Close a round, after a look at what that means."""
    season = the_round(pk)
    if not season.is_going:
        return to_round(season)
    form = OnceForm(sent(request))

    def work() -> None:
        winter_round.close_round(season=season, by=request.user, now=request.now)

    if form.is_bound and form.is_valid() and done(request, form, work):
        messages.success(request, "The round is closed. Nobody is asked any more; what is booked stands.")
        return to_round(season)
    page = round_page(season, studio=request.studio, now=request.now)
    known = {"form": form, "season": season, "page": page}
    return render(request, "studio/winter_close.html", known, status=_status(form))


@gate(Right.POST)
@require_POST
def winter_reopen(request: StudioRequest, pk: int) -> HttpResponse:
    """Go on with a round that was closed."""
    season = the_round(pk)
    done_or_said(
        request,
        lambda: winter_round.reopen_round(season=season, by=request.user),
        "The round is going again. Its plan is being made.",
    )
    return to_round(season)


def done_or_said(request: StudioRequest, work: Callable[[], object], words: str) -> bool:
    """Do what a single button asks, once, and say so; a refusal is said at the top of the next page."""
    form = OnceForm(request.POST)
    went_well = form.is_valid() and done(request, form, work)
    if went_well:
        messages.success(request, words)
    for error in form.non_field_errors():
        messages.error(request, str(error))
    return went_well


def to_round(season: WinterRound) -> HttpResponse:
    """Back to the page of the round."""
    return redirect(_address_of_branch(season.branch_id))


def _address_of_branch(pk: int | None) -> str:
    return reverse("winter") + (f"?branch={pk}" if pk else "")


def _status(form: OnceForm) -> int:
    return HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
