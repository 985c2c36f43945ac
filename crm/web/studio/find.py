"""Finding a car: the page, and its results while somebody types."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from crm.selectors.finding import cars_found
from crm.selectors.scanning import clean_query
from crm.services.rights import Right
from crm.web.access import StudioRequest, gate

WHILE_TYPING = 8
ON_THE_PAGE = 40


@gate(Right.LOOK)
def find(request: StudioRequest) -> HttpResponse:
    """The cars that a scrap of plate, chassis number, name or telephone number may mean."""
    typed = clean_query(request.GET.get("q", ""))
    typing = bool(request.htmx) and request.htmx.target == "find-results"
    hits = cars_found(typed, most=WHILE_TYPING if typing else ON_THE_PAGE, today=request.today)
    template = "studio/_find_hits.html" if typing else "studio/find.html"
    return render(request, template, {"q": typed, "hits": hits, "may_take_on": request.may(Right.CARS)})
