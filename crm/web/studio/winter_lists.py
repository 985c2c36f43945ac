"""The long lists of a winter round: who is not asked and why, and what became of every invitation."""

from __future__ import annotations

from enum import StrEnum
from typing import TypeVar

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from crm.care.winter_calls import Why
from crm.selectors import winter_lists
from crm.selectors.winter_lines import asked_lines
from crm.selectors.winter_lists import GROUP_NAMES, Group
from crm.services.rights import Right
from crm.web.access import StudioRequest, gate
from crm.web.studio.forms.entry import OnceForm
from crm.web.studio.winter_branch import the_round

ON_A_PAGE = 40
Member = TypeVar("Member", bound=StrEnum)


@gate(Right.LOOK)
@require_safe
def winter_not_asked(request: StudioRequest, pk: int) -> HttpResponse:
    """The cars that the plan does not ask, by reason, or those of one reason."""
    season = the_round(pk)
    why = _chosen(Why, request.GET.get("why", ""))
    reasons = winter_lists.reasons(season)
    rows = winter_lists.left_out(season, why)
    page = Paginator(rows, ON_A_PAGE).get_page(request.GET.get("page"))
    known = {
        "season": season,
        "why": why,
        "reasons": reasons,
        "cars": sum(reason.cars for reason in reasons),
        "page": page,
        "lines": winter_lists.left_lines(list(page.object_list), request.today),
        "may_change": request.may(Right.POST) and season.is_going,
        "may_people": request.may(Right.PEOPLE),
        "form": OnceForm(),
    }
    return render(request, "studio/winter_not_asked.html", known)


@gate(Right.LOOK)
@require_safe
def winter_asked(request: StudioRequest, pk: int) -> HttpResponse:
    """Every invitation: those that wait for an answer first, the oldest of them first."""
    season = the_round(pk)
    group = _chosen(Group, request.GET.get("stands", ""))
    asked = winter_lists.everybody_asked(season, now=request.now)
    counts = winter_lists.grouped(asked)
    page = Paginator(winter_lists.of_group(asked, group), ON_A_PAGE).get_page(request.GET.get("page"))
    known = {
        "season": season,
        "group": group,
        "groups": [(each, words, counts[each]) for each, words in GROUP_NAMES.items() if counts[each]],
        "asked": len(asked),
        "page": page,
        "lines": asked_lines(list(page.object_list), today=request.today, zone=request.studio.zone),
        "may_people": request.may(Right.PEOPLE),
    }
    return render(request, "studio/winter_asked.html", known)


def _chosen(kind: type[Member], value: str) -> Member | None:
    """What the chips say; what makes no sense narrows nothing."""
    return kind(value) if value in set(kind) else None
