"""Sending one claimed message, outside any transaction, and writing down what came of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

import structlog
from django.core.mail import EmailMessage

from crm.models import Message, Sheet, Studio
from crm.post.carry import NotDelivered, Refused, carry
from crm.post.headers import File, as_email
from crm.post.retry import not_delivered
from crm.post.states import Stops, move
from crm.selectors.sheet import SheetUnreadable

log = structlog.get_logger(__name__)
Kind, State = Message.Kind, Message.State


MakePapers = Callable[[Sheet], Sequence[File]]
"""Makes the files that go with an aftercare sheet. Handed in, so that the post needs no PDF library."""


NOT_PRINTED = (
    "The aftercare sheet could not be printed; the log says why. Have that mended and send it again."
)
BROKEN_OFF = "Sending it took too long and was broken off; nobody knows whether it left."


def deliver(
    message: Message, *, papers: MakePapers, now: datetime, studio: Studio, stops: Stops = ()
) -> NotDelivered | None:
    """Send it. Returns what went wrong, or None where the mail server has taken it on.

    Broken off by one of `stops`, the message is uncertain and the stop goes on: it is not the letter's fault, and
    only a person may send it again. What holds the work up once would hold it up each time.
    """
    try:
        return _delivered(message, papers, now, studio, stops)
    except stops:
        if message.state == State.SENDING:
            move(message, State.UNCERTAIN, because=BROKEN_OFF)
        raise


def _delivered(
    message: Message, papers: MakePapers, now: datetime, studio: Studio, stops: Stops
) -> NotDelivered | None:
    try:
        carry(_written(message, papers, now, studio, stops))
    except NotDelivered as error:
        # Without the server's words: they name the receiver. They stand on the row.
        log.warning("message_not_delivered", message=message.pk, kind=type(error).__name__)
        not_delivered(message, error, now=now, studio=studio)
        return error
    if not move(message, State.SENT, because="", sent_at=now):
        # We were so slow that the message was declared uncertain. The receipt settles that.
        message.refresh_from_db()
        if message.state == State.UNCERTAIN:
            move(message, State.SENT, because="The mail server's answer came late.", sent_at=now)
    log.info("message_sent", message=message.pk, kind=message.kind)
    return None


def _written(
    message: Message, papers: MakePapers, now: datetime, studio: Studio, stops: Stops
) -> EmailMessage:
    """The message as it is handed over. What cannot be written has not left: it fails, and is not uncertain."""
    try:
        email = as_email(message, _papers(message, papers, stops), now=now, studio=studio)
        email.message()
    except ValueError as error:
        raise Refused(f"It could not be put into the form of a mail: {error}") from error
    return email


def _papers(message: Message, papers: MakePapers, stops: Stops) -> Sequence[File]:
    if message.kind != Kind.AFTERCARE or message.sheet is None:
        return ()
    try:
        return papers(message.sheet)
    except stops:
        raise
    except SheetUnreadable as error:
        log.exception("papers_not_made", message=message.pk)
        raise Refused(error.sentence) from error
    except Exception as error:
        log.exception("papers_not_made", message=message.pk)
        raise Refused(NOT_PRINTED) from error
