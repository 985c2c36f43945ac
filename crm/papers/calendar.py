"""The calendar file of an aftercare sheet: one entry for the end of each wait, one for each planned wash visit.

RFC 5545. Single entries and no recurrence rules: "every six months from 31 August" as a rule would leave out
every February. The file is a snapshot, so it names no METHOD (section 3.7.2).
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from urllib.parse import urlsplit

from django.conf import settings
from icalendar import Calendar, Event

from crm.models import Sheet
from crm.selectors.sheet import AdviceLine, SheetContent, WashVisit, content_of

HALF_AN_HOUR = timedelta(minutes=30)


def aftercare_ics(sheet: Sheet) -> bytes:
    """The calendar file, with CRLF line ends and lines of 75 octets at most.

    An entry keeps its UID however often the file is made (section 3.8.4.7); SEQUENCE is the sheet's revision.
    Raises SheetUnreadable where the content is not a sheet.
    """
    content = content_of(sheet)
    calendar = Calendar()
    calendar.add("prodid", "-//Overwinter//Aftercare//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    for line in content.donts_by_end:
        if line.until is not None:
            calendar.add_component(_wait_ends(sheet, content, line, line.until))
    for visit in content.wash_visits:
        calendar.add_component(_wash_visit(sheet, content, visit))
    return bytes(calendar.to_ical())


def _wait_ends(sheet: Sheet, content: SheetContent, line: AdviceLine, until: datetime) -> Event:
    event = _event(sheet, content, f"wait-{line.code}")
    event.add("summary", f"{_first_upper(content.car_words)}, over now: {_gist(line.words)}")
    event.add("description", f"Until now: {line.words}")
    start = _whole_minute(until)
    event.add("dtstart", start)
    event.add("dtend", start + HALF_AN_HOUR)
    return event


def _wash_visit(sheet: Sheet, content: SheetContent, visit: WashVisit) -> Event:
    event = _event(sheet, content, f"wash-{visit.on.isoformat()}")
    event.add("summary", f"{_first_upper(content.car_words)}: wash visit due about now")
    ring = f" Ring {content.studio_name} on {content.studio_phone}." if content.studio_phone else ""
    event.add("description", f"{_first_upper(visit.words)}.{ring}")
    event.add("dtstart", visit.on)
    return event


def _event(sheet: Sheet, content: SheetContent, what: str) -> Event:
    event = Event()
    event.add("uid", f"visit-{sheet.visit_id}-{what}@{urlsplit(settings.BASE_URL).hostname}")
    event.add("sequence", content.revision)
    event.add("dtstamp", sheet.made_at.astimezone(UTC))
    # It reminds, and blocks nobody's time.
    event.add("transp", "TRANSPARENT")
    return event


def _whole_minute(moment: datetime) -> datetime:
    """In UTC, and up to the next minute: nobody is told a wait is over before it is."""
    exact = moment.astimezone(UTC)
    whole = exact.replace(second=0, microsecond=0)
    return whole if whole == exact else whole + timedelta(minutes=1)


def _gist(words: str) -> str:
    """What a line is about: its words up to the first stop."""
    gist = re.split(r"[,;:.?(]", words, maxsplit=1)[0].strip()
    return gist[:1].lower() + gist[1:]


def _first_upper(words: str) -> str:
    return words[:1].upper() + words[1:]
