"""One week of a winter round: looking at its cars, and asking them."""

from __future__ import annotations

from datetime import date, timedelta

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from crm.models import WinterRound, WinterWeek
from crm.selectors.stale import stale_count
from crm.selectors.studio import tables_of
from crm.selectors.winter_week import week_page
from crm.services import winter_asking
from crm.services.errors import Refused
from crm.services.rights import Right
from crm.services.winter_round import hold_round
from crm.web.access import StudioRequest, found, gate
from crm.web.studio.doing import done
from crm.web.studio.forms.winter_forms import AskWeekForm
from crm.web.studio.winter_branch import nothing_new, the_round
from crm.web.studio.winter_table import ProposedTable

LOOK_AGAIN = "The plan was made again since you opened this page. Look at the cars once more, then ask them."


@gate(Right.LOOK)
@require_safe
def winter_week(request: StudioRequest, pk: int, monday: date) -> HttpResponse:
    """Whom the plan would ask for a week, who is asked and waits, who comes."""
    season = the_round(pk)
    week = _week(season, monday)
    page = week_page(season, week, studio=request.studio, now=request.now)
    waiting = nothing_new(request, current=page.current or not season.is_going)
    if waiting is not None:
        return waiting
    changes = request.may(Right.POST) and season.is_going
    known = {
        "page": page,
        "season": season,
        "sunday": monday + timedelta(days=6),
        "before": season.weeks.filter(monday__lt=monday).last(),
        "after": season.weeks.filter(monday__gt=monday).first(),
        "may_change": changes,
        "may_people": request.may(Right.PEOPLE),
        "table": ProposedTable(page.proposed, name="to-ask", may_change=changes),
        "with_them": ProposedTable(page.with_them, name="with-them", may_change=changes),
        "form": AskWeekForm(initial={"seen": page.key}),
        "figures": tables_of(request.studio).winter,
        "stale": stale_count(),
    }
    return render(request, "studio/winter_week.html", known)


@gate(Right.POST)
@require_POST
def winter_ask(request: StudioRequest, pk: int, monday: date) -> HttpResponse:
    """Ask the cars of a week, as they were seen: one letter an owner."""
    season = the_round(pk)
    week = _week(season, monday)
    form = AskWeekForm(request.POST)
    asked: list[winter_asking.Called] = []

    def work() -> None:
        # Held until the letters are written, so that no other plan takes the place of the one that was seen.
        hold_round(season)
        page = week_page(season, week, studio=request.studio, now=request.now)
        if page.proposed and page.key != form.cleaned_data["seen"]:
            raise Refused(LOOK_AGAIN)
        asked.append(winter_asking.ask_week(season=season, monday=monday, by=request.user, now=request.now))

    if form.is_valid() and done(request, form, work):
        messages.success(request, _said(asked))
    for errors in form.errors.values():
        for error in errors:
            messages.error(request, str(error))
    return redirect("winter_week", pk=season.pk, monday=monday)


def _week(season: WinterRound, monday: date) -> WinterWeek:
    return found(season.weeks.all(), monday=monday)


def _said(asked: list[winter_asking.Called]) -> str:
    if not asked:
        return "These cars were asked already."
    cars, letters = asked[0].cars, asked[0].letters
    return (
        f"{cars} car{'s are' if cars > 1 else ' is'} asked, in {letters} letter{'s' if letters > 1 else ''}."
        " Each leaves in sending hours, and is looked at again before it does."
    )
