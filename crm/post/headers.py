"""The envelope and the header lines of a message.

RFC 3834 (Auto-Submitted), RFC 2369 and RFC 8058 (one-click unsubscribing), RFC 5322 (Message-ID, Date).
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from email.charset import QP, Charset
from email.utils import format_datetime, formataddr, parseaddr
from typing import Protocol

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.urls import reverse

from crm.models import Message, Person, Studio


class File(Protocol):
    """A file that goes with a message."""

    @property
    def name(self) -> str: ...
    @property
    def content(self) -> bytes: ...
    @property
    def mimetype(self) -> str: ...


def stop_url(person: Person) -> str:
    """The address that ends letters to a person: asks when opened, acts when posted to."""
    return settings.BASE_URL + reverse("stop", args=[person.stop_key])


def as_email(
    message: Message, files: Iterable[File], *, now: datetime, studio: Studio
) -> EmailMultiAlternatives:
    """The message as it goes over the wire, from the words that are stored on its row."""
    headers = {
        "Message-ID": f"<{message.message_id}>",
        "Date": format_datetime(now),
        "Auto-Submitted": "auto-generated",
    }
    if message.is_letter:
        headers["List-Unsubscribe"] = f"<{stop_url(message.person)}>"
        if settings.BASE_URL.startswith("https://"):
            # One click is for HTTPS alone: RFC 8058, section 3.1.
            headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    email = EmailMultiAlternatives(
        subject=message.subject,
        body=message.text,
        from_email=formataddr((_one_line(studio.name), parseaddr(settings.DEFAULT_FROM_EMAIL)[1])),
        to=[formataddr((_one_line(message.person.name), message.address))],
        reply_to=[studio.reply_to] if studio.reply_to else None,
        headers=headers,
    )
    # Quoted-printable goes unharmed through servers that know seven bits only.
    email.encoding = _quoted_printable()
    email.attach_alternative(message.html, "text/html")
    for file in files:
        email.attach(file.name, file.content, file.mimetype)
    return email


def _quoted_printable() -> Charset:
    charset = Charset("utf-8")
    charset.body_encoding = QP
    return charset


def _one_line(words: str) -> str:
    return " ".join(words.split())
