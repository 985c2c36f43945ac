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
from crm.post.states import move

log = structlog.get_logger(__name__)
Kind, State = Message.Kind, Message.State


MakePapers = Callable[[Sheet], Sequence[File]]
"""Makes the files that go with an aftercare sheet. Handed in, so that the post needs no PDF library."""


def deliver(message: Message, *, papers: MakePapers, now: datetime, studio: Studio) -> NotDelivered | None:
    """Send it. Returns what went wrong, or None where the mail server has taken it on."""
    try:
        carry(_written(message, papers, now, studio))
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


def _written(message: Message, papers: MakePapers, now: datetime, studio: Studio) -> EmailMessage:
    """The message as it is handed over. What cannot be written has not left: it fails, and is not uncertain."""
    try:
        email = as_email(message, _papers(message, papers), now=now, studio=studio)
        email.message()
    except ValueError as error:
        raise Refused(f"It could not be put into the form of a mail: {error}") from error
    return email


def _papers(message: Message, papers: MakePapers) -> Sequence[File]:
    if message.kind != Kind.AFTERCARE or message.sheet is None:
        return ()
    try:
        return papers(message.sheet)
    except Exception as error:
        log.exception("papers_not_made", message=message.pk)
        raise Refused(f"The aftercare sheet could not be printed: {error}") from error
