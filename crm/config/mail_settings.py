"""How messages leave: what the environment says about the SMTP server."""

from __future__ import annotations

from dataclasses import dataclass
from email.utils import parseaddr
from urllib.parse import SplitResult

from crm.config.reader import Reader

SMTP = "django.core.mail.backends.smtp.EmailBackend"
FOLDER = "crm.config.mail_folder.MailFolderBackend"


@dataclass(frozen=True, kw_only=True)
class Mail:
    """How messages leave: an SMTP server, or files in the data folder while none is set."""

    backend: str
    host: str
    port: int
    user: str
    password: str
    starttls: bool
    tls: bool
    sender: str

    @property
    def to_folder(self) -> bool:
        return self.backend == FOLDER


def read_mail(reader: Reader, base: SplitResult) -> Mail:
    """SMTP when a server is named; `OVERWINTER_SMTP_SECURITY` is starttls, tls or none."""
    host = reader.text("OVERWINTER_SMTP_HOST")
    security = reader.text("OVERWINTER_SMTP_SECURITY", "starttls").lower()
    port = reader.number("OVERWINTER_SMTP_PORT", 465 if security == "tls" else 587)
    user = reader.text("OVERWINTER_SMTP_USER")
    password = str(reader.env.str("OVERWINTER_SMTP_PASSWORD", ""))
    sender = reader.text("OVERWINTER_MAIL_FROM")
    if security not in {"starttls", "tls", "none"}:
        reader.refuse(f"OVERWINTER_SMTP_SECURITY must be starttls, tls or none, not {security!r}.")
    if not 0 < port < 65536:
        reader.refuse(f"OVERWINTER_SMTP_PORT must be from 1 to 65535, not {port}.")
    if bool(user) != bool(password):
        reader.refuse("OVERWINTER_SMTP_USER and OVERWINTER_SMTP_PASSWORD go together: set both or neither.")
    if sender and "@" not in parseaddr(sender)[1]:
        reader.refuse(
            f"OVERWINTER_MAIL_FROM must be an address, like Studio <post@example.org>, not {sender!r}."
        )
    if host and not sender:
        reader.refuse(
            "OVERWINTER_MAIL_FROM is missing: with OVERWINTER_SMTP_HOST set, say which address writes."
        )
    return Mail(
        backend=SMTP if host else FOLDER,
        host=host,
        port=port,
        user=user,
        password=password,
        starttls=security == "starttls",
        tls=security == "tls",
        sender=sender or f"studio@{base.hostname}",
    )
