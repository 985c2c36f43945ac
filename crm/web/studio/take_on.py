"""Taking on a car: whatever is known at first contact, and its keeper where one is named."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render

from crm.care.plates import NotAMark, mark_note, normal_mark
from crm.models import Car
from crm.selectors.people import namesakes
from crm.selectors.scanning import clean_query
from crm.services.rights import Right
from crm.services.taking_on import take_on
from crm.web.access import StudioRequest, gate
from crm.web.studio.doing import done, sent
from crm.web.studio.forms.car_forms import KeeperForm, TakeOnForm

_NUMBER_DIGITS = 7


@gate(Right.CARS)
def car_new(request: StudioRequest) -> HttpResponse:
    """A new car file. What was typed into Find stands in it already."""
    posted = sent(request)
    known = _from_query(clean_query(request.GET.get("q", "")))
    form = TakeOnForm(posted, initial=known)
    keeper = _keeper_form(request, known) if request.may(Right.PEOPLE) else None
    if posted is None:
        return _page(request, form, keeper)
    if not (form.is_valid() & (keeper is None or keeper.is_valid())):
        return _page(request, form, keeper)
    made: list[Car] = []

    def work() -> None:
        who = keeper.keeper() if keeper else None
        made.append(take_on(car=form.car(), keeper=who, by=request.user, on=request.today, now=request.now))

    if not done(request, form, work, beside=keeper):
        return _page(request, form, keeper)
    if not made:
        messages.info(request, "That was sent before: the file is there already.")
        return redirect("today")
    _say(request, form.cleaned_data["mark"])
    return redirect("car", made[0].ref)


def _page(request: StudioRequest, form: TakeOnForm, keeper: KeeperForm | None) -> HttpResponse:
    return render(
        request, "studio/car_new.html", {"form": form, "keeper": keeper}, status=422 if form.is_bound else 200
    )


def _keeper_form(request: StudioRequest, known: dict[str, str]) -> KeeperForm:
    posted = sent(request)
    name = clean_query(posted.get("keeper-name", "")) if posted else ""
    same = namesakes(
        name,
        today=request.today,
        region=request.studio.phone_region,
        given=[posted.get(f"keeper-{field}", "") for field in ("phone", "email")] if posted else (),
    )
    return KeeperForm(posted, prefix="keeper", studio=request.studio, namesakes=same, initial=known)


def _from_query(typed: str) -> dict[str, str]:
    """What was looked for, in the field where it most likely belongs: a plate, a number, or a name."""
    digits = sum(letter.isdecimal() for letter in typed)
    if digits and not any(letter.isalpha() for letter in typed) and digits >= _NUMBER_DIGITS:
        return {"phone": typed}
    if not digits:
        return {"name": typed}
    try:
        normal_mark(typed)
    except NotAMark:
        return {}
    return {"mark": typed}


def _say(request: StudioRequest, mark: str) -> None:
    """What was done, and what to look at again; a note is never a reason to refuse."""
    messages.success(request, "The file is started.")
    note = mark_note(normal_mark(mark)) if mark.strip() else None
    if note:
        messages.info(request, note)
