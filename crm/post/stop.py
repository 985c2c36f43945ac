"""Ending letters to a person, at their own word: recorded for ever, at once, for all their cars."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from crm.models import Consent, Contact, Message, Person, Suppression
from crm.post.states import move
from crm.selectors.reach import LETTER_KINDS, address_hash

State = Message.State

WORDING = "No more letters like this"


def person_of(key: str) -> Person | None:
    """Whose link this is; None where it is nobody's."""
    return Person.objects.filter(stop_key=key).first()


@transaction.atomic
def stop_letters(*, person: Person, how: str, now: datetime) -> int:
    """End letters by e-mail to a person. Returns how many that waited were cancelled.

    The no is written down, each address is suppressed by its hash so that no import brings it back, and what
    waits is cancelled. Notes about work they pay for still come. Doing it twice writes nothing twice.
    """
    newest = person.consents.filter(purpose=Consent.Purpose.LETTERS, channel=Contact.Kind.EMAIL).first()
    if newest is None or newest.given:
        Consent.objects.create(
            person=person,
            purpose=Consent.Purpose.LETTERS,
            channel=Contact.Kind.EMAIL,
            given=False,
            wording=WORDING,
            how=how,
            at=now,
        )
    for contact in person.contacts.filter(kind=Contact.Kind.EMAIL):
        Suppression.objects.get_or_create(
            address_hash=address_hash(contact.value), defaults={"because": how[:120], "at": now}
        )
    waiting = Message.objects.filter(
        person=person, kind__in=LETTER_KINDS, state__in=(State.WAITING, State.HELD)
    )
    return sum(move(message, State.CANCELLED, because=f"no more letters: {how}") for message in waiting)
