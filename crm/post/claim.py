"""Taking one waiting message in hand: claimed, looked at again and put into words, in one transaction."""

from __future__ import annotations

from datetime import datetime

import structlog
from django.db import transaction
from django.db.models import Q

from crm.models import Message, Person, Studio
from crm.post.recheck import Go, Later, Never, verdict
from crm.post.render import NothingToSay, rendered
from crm.post.states import Stops, move
from crm.selectors.reach import LETTER_KINDS
from crm.selectors.sheet import SheetUnreadable

log = structlog.get_logger(__name__)
State = Message.State


def due(*, now: datetime) -> list[int]:
    """The numbers of the messages whose time has come, the longest waiting first."""
    rows = Message.objects.filter(state=State.WAITING, next_try_at__lte=now).order_by("next_try_at", "pk")
    return list(rows.values_list("pk", flat=True)[:LOOKED_AT])


NO_WORDS = (
    "It could not be put into words from what is on record; the log says why. Have that mended, then send it."
)
LOOKED_AT = 200
"""How many waiting messages one tick looks at; the next tick takes the next."""


def claim(pk: int, *, now: datetime, studio: Studio, stops: Stops = ()) -> Message | None:
    """A message that is ours to send, with its words and its address on it; None where it does not leave now.

    Of two that claim the same message one gets it. What may not leave is cancelled, missed or put off here. Broken
    off by one of `stops`, it waits as before.
    """
    with transaction.atomic():
        _one_letter_at_a_time(pk)
        message = Message.objects.select_related("person", "visit__car", "sheet").filter(pk=pk).first()
        if message is None or message.state != State.WAITING or message.next_try_at > now:
            return None
        if not move(message, State.SENDING, because="", claimed_at=now):
            return None
        match verdict(message, now=now, studio=studio):
            case Never() as never:
                move(message, never.state, because=never.because)
                return None
            case Later() as later:
                move(message, State.WAITING, because=later.because, next_try_at=later.at, not_before=later.at)
                return None
            case Go() as go:
                return message if _worded(message, go, now, studio, stops) else None


def _one_letter_at_a_time(pk: int) -> None:
    """Keep other workers from the letters to the same person until this one is on its way: of two that leave at
    the same moment neither would see the other, and both would pass the cap. (SQLite has one writer anyway.)
    """
    to_whom = Person.objects.filter(messages=pk, messages__kind__in=LETTER_KINDS)
    to_whom.select_for_update(of=("self",)).first()


def _worded(message: Message, go: Go, now: datetime, studio: Studio, stops: Stops) -> bool:
    """Put the exact words that leave on the row. One message that cannot be written must not stop the others."""
    try:
        with transaction.atomic():
            words = rendered(message, now=now, studio=studio)
    except stops:
        raise
    except (NothingToSay, SheetUnreadable) as error:
        log.exception("message_not_written", message=message.pk)
        move(message, State.FAILED, because=str(error))
        return False
    except Exception:
        log.exception("message_not_written", message=message.pk)
        move(message, State.FAILED, because=NO_WORDS)
        return False
    message.subject, message.text, message.html = words.subject, words.text, words.html
    message.text_version = message.sheet.text_version if message.sheet else ""
    message.contact, message.address = go.contact, go.contact.value
    message.attempts += 1
    message.save(update_fields=["subject", "text", "html", "text_version", "contact", "address", "attempts"])
    return True


def standing_still() -> Message | None:
    """The message that the machine itself holds, because the mail server refused the studio.

    While there is one, nothing leaves: every other message would be refused as well. A person puts the
    settings right and releases it.
    """
    return Message.objects.filter(Q(touched_by__isnull=True), state=State.HELD).order_by("pk").first()
