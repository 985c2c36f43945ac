"""The car file."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render

from crm.care.bodies import Body
from crm.selectors.car_chart import Shown
from crm.selectors.car_file import FIRST_VISITS, Moment, car_file
from crm.selectors.car_now import on_it_now
from crm.selectors.winter_of_car import in_round
from crm.services.events import STATUS_AFTER
from crm.services.rights import Right
from crm.web.access import StudioRequest, gate

MOST_VISITS = 2000


@gate(Right.LOOK)
def car(request: StudioRequest, ref: str) -> HttpResponse:
    """Everything about one car."""
    shown = Shown.ALL if request.GET.get("span") == Shown.ALL else Shown.TWO
    moment = Moment(request.studio, request.now, request.today)
    file = car_file(ref, at=moment, shown=shown, visits=_visits(request.GET.get("visits", "")))
    if file is None:
        raise Http404
    return render(
        request,
        "studio/car.html",
        {
            "file": file,
            "car": file.car,
            "chart": file.chart,
            "on_it": on_it_now(file.lanes, Body(file.car.body)),
            "shown": shown.value,
            "winter": in_round(file.car, studio=request.studio, now=request.now)
            if file.round_going
            else None,
            "sees_contacts": request.may(Right.PEOPLE),
            "may_change": request.may(Right.CARS),
            "may_record": request.may(Right.RECORD),
            "for_people": [kind.value for kind in STATUS_AFTER],
            "visits_next": len(file.history) + FIRST_VISITS,
        },
    )


def _visits(asked: str) -> int:
    return (
        min(max(int(asked), FIRST_VISITS), MOST_VISITS)
        if asked.isascii() and asked.isdigit()
        else FIRST_VISITS
    )
