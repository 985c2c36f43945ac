"""The first screen of the day."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from crm.selectors.stale import stale_count
from crm.selectors.today import today_page
from crm.services.rights import Right
from crm.web.access import StudioRequest, gate


@gate(Right.LOOK)
def today(request: StudioRequest) -> HttpResponse:
    """What is in the bay, what goes out, what is expected, and what needs a person, at the reader's branch."""
    everywhere = request.GET.get("branch") == "all"
    branch = None if everywhere else request.user.branch
    page = today_page(
        studio=request.studio,
        now=request.now,
        today=request.today,
        branch=branch,
        with_post=request.may(Right.POST),
    )
    context = {
        "page": page,
        "branch": branch,
        "everywhere": everywhere,
        "may_people": request.may(Right.PEOPLE),
        "stale": stale_count(),
    }
    return render(request, "studio/today.html", context)
