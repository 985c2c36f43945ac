"""Who keeps, pays for or drives a car."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from crm.models import Car, Role
from crm.selectors.held import Standing, standing, told_apart
from crm.selectors.people import namesakes
from crm.selectors.scanning import clean_query
from crm.services.ahead import call_off_role
from crm.services.people import end_role
from crm.services.registry import give_role
from crm.services.rights import Right
from crm.services.taking_on import keeper_on_file
from crm.web.access import StudioRequest, found, gate
from crm.web.studio.doing import done, sent
from crm.web.studio.forms.people_forms import RoleForm


@gate(Right.PEOPLE)
def roles(request: StudioRequest, ref: str) -> HttpResponse:
    """Give somebody a part at the car: somebody on file, or somebody new. A new keeper ends the one before."""
    car = found(Car.objects.all(), ref=ref)
    posted = sent(request)
    name = clean_query(posted.get("name", "")) if posted else ""
    same = namesakes(
        name,
        today=request.today,
        region=request.studio.phone_region,
        given=[posted.get(field, "") for field in ("phone", "email")] if posted else (),
    )
    form = RoleForm(posted, studio=request.studio, today=request.today, namesakes=same)
    if form.is_bound and form.is_valid():

        def work() -> None:
            keeper = form.keeper()
            if keeper is not None:
                person = keeper_on_file(keeper=keeper, by=request.user, now=request.now)
                data = form.cleaned_data
                give_role(car=car, person=person, part=data["part"], since=data["since"], by=request.user)

        if done(request, form, work):
            messages.success(request, "Written down.")
            return redirect("car", car.ref)
    held = told_apart(
        Role.objects.filter(car=car).select_related("person").order_by("until", "pk"), day=request.today
    )
    context = {
        "car": car,
        "form": form,
        "now": held[Standing.NOW],
        "later": held[Standing.LATER],
        "former": held[Standing.FORMER],
    }
    return render(request, "studio/car_people.html", context, status=422 if form.is_bound else 200)


@gate(Right.PEOPLE)
@require_POST
def role_end(request: StudioRequest, ref: str, pk: int) -> HttpResponse:
    """Somebody is no longer keeper, payer or driver, from today; or does not become it."""
    role = found(Role.objects.select_related("person"), pk=pk, car__ref=ref)
    match standing(role.since, role.until, day=request.today):
        case Standing.NOW:
            end_role(role=role, until=request.today, by=request.user)
            messages.success(request, f"{role.person} is no longer {role.get_part_display()}.")
        case Standing.LATER:
            call_off_role(role=role, by=request.user)
            messages.success(request, f"{role.person} does not become {role.get_part_display()}.")
        case Standing.FORMER:
            pass
    return redirect("car_people", ref)
