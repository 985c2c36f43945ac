"""What happens after a try that did not succeed: a schedule that is stored, not a timer that is lost."""

from __future__ import annotations

from datetime import datetime, timedelta

from crm.models import Contact, Message, Studio
from crm.post.carry import (
    AnswerLost,
    NotDelivered,
    OurOwnFault,
    RecipientRefused,
    Refused,
    TryLater,
    Unreachable,
)
from crm.post.quiet import SendingHours
from crm.post.states import move

State = Message.State

TRIES = 3
WAITS = (timedelta(hours=2), timedelta(hours=24))
"""After the first and the second try that a server put off: three tries within 72 hours, with quiet hours
between (common practice, no source)."""
SERVER_WAIT = timedelta(minutes=10)
STUCK_AFTER = timedelta(minutes=15)


def not_delivered(message: Message, error: NotDelivered, *, now: datetime, studio: Studio) -> None:
    """Write down what a failed try means for the message and for the address."""
    match error:
        case AnswerLost():
            move(message, State.UNCERTAIN, because=error.sentence)
        case Unreachable():
            # Nobody was asked about this message, so it is not a try of it.
            _again(message, error, at=now + SERVER_WAIT, attempts=message.attempts - 1, studio=studio)
        case OurOwnFault():
            move(message, State.HELD, because=error.sentence, attempts=message.attempts - 1, touched_by=None)
        case RecipientRefused():
            move(message, State.FAILED, because=error.sentence)
            _mark_dead(message, error.sentence, now)
        case Refused():
            move(message, State.FAILED, because=error.sentence)
        case TryLater() if message.attempts >= TRIES:
            move(message, State.FAILED, because=f"Given up after {TRIES} tries. {error.sentence}")
            if error.about_recipient:
                _mark_dead(message, error.sentence, now)
        case _:
            wait = WAITS[min(message.attempts, len(WAITS)) - 1]
            _again(message, error, at=now + wait, attempts=message.attempts, studio=studio)


def declare_uncertain(*, now: datetime) -> int:
    """Messages that stand in "being sent" too long wait for a person; they never leave again by themselves."""
    stuck = Message.objects.filter(state=State.SENDING, claimed_at__lte=now - STUCK_AFTER)
    because = "It was being sent when the work stopped; nobody knows whether it left."
    return sum(move(message, State.UNCERTAIN, because=because) for message in stuck)


def _again(message: Message, error: NotDelivered, *, at: datetime, attempts: int, studio: Studio) -> None:
    note_at_once = not message.is_letter and message.at_once_until is not None and at <= message.at_once_until
    at = at if note_at_once else SendingHours.of(studio).next_moment(at)
    move(message, State.WAITING, because=error.sentence, next_try_at=at, attempts=attempts)


def _mark_dead(message: Message, why: str, now: datetime) -> None:
    """The address does not work: it is asked for at the car's next visit and not tried again."""
    if message.contact_id is not None:
        contact = Contact.objects.filter(
            pk=message.contact_id, value=message.address, dead_since__isnull=True
        ).first()
        if contact is not None:
            contact.dead_since, contact.dead_because = now, why[:200]
            contact.save(update_fields=["dead_since", "dead_because"])
