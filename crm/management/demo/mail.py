"""Taking a message out of the mail folder and its papers out of the message."""

from __future__ import annotations

from dataclasses import dataclass
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path

from icalendar import Calendar


class PapersMissing(Exception):
    """The note arrived without what should go with it."""


@dataclass(frozen=True)
class Arrived:
    """A note as its receiver has it, and its papers unpacked beside."""

    file: Path
    message: EmailMessage
    pdf: Path
    ics: Path
    entries: int
    """How many entries the calendar file holds."""


def find_message(folder: Path, message_id: str) -> Path | None:
    """The file of the message with this Message-ID, once it is there."""
    for path in sorted(folder.glob("*.eml"), reverse=True):
        if _read(path)["Message-ID"] == f"<{message_id}>":
            return path
    return None


def unpack(file: Path, to: Path) -> Arrived:
    """Write the attached papers into a folder and look at each. Raises PapersMissing with a sentence."""
    message = _read(file)
    to.mkdir(parents=True, exist_ok=True)
    found: dict[str, Path] = {}
    for part in message.iter_attachments():
        path = to / Path(part.get_filename() or "paper").name
        content = part.get_payload(decode=True)
        path.write_bytes(content if isinstance(content, bytes) else b"")
        found[part.get_content_type()] = path
    pdf, ics = found.get("application/pdf"), found.get("text/calendar")
    if pdf is None or not pdf.read_bytes().startswith(b"%PDF-"):
        raise PapersMissing("The aftercare note came without its PDF sheet.")
    if ics is None:
        raise PapersMissing("The aftercare note came without its calendar file.")
    try:
        entries = len(Calendar.from_ical(ics.read_bytes()).walk("VEVENT"))
    except ValueError as error:
        raise PapersMissing(f"The calendar file cannot be read: {error}") from error
    return Arrived(file, message, pdf, ics, entries)


def _read(path: Path) -> EmailMessage:
    return message_from_bytes(path.read_bytes(), policy=policy.default)
