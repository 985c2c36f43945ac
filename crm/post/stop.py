"""Letters to a person end, and may begin again, at their own word: at once, and for all their cars."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.db.models import Q

from crm.models import Consent, Contact, Matter, Message, Person, Suppression, User
from crm.post.called_off import write_about_again
from crm.post.states import move
from crm.selectors.reach import LETTER_KINDS, address_hash

State = Message.State

WORDING = "No more letters like this"
_CALLED_OFF = "no more letters: "


def person_of(key: str) -> Person | None:
    """Whose link this is; None where it is nobody's."""
    return Person.objects.filter(stop_key=key).first()


@transaction.atomic
def stop_letters(*, person: Person, how: str, now: datetime) -> int:
    """End letters by e-mail to a person who used the link. Returns how many that waited were cancelled.

    The no is written down and their addresses are shut. Doing it twice writes nothing twice.
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
    return shut_addresses(person=person, how=how, now=now)


@transaction.atomic
def shut_addresses(*, person: Person, how: str, now: datetime, by: User | None = None) -> int:
    """Send no more letters to a person's addresses. Returns how many that waited were cancelled.

    Each address is suppressed by its hash, so that no import brings it back, and what waits is cancelled. Notes
    about work they pay for still come. `how` and `by`: how they said it, and to whom, where it was to somebody.
    """
    for contact in person.contacts.filter(kind=Contact.Kind.EMAIL):
        Suppression.objects.get_or_create(
            address_hash=address_hash(contact.value),
            lifted_at__isnull=True,
            defaults={"because": how[:120], "at": now, "by": by},
        )
    waiting = Message.objects.filter(
        person=person, kind__in=LETTER_KINDS, state__in=(State.WAITING, State.HELD)
    )
    return sum(move(message, State.CANCELLED, because=f"{_CALLED_OFF}{how}") for message in waiting)


@transaction.atomic
def open_addresses(*, person: Person, how: str, now: datetime, by: User | None) -> int:
    """Letters may go to a person's addresses again: they said so themselves. Returns how many were shut.

    Who lifted it, when and how stays beside each. A letter that was cancelled stays cancelled; what it was about
    may be written about anew, where it is still true.
    """
    hashes = [address_hash(contact.value) for contact in person.contacts.filter(kind=Contact.Kind.EMAIL)]
    shut = Suppression.objects.filter(address_hash__in=hashes, lifted_at__isnull=True)
    opened = shut.update(lifted_at=now, lifted_because=how[:120], lifted_by=by)
    by_the_no = Q(message__because__startswith=_CALLED_OFF) | Q(message__touched_by__isnull=True)
    write_about_again(
        Matter.objects.filter(
            by_the_no, message__person=person, message__state=State.CANCELLED, kind__in=LETTER_KINDS
        )
    )
    return opened
