"""The letters of a winter round: one an owner, with a paragraph for each of their cars, true when it leaves."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Exists, OuterRef

from crm.care.surfaces import EXTERIOR, PAINT
from crm.care.winter_figures import WinterFigures
from crm.models import Forecast, Matter, Message, Person, WinterInvitation, WinterSetAside
from crm.post.matters import Want, against_keeper, expected_back, thin_first, told_of_thin
from crm.post.queue import queue_letter
from crm.selectors.letters import Standing, Windows, live_forecasts
from crm.selectors.studio import the_studio
from crm.selectors.winter_asked import IS_ABOUT, matter_key


def queue_invitations(
    *, person: Person, invitations: Sequence[WinterInvitation], now: datetime
) -> Message | None:
    """Write one letter that asks for these cars, or add them to one that waits for this person already."""
    windows = Windows.on(the_studio(), now)
    cars = [row.car_id for row in invitations]
    forecasts, bare = live_forecasts(cars), bare_cars(cars)
    wants = [
        Want(
            kind=Message.Kind.WINTER,
            car_id=row.car_id,
            key=matter_key(row),
            facts=facts_of(row, forecasts.get(row.car_id, []), bare, windows),
            why=row.words,
        )
        for row in invitations
    ]
    letter = queue_letter(person=person, wants=wants, now=now)
    for row in invitations:
        row.message = letter
    WinterInvitation.objects.bulk_update(invitations, ["message"])
    return letter


def facts_of(
    invitation: WinterInvitation, forecasts: Sequence[Forecast], bare: Collection[int], windows: Windows
) -> dict[str, Any]:
    """What a letter says of an invitation: the work, the week, and one true thing from the record.

    `promised` where a look was promised; else `product` and its dates where a layer is thin before the salt is gone,
    or `bare` where nothing protects the paint, which `bare_cars` knows; none where it is asked for another reason.
    """
    facts: dict[str, Any] = {
        IS_ABOUT: invitation.pk,
        "monday": invitation.monday.isoformat(),
        "work": invitation.work,
        "hours": invitation.hours,
        "nights": invitation.nights,
        "salt_from": invitation.round.salt_from.isoformat(),
    }
    # What salt eats is told of first, then what a winter's visit renews besides: a screen, seals.
    first = thin_first(forecasts, windows) or thin_first(forecasts, windows, EXTERIOR)
    if invitation.promised:
        facts["promised"] = True
    elif first is not None:
        facts |= told_of_thin(first, windows)
    elif invitation.car_id in bare:
        facts["bare"] = True
    return facts


def bare_cars(cars: Collection[int]) -> set[int]:
    """Those of these cars on whose paint nothing lies, not even a layer that nobody knows the end of; one query."""
    if not cars:
        return set()
    rows = Forecast.objects.filter(car__in=list(cars)).values_list("car", "live")
    return set(cars) - {car for car, live in rows if live & PAINT}


def invitations_of(matters: Iterable[Matter]) -> dict[int, WinterInvitation]:
    """The invitations that matters are about, by row, in one query; none where no matter is about any."""
    wanted = [matter.facts[IS_ABOUT] for matter in matters if IS_ABOUT in matter.facts]
    if not wanted:
        return {}
    aside = WinterSetAside.objects.filter(round=OuterRef("round"), car=OuterRef("car"))
    rows = WinterInvitation.objects.filter(pk__in=wanted).select_related("round")
    return {row.pk: row for row in rows.annotate(is_set_aside=Exists(aside))}


def against_invitation(
    invitation: WinterInvitation | None,
    standing: Standing,
    *,
    person_id: int,
    windows: Windows,
    figures: WinterFigures,
) -> str:
    """Why an invitation no longer goes out; empty where it does.

    Whether a car is worth asking, and how soon it has to be booked to be left in peace, is the plan's to say: what
    the plan asks must be able to leave.
    """
    if invitation is None:
        return "the invitation was taken back"
    if invitation.answer:
        return "its owner has answered already"
    if not invitation.round.is_going:
        return "the winter round is closed"
    if getattr(invitation, "is_set_aside", False):
        return "the studio left the car out of the winter round"
    if invitation.monday <= windows.today:
        return "the week it was asked for has come"
    against = against_keeper(standing, person_id=person_id)
    soon = windows.today + timedelta(days=figures.booked_days)
    if not against and standing.booked_on is not None and standing.booked_on <= soon:
        return expected_back(standing)
    return against
