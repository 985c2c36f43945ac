"""The letters of a winter round: one an owner, with a paragraph for each of their cars."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from crm.models import Message, Person, WinterInvitation
from crm.post.matters import Want
from crm.post.queue import queue_letter
from crm.selectors.winter_asked import matter_key


def queue_invitations(
    *, person: Person, invitations: Sequence[WinterInvitation], now: datetime
) -> Message | None:
    """Write one letter that asks for these cars, or add them to one that waits for this person already."""
    wants = [
        Want(
            kind=Message.Kind.WINTER,
            car_id=row.car_id,
            key=matter_key(row),
            facts={
                "invitation": row.pk,
                "monday": row.monday.isoformat(),
                "work": row.work,
                "hours": row.hours,
                "nights": row.nights,
                "salt_from": row.round.salt_from.isoformat(),
            },
            why=row.words,
        )
        for row in invitations
    ]
    letter = queue_letter(person=person, wants=wants, now=now)
    for row in invitations:
        row.message = letter
    WinterInvitation.objects.bulk_update(invitations, ["message"])
    return letter
