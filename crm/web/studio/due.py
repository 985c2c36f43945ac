"""Due back: what lapses when, for whom, and how they can be reached."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from crm.selectors.due import due_list
from crm.selectors.due_rows import due_rows
from crm.services.rights import Right
from crm.web.access import StudioRequest, gate
from crm.web.studio.due_filter import DueFilter
from crm.web.studio.due_table import DueTable

ON_A_PAGE = 25


@gate(Right.LOOK)
@require_safe
def due_back(request: StudioRequest) -> HttpResponse:
    """The cars whose earliest layer lapses in a chosen time; the table alone where only it is swapped."""
    chosen = DueFilter(request.GET, studio=request.studio, today=request.today)
    listed = due_list(
        chosen.lapses(), reaching=chosen.reaching, studio=request.studio, today=request.today, now=request.now
    )
    page = Paginator(listed.forecasts, ON_A_PAGE).get_page(request.GET.get("page"))
    rows = due_rows(list(page.object_list), studio=request.studio, today=request.today, now=request.now)
    known = {
        "filter": chosen,
        "table": DueTable(rows, latest_first=chosen.latest_first),
        "page": page,
        "listed": listed,
        "may_people": request.may(Right.PEOPLE),
    }
    template = "studio/_due_results.html" if request.htmx else "studio/due_back.html"
    return render(request, template, known)
