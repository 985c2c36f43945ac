"""What a person does with the post: hold, release, send now, cancel, and settle what is uncertain."""

from __future__ import annotations

from datetime import datetime, timedelta
from enum import StrEnum

from django.db import transaction

from crm.models import Message, User
from crm.post.queue import LETTER_LIFE, NOTE_LIFE
from crm.post.quiet import SendingHours
from crm.post.recheck import reach_of
from crm.post.states import Cause, NotAllowed, may, move
from crm.selectors.studio import the_studio

State = Message.State

HURRY = timedelta(hours=1)
"""So long after somebody asked for it a note may leave at any hour."""


class DeskRefused(ValueError):
    """What was asked for cannot be done with this message; the sentence says why."""


class Settled(StrEnum):
    """What a person found out about a message of which nobody knew whether it had left."""

    SENT = "sent"
    AGAIN = "again"


def hold(*, message: Message, by: User, now: datetime) -> Message:
    """Keep a waiting message back until somebody releases it."""
    return _moved(message, State.HELD, f"held by {by} {_on(now)}", by)


def release(*, message: Message, by: User, now: datetime) -> Message:
    """Let a held message go its way: at its own time, or at the next sending hours where that is past."""
    _expect(message, State.HELD, "Only a message that is held can be released.")
    at = max(message.not_before, SendingHours.of(the_studio()).next_moment(now))
    return _moved(message, State.WAITING, f"released by {by} {_on(now)}", by, next_try_at=at)


def cancel(*, message: Message, because: str, by: User, now: datetime) -> Message:
    """Never send a message that waits or is held. Its matter is settled and is not written about again."""
    reason = " ".join(because.split())
    if not reason:
        raise DeskRefused("Say why it is not to be sent; the reason stays with the message.")
    return _moved(message, State.CANCELLED, f"{reason} ({by} {_on(now)})", by)


@transaction.atomic
def send_now(*, message: Message, by: User, now: datetime) -> Message:
    """Put a message at the front; the next turn of the post takes it, after looking at the facts again.

    A note leaves at any hour. A letter leaves in sending hours only, and never without consent. A message that
    failed is tried afresh. Raises DeskRefused where it may not be sent.
    """
    if message.state not in (State.WAITING, State.HELD, State.FAILED):
        raise DeskRefused(f"This message is {message.get_state_display()}: it cannot be sent.")
    studio = the_studio()
    reach = reach_of(message, now=now, studio=studio)
    if not reach.open:
        raise DeskRefused(f"It cannot be sent to {message.person}: {reach.against}.")
    at = SendingHours.of(studio).next_moment(now) if message.is_letter else now
    life = LETTER_LIFE if message.is_letter else NOTE_LIFE
    columns = {
        "next_try_at": at,
        "not_before": at,
        "at_once_until": None if message.is_letter else now + HURRY,
        "expires_at": max(message.expires_at, at + life)
        if message.state == State.FAILED
        else message.expires_at,
        "attempts": 0,
        "touched_by": by,
        "because": f"{by} asked for it to be sent now",
    }
    if message.state == State.WAITING:
        if Message.objects.filter(pk=message.pk, state=State.WAITING).update(**columns) != 1:
            raise DeskRefused("This message has just left, or was changed by somebody else.")
        message.refresh_from_db()
        return message
    because, _ = str(columns.pop("because")), columns.pop("touched_by")
    return _moved(message, State.WAITING, because, by, **columns)


def resolve_uncertain(*, message: Message, found: Settled, by: User, now: datetime) -> Message:
    """Settle a message of which nobody knew whether it had left: it had, or it is to be sent again."""
    _expect(message, State.UNCERTAIN, "Only an uncertain message needs settling.")
    if found is Settled.SENT:
        return _moved(
            message, State.SENT, f"{by} found that it had left", by, sent_at=message.claimed_at or now
        )
    at = SendingHours.of(the_studio()).next_moment(now)
    life = LETTER_LIFE if message.is_letter else NOTE_LIFE
    return _moved(
        message,
        State.WAITING,
        f"{by} asked for it to be sent again",
        by,
        next_try_at=at,
        not_before=at,
        expires_at=max(message.expires_at, at + life),
        attempts=0,
    )


def _on(now: datetime) -> str:
    return f"on {now.astimezone(the_studio().zone):%-d %B %Y, %H:%M}"


def _expect(message: Message, state: Message.State, sentence: str) -> None:
    if message.state != state:
        raise DeskRefused(sentence)


def _moved(message: Message, to: Message.State, because: str, by: User, **columns: object) -> Message:
    if not may(State(message.state), to, Cause.PERSON):
        raise DeskRefused(f"This message is {message.get_state_display()}: it cannot be made {to.label}.")
    try:
        moved = move(message, to, because=because, by=by, **columns)
    except NotAllowed as error:
        raise DeskRefused(str(error)) from error
    if not moved:
        raise DeskRefused("This message has just left, or was changed by somebody else.")
    return message
