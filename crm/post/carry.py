"""Handing one message to the mail server, and telling apart the ways in which that can go wrong.

The SMTP dialogue is driven step by step, because what a refusal or a silence means depends on the step:
before the message was handed over it can be tried again, after that nobody knows whether it left.
Reply codes: RFC 5321 section 4.2.1 (4yz may be tried again, 5yz may not); from memory.
"""

from __future__ import annotations

import contextlib
import re
import smtplib
from email.utils import parseaddr

from django.core.mail import EmailMessage, get_connection
from django.core.mail.backends.smtp import EmailBackend as SmtpBackend

TOO_BIG = (b"5.3.4", b"5.2.3")
"""Enhanced codes for a message that is too long (RFC 3463, from memory)."""
SIGN_IN_FIRST = 530
"""RFC 4954 section 6, from memory."""


class NotDelivered(Exception):
    """The message did not leave, or nobody knows; the sentence says what happened."""

    def __init__(self, sentence: str) -> None:
        self.sentence = sentence
        super().__init__(sentence)


class Unreachable(NotDelivered):
    """The mail server could not be spoken to at all. Nothing was said about this message."""


class TryLater(NotDelivered):
    """The server put this message off."""

    def __init__(self, sentence: str, *, about_recipient: bool = False) -> None:
        self.about_recipient = about_recipient
        super().__init__(sentence)


class Refused(NotDelivered):
    """The server will not take this message; trying again is no use."""


class RecipientRefused(Refused):
    """The server says that there is no such address."""


class OurOwnFault(NotDelivered):
    """The server refuses the studio itself: its sign-in or its sender. A person has to put the settings right."""


class AnswerLost(NotDelivered):
    """The message was handed over and no answer came: it may have left or not."""


def carry(email: EmailMessage) -> None:
    """Send one message to its one receiver. Returns once the server has taken it on; raises NotDelivered."""
    connection = get_connection()
    if not isinstance(connection, SmtpBackend):
        try:
            connection.send_messages([email])
        except OSError as error:
            raise Unreachable(f"The mail folder cannot be written to: {error}.") from error
        return
    server = _open(connection)
    try:
        _hand_over(server, email)
    finally:
        _goodbye(server)


def _open(connection: SmtpBackend) -> smtplib.SMTP:
    try:
        connection.open()
    except (OSError, smtplib.SMTPException) as error:
        with contextlib.suppress(OSError, smtplib.SMTPException):
            connection.close()
        raise _not_opened(error) from error
    server: smtplib.SMTP | None = connection.connection
    if server is None:
        raise Unreachable("The mail server cannot be reached.")
    return server


def _not_opened(error: Exception) -> NotDelivered:
    if isinstance(error, smtplib.SMTPAuthenticationError):
        if 400 <= error.smtp_code < 500:
            return Unreachable(f"The mail server put the sign-in off: {_said(error)}")
        return OurOwnFault(f"The mail server does not accept our sign-in: {_said(error)}")
    if isinstance(error, smtplib.SMTPNotSupportedError):
        return OurOwnFault(f"The mail server cannot do what the settings ask of it: {error}")
    return Unreachable(f"The mail server cannot be reached: {_words(error)}")


def _hand_over(server: smtplib.SMTP, email: EmailMessage) -> None:
    content = re.sub(rb"\r\n|\r|\n", b"\r\n", email.message().as_bytes())
    sender, receiver = parseaddr(email.from_email)[1], parseaddr(email.recipients()[0])[1]
    try:
        server.ehlo_or_helo_if_needed()
        size = [f"size={len(content)}"] if server.does_esmtp and server.has_extn("size") else []
        _sender(*server.mail(sender, size))
        _recipient(*server.rcpt(receiver))
        _ready(*server.docmd("DATA"))
    except (OSError, smtplib.SMTPServerDisconnected) as error:
        raise TryLater(f"The connection broke before the message was handed over: {_words(error)}") from error
    except smtplib.SMTPException as error:
        raise TryLater(f"The mail server broke off: {_words(error)}") from error
    try:
        server.send(_dotted(content))
        answer = server.getreply()
    except (OSError, smtplib.SMTPException) as error:
        raise AnswerLost(f"The message was handed over, but no answer came: {_words(error)}") from error
    _taken(*answer)


def _sender(code: int, said: bytes) -> None:
    if 200 <= code < 300:
        return
    words = _answer(code, said)
    if 400 <= code < 500:
        raise TryLater(f"The mail server put the message off: {words}")
    if code == 552 or said.startswith(TOO_BIG):
        raise Refused(f"The message is too big for the mail server: {words}")
    raise OurOwnFault(f"The mail server does not accept our address as sender: {words}")


def _recipient(code: int, said: bytes) -> None:
    if 200 <= code < 300:
        return
    words = _answer(code, said)
    if 400 <= code < 500:
        raise TryLater(f"The mail server put the receiver off: {words}", about_recipient=True)
    if code == SIGN_IN_FIRST:
        raise OurOwnFault(f"The mail server wants a sign-in: {words}")
    if said.startswith(b"5.7."):
        # Refused for policy, not because there is no such address (RFC 3463 class x.7, from memory).
        raise Refused(f"The mail server does not let us write to this receiver: {words}")
    raise RecipientRefused(f"The address does not work: {words}")


def _ready(code: int, said: bytes) -> None:
    if code == 354:
        return
    if 400 <= code < 500:
        raise TryLater(f"The mail server put the message off: {_answer(code, said)}")
    raise Refused(f"The mail server did not want the message: {_answer(code, said)}")


def _taken(code: int, said: bytes) -> None:
    if 200 <= code < 300:
        return
    if 400 <= code < 500:
        raise TryLater(f"The mail server put the message off: {_answer(code, said)}")
    if code == -1:
        raise AnswerLost("The message was handed over, and the answer could not be read.")
    raise Refused(f"The mail server refused the message: {_answer(code, said)}")


def _dotted(content: bytes) -> bytes:
    """The content as it goes over the wire: a line that begins with a dot gets another (RFC 5321 4.5.2)."""
    lines = content.replace(b"\r\n.", b"\r\n..")
    if lines.startswith(b"."):
        lines = b"." + lines
    return lines + (b"" if lines.endswith(b"\r\n") else b"\r\n") + b".\r\n"


def _goodbye(server: smtplib.SMTP) -> None:
    """End the conversation; how it ends changes nothing any more."""
    try:
        server.quit()
    except (OSError, smtplib.SMTPException):
        server.close()


def _answer(code: int, said: bytes) -> str:
    return f"{code} {' '.join(said.decode('utf-8', 'replace').split())}"[:160]


def _said(error: smtplib.SMTPResponseException) -> str:
    said = error.smtp_error
    return _answer(error.smtp_code, said if isinstance(said, bytes) else str(said).encode())


def _words(error: Exception) -> str:
    return (str(error) or type(error).__name__)[:160]
