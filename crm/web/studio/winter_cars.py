"""One car of a winter round: leaving it out, taking it up again, asking its owner oneself."""

from __future__ import annotations

from http import HTTPStatus

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from crm.models import Car, WinterInvitation, WinterProposal, WinterRound
from crm.selectors.held import keeper_of, plate_of
from crm.selectors.winter_screen import Stage, WeekLine, round_page
from crm.services import winter_asking, winter_round
from crm.services.rights import Right
from crm.web.access import StudioRequest, found, gate
from crm.web.studio.doing import done, sent
from crm.web.studio.forms.entry import OnceForm
from crm.web.studio.forms.winter_forms import AskCarForm, LeaveOutForm
from crm.web.studio.winter import done_or_said
from crm.web.studio.winter_branch import the_round


@gate(Right.POST)
@require_http_methods(["GET", "HEAD", "POST"])
def winter_leave_out(request: StudioRequest, pk: int, ref: str) -> HttpResponse:
    """Leave a car out of the round, with the reason."""
    season, car = the_round(pk), _car(ref)
    proposal = season.proposals.filter(car=car).first()
    form = LeaveOutForm(sent(request), initial={"because": _because(season, car)})

    def work() -> None:
        winter_round.set_aside(
            season=season,
            car=car,
            because=form.cleaned_data["because"],
            by=request.user,
            now=request.now,
        )

    if form.is_bound and form.is_valid() and done(request, form, work):
        messages.success(request, f"The {car.known_as} is left out of this round. The plan follows.")
        return _back(season, proposal)
    return _ask(request, "studio/winter_leave_out.html", season, car, form)


@gate(Right.POST)
@require_POST
def winter_take_up(request: StudioRequest, pk: int, ref: str) -> HttpResponse:
    """Let the plan decide again about a car that was left out."""
    season, car = the_round(pk), _car(ref)
    done_or_said(
        request,
        lambda: winter_round.take_up_again(season=season, car=car, by=request.user),
        f"The plan looks at the {car.known_as} again.",
    )
    return redirect("winter_not_asked", pk=season.pk)


@gate(Right.POST)
@require_http_methods(["GET", "HEAD", "POST"])
def winter_ask_car(request: StudioRequest, pk: int, ref: str) -> HttpResponse:
    """Write down that the owner was asked by telephone or at the desk."""
    season, car = the_round(pk), _car(ref)
    proposal = season.proposals.filter(car=car).first()
    page = round_page(season, studio=request.studio, now=request.now)
    weeks = _weeks(page.weeks, proposal)
    first = proposal.monday.isoformat() if proposal else weeks[0].address if weeks else ""
    form = AskCarForm(sent(request), weeks=weeks, initial={"monday": first})
    made: list[WinterInvitation] = []

    def work() -> None:
        made.append(
            winter_asking.ask_in_person(
                season=season,
                car=car,
                monday=form.monday(),
                how=WinterInvitation.How(form.cleaned_data["how"]),
                by=request.user,
                now=request.now,
            )
        )

    if form.is_bound and form.is_valid() and done(request, form, work):
        messages.success(request, "Written down. What the owner says goes here.")
        return redirect("winter_invitation", pk=made[0].pk) if made else _back(season, proposal)
    known = {"proposal": proposal, "weeks": weeks}
    return _ask(request, "studio/winter_ask_car.html", season, car, form, **known)


def _weeks(weeks: tuple[WeekLine, ...], proposal: WinterProposal | None) -> list[WeekLine]:
    """Those that are not over and have room, and the one that the plan has for the car."""
    return [
        week
        for week in weeks
        if week.stage is not Stage.OVER
        and (
            week.hours.free + week.hours.to_ask >= 1
            or (proposal is not None and proposal.monday == week.monday)
        )
    ]


def _ask(
    request: StudioRequest, template: str, season: WinterRound, car: Car, form: OnceForm, **more: object
) -> HttpResponse:
    plate = plate_of(car, request.today)
    known = {
        "season": season,
        "car": car,
        "plate": plate.mark if plate else "",
        "keeper": keeper_of(car, request.today),
        "may_people": request.may(Right.PEOPLE),
        "form": form,
        **more,
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return render(request, template, known, status=status)


def _because(season: WinterRound, car: Car) -> str:
    row = season.set_aside.filter(car=car).first()
    return row.because if row else ""


def _back(season: WinterRound, proposal: WinterProposal | None) -> HttpResponse:
    if proposal is not None:
        return redirect("winter_week", pk=season.pk, monday=proposal.monday)
    return redirect("winter_not_asked", pk=season.pk)


def _car(ref: str) -> Car:
    return found(Car.objects.all(), ref=ref)
