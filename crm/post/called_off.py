"""What waits is called off when nobody it was for has the car any more, and may be thought of afresh later."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.db.models import CharField, Q, QuerySet, Value
from django.db.models.functions import Cast, Concat

from crm.models import Car, Matter, Message, Role
from crm.post.states import move
from crm.selectors.held import roles_on
from crm.selectors.reach import LETTER_KINDS
from crm.selectors.studio import local_day, the_studio
from crm.selectors.winter_asked import IS_ABOUT

State = Message.State

PUT_OFF = "put-off:"
"""How the key of a matter begins that keeps nobody from writing about the same thing again."""
OF_USE = (Car.Status.ACTIVE, Car.Status.STORED)


@transaction.atomic
def call_off(*, car: Car, now: datetime) -> int:
    """Cancel what waits about a car for people who have nothing to do with it any more. Returns how many messages.

    A letter that speaks of other cars too goes all the same and leaves this one out.
    """
    roles = list(roles_on(local_day(the_studio(), now)).filter(car=car))
    for_notes = {role.person_id for role in roles}
    for_letters = {role.person_id for role in roles if role.part == Role.Part.KEEPER}
    waiting = Message.objects.filter(
        matters__car=car, matters__dropped_because="", state__in=(State.WAITING, State.HELD)
    )
    called_off = 0
    for message in waiting.distinct():
        if car.status not in OF_USE:
            against = f"the car is {car.get_status_display()}"
        elif message.person_id in (for_letters if message.is_letter else for_notes):
            continue
        else:
            against = "the car has passed to somebody else"
        about_it = message.matters.filter(dropped_because="")
        if message.is_letter:
            about_it.filter(car=car).update(dropped_because=against)
            if about_it.exists():
                continue
        called_off += move(message, State.CANCELLED, because=against)
    return called_off


def plan_afresh(car: Car) -> int:
    """Let planning look at a car as if its letters had never been called off. Returns how many matters that frees.

    What was left out of a letter, or went with one that was cancelled, is written about again where it is still
    true. What a person cancelled is settled, and what has left has left.
    """
    settled = Q(message__state=State.CANCELLED, message__touched_by__isnull=False, dropped_because="")
    gone_or_left_out = Q(message__state=State.CANCELLED) | ~Q(dropped_because="")
    return write_about_again(
        Matter.objects.filter(gone_or_left_out, car=car, kind__in=LETTER_KINDS).exclude(settled)
    )


def write_about_again(matters: QuerySet[Matter]) -> int:
    """Free the keys of matters, so that the next round may write about the same things. Returns how many.

    An invitation of a winter round keeps its key: the round finds by it what became of it, and asks anew itself.
    """
    return matters.exclude(facts__has_key=IS_ABOUT).update(
        key=Concat(Value(PUT_OFF), Cast("pk", CharField()))
    )
