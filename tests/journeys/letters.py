"""Reading what came by post: the mail, its paper, its calendar file."""

from __future__ import annotations

import subprocess
from datetime import datetime
from email.message import EmailMessage

from icalendar import Calendar


def subjects(taken: list[EmailMessage]) -> list[tuple[str, str]]:
    """Receiver and subject of every mail, in the order in which they came."""
    return [(str(mail["To"]), str(mail["Subject"])) for mail in taken]


def words_of(mail: EmailMessage) -> str:
    """The plain text of a mail, on one line."""
    part = mail.get_body(("plain",))
    assert part is not None
    return " ".join(str(part.get_content()).split())


def enclosed(mail: EmailMessage) -> dict[str, bytes]:
    """The files of a mail by their kind."""
    return {part.get_content_type(): part.get_payload(decode=True) for part in mail.iter_attachments()}  # type: ignore[misc]


def paper_text(pdf: bytes) -> str:
    """What a reader reads on paper, by poppler's pdftotext, with runs of blanks as one."""
    read = subprocess.run(
        ["pdftotext", "-layout", "-", "-"], input=pdf, check=True, capture_output=True, timeout=60
    )
    return " ".join(read.stdout.decode("utf-8").split())


def calendar_ends(ics: bytes) -> set[datetime]:
    """The moments at which events of a calendar file begin, once every event is what RFC 5545 demands of one.

    UID and DTSTAMP are required (section 3.6.1), and DTSTART where no METHOD is given; nothing repeats.
    """
    calendar = Calendar.from_ical(ics)
    assert calendar["VERSION"] == "2.0"
    assert "PRODID" in calendar
    events = calendar.walk("VEVENT")
    assert len(events) > 0
    assert [
        event for event in events if not all(name in event for name in ("UID", "DTSTAMP", "DTSTART"))
    ] == []
    assert [event for event in events if "RRULE" in event or "RDATE" in event] == []
    assert len({str(event["UID"]) for event in events}) == len(events)
    return {start for event in events if isinstance(start := event.decoded("DTSTART"), datetime)}
