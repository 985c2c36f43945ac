"""Writing messages down. Rows only: nothing here knows of a worker or of a mail server.

Every function may be called again with the same facts and writes nothing twice: a matter's key is unique.
Call them inside the transaction of the change that they belong to.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from urllib.parse import urlsplit

from django.conf import settings
from django.db import transaction

from crm.care.surfaces import EXTERIOR
from crm.models import Car, Layer, Matter, Message, Person, Role, Sheet, Visit
from crm.post.matters import Want
from crm.post.quiet import SendingHours
from crm.selectors.held import roles_on
from crm.selectors.reach import LETTER_KINDS
from crm.selectors.studio import the_studio

Kind, State = Message.Kind, Message.State

AT_ONCE = timedelta(hours=2)
"""So long after a hand-over its note may leave at any hour: the owner has just stood in the yard."""
NOTE_LIFE = timedelta(days=7)
WASH_NOW_LIFE = timedelta(days=5)
LETTER_LIFE = timedelta(days=14)
NOTES_GO_TO = (Role.Part.KEEPER, Role.Part.DRIVER, Role.Part.PAYER)
WEIGHT = {Kind.WINTER: 3, Kind.TOP_UP: 2, Kind.WASH_DUE: 1}


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A note about one visit, before it is written down."""

    kind: Message.Kind
    key: str
    visit: Visit
    sheet: Sheet
    not_before: datetime
    expires_at: datetime
    at_once_until: datetime | None = None


def queue_aftercare(*, visit: Visit, sheet: Sheet, now: datetime) -> Message | None:
    """The aftercare note of a hand-over: at once, or in sending hours where the hand-over is written down late.

    Returns the message, which may have been written before. None where nobody is known to whom it could go,
    and where the hand-over is a week past.
    """
    handed_over = visit.handed_over_at or now
    at_once_until = handed_over + AT_ONCE
    note = Note(
        kind=Kind.AFTERCARE,
        key=f"aftercare:{visit.pk}",
        visit=visit,
        sheet=sheet,
        not_before=now if now <= at_once_until else SendingHours.of(the_studio()).next_moment(now),
        expires_at=handed_over + NOTE_LIFE,
        at_once_until=at_once_until,
    )
    return _queue_note(note, now)


def queue_wash_now(*, visit: Visit, sheet: Sheet, now: datetime) -> Message | None:
    """The note that the car may be washed: when the last no-wash time of the visit's outside layers ends.

    It leaves at that moment or, where that is at night, when sending hours begin. Returns None where the visit
    laid nothing outside that keeps anybody from washing, where that time is long past, and where nobody is
    known to whom it could go.
    """
    ends = wash_from(visit)
    if ends is None or ends <= (visit.handed_over_at or now):
        return None
    note = Note(
        kind=Kind.WASH_NOW,
        key=f"wash-now:{visit.pk}",
        visit=visit,
        sheet=sheet,
        not_before=SendingHours.of(the_studio()).next_moment(max(ends, now)),
        expires_at=ends + WASH_NOW_LIFE,
    )
    return _queue_note(note, now)


def queue_letter(*, person: Person, wants: Sequence[Want], now: datetime) -> Message | None:
    """A letter about several things at once, or the things added to a letter that waits for this person already.

    Returns the letter, or None where everything was written about before.
    """
    with transaction.atomic():
        # Two planners must not each write a letter to the same person. (SQLite has one writer at a time anyway.)
        Person.objects.select_for_update().get(pk=person.pk)
        written = set(
            Matter.objects.filter(key__in=[want.key for want in wants]).values_list("key", flat=True)
        )
        fresh = [want for want in wants if want.key not in written]
        if not fresh:
            return None
        letter = _letter_to_join(person) or _new_letter(person, fresh, now)
        heaviest = max([Kind(letter.kind), *(want.kind for want in fresh)], key=WEIGHT.__getitem__)
        if heaviest != letter.kind:
            letter.kind = heaviest
            letter.save(update_fields=["kind"])
        Matter.objects.bulk_create(
            Matter(message=letter, kind=want.kind, car_id=want.car_id, key=want.key, facts=want.facts)
            for want in fresh
        )
        return letter


def wash_from(visit: Visit) -> datetime | None:
    """When the last of a visit's outside layers may be washed; None where it laid none."""
    layers = Layer.objects.filter(visit=visit).only("surfaces", "wash_from")
    return max((layer.wash_from for layer in layers if layer.surfaces & EXTERIOR), default=None)


def newest_wash_from(car: Car, now: datetime) -> datetime | None:
    """When the last of a car's outside layers that still sets may be washed; None where none does."""
    layers = Layer.objects.filter(car=car, wash_from__gt=now).only("surfaces", "wash_from")
    return max((layer.wash_from for layer in layers if layer.surfaces & EXTERIOR), default=None)


def new_message_id() -> str:
    """A Message-ID that stays with its row, however often it is tried. Without the angle brackets."""
    return f"{uuid.uuid4().hex}@{urlsplit(settings.BASE_URL).hostname}"


def _queue_note(note: Note, now: datetime) -> Message | None:
    written = Matter.objects.filter(key=note.key).select_related("message").first()
    if written is not None:
        return written.message
    person = note_receiver(note.visit.car, now)
    if person is None or note.expires_at <= now:
        return None
    with transaction.atomic():
        message = Message.objects.create(
            kind=note.kind,
            person=person,
            visit=note.visit,
            sheet=note.sheet,
            not_before=note.not_before,
            next_try_at=note.not_before,
            expires_at=note.expires_at,
            at_once_until=note.at_once_until,
            message_id=new_message_id(),
            created_at=now,
        )
        Matter.objects.create(message=message, kind=note.kind, car=note.visit.car, key=note.key)
    return message


def note_receiver(car: Car, now: datetime) -> Person | None:
    """Who gets a note about a car: its keeper, or else its driver, or else its payer."""
    roles = roles_on(now.astimezone(the_studio().zone).date()).filter(car=car).select_related("person")
    by_part = {role.part: role.person for role in roles}
    return next((by_part[part] for part in NOTES_GO_TO if part in by_part), None)


def _letter_to_join(person: Person) -> Message | None:
    waiting = Message.objects.select_for_update().filter(
        person=person, kind__in=LETTER_KINDS, state__in=(State.WAITING, State.HELD)
    )
    return waiting.order_by("not_before", "pk").first()


def _new_letter(person: Person, wants: Sequence[Want], now: datetime) -> Message:
    leaves = SendingHours.of(the_studio()).next_moment(now)
    return Message.objects.create(
        kind=wants[0].kind,
        person=person,
        not_before=leaves,
        next_try_at=leaves,
        expires_at=leaves + LETTER_LIFE,
        message_id=new_message_id(),
        created_at=now,
    )
