"""The calendar file, read back by a parser and by its octets."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest
from icalendar import Calendar

from crm.models import Sheet
from crm.papers.calendar import aftercare_ics
from crm.papers.sheet import AdviceLine, SheetContent, SheetUnreadable, WashVisit
from tests.papers.content import CONTENT, MADE_AT


def _sheet(content: SheetContent) -> Sheet:
    return Sheet(visit_id=17, text_version="1", content=content.to_json(), made_at=MADE_AT)


def _events(content: SheetContent) -> list[Any]:
    return list(Calendar.from_ical(aftercare_ics(_sheet(content))).walk("VEVENT"))


def test_one_entry_for_each_wait_that_ends_and_each_wash_visit() -> None:
    ending = [line for line in CONTENT.advice.donts if line.until]
    events = _events(CONTENT)
    assert len(events) == len(ending) + len(CONTENT.wash_visits)
    assert [event["DTSTART"].dt for event in events[:2]] == [line.until for line in CONTENT.donts_by_end[:2]]
    assert events[-1]["DTSTART"].dt == date(2027, 2, 28)


def test_entries_say_what_is_over_and_for_which_car() -> None:
    summaries = [str(event["SUMMARY"]) for event in _events(CONTENT)]
    assert summaries[0] == "Blue Halden Estate, over now: keep it dry"
    assert summaries[-1] == "Blue Halden Estate: wash visit due about now"
    assert not any("QA26" in str(event) for event in _events(CONTENT))


def test_uids_are_stable_and_differ() -> None:
    first, again = _events(CONTENT), _events(CONTENT)
    uids = [str(event["UID"]) for event in first]
    assert uids == [str(event["UID"]) for event in again]
    assert len(set(uids)) == len(uids)
    assert uids[0] == "visit-17-wait-keep_dry@localhost"


def test_same_wait_with_a_new_end_keeps_its_uid_and_counts_its_revision() -> None:
    later = replace(CONTENT.advice.donts[0], until=datetime(2026, 5, 12, 10, tzinfo=UTC))
    advice = replace(CONTENT.advice, donts=(later,))
    (event,) = _events(replace(CONTENT, advice=advice, wash_visits=(), revision=2))
    # RFC 5545 sections 3.8.4.7 and 3.8.7.4.
    assert (str(event["UID"]), event["SEQUENCE"]) == ("visit-17-wait-no_wash@localhost", 2)
    assert [event["SEQUENCE"] for event in _events(CONTENT)] == [0] * len(_events(CONTENT))


def test_file_is_a_snapshot_without_method_or_recurrence() -> None:
    raw = aftercare_ics(_sheet(CONTENT))
    # RFC 5545 section 3.7.2: without METHOD the file is a mere snapshot.
    assert b"METHOD" not in raw
    assert b"RRULE" not in raw
    assert (
        raw.count(b"BEGIN:VEVENT")
        == raw.count(b"\r\nUID:")
        == raw.count(b"\r\nDTSTAMP:")
        == len(_events(CONTENT))
    )


def test_moments_are_utc_and_rounded_up_to_the_minute() -> None:
    line = replace(CONTENT.advice.donts[0], until=datetime(2026, 5, 12, 10, 0, 30, tzinfo=UTC))
    content = replace(CONTENT, advice=replace(CONTENT.advice, donts=(line,)), wash_visits=())
    assert b"DTSTART:20260512T100100Z" in aftercare_ics(_sheet(content))


def test_wash_visits_at_month_ends_are_single_days() -> None:
    # From 31 August every six months, held back to the end of February (computed with python-dateutil 4.0.0).
    days = (date(2026, 2, 28), date(2026, 8, 31), date(2027, 2, 28))
    visits = tuple(WashVisit(on=day, words="maintenance wash") for day in days)
    events = _events(replace(CONTENT, advice=replace(CONTENT.advice, donts=()), wash_visits=visits))
    assert [event["DTSTART"].dt for event in events] == list(days)


@pytest.mark.parametrize(
    "words",
    [
        "é" * 40,
        "Keep it dry; no jets, no \\ soap\nand no cover.",
        "غطاء السيارة ممنوع حتى يجف الطلاء تماما ولا غسيل ولا شمع",
        "🚗" * 60,
        "x" * 400,
    ],
)
def test_lines_are_75_octets_at_most_and_unfold_to_what_was_said(words: str) -> None:
    line = AdviceLine(code="odd", words=words, until=datetime(2026, 5, 12, 10, tzinfo=UTC))
    content = replace(CONTENT, advice=replace(CONTENT.advice, donts=(line,)), wash_visits=())
    raw = aftercare_ics(_sheet(content))
    # RFC 5545 section 3.1: CRLF line ends, 75 octets without the break, never cut inside a UTF-8 sequence.
    assert raw.endswith(b"\r\n")
    assert b"\n" not in raw.replace(b"\r\n", b"")
    for piece in raw.split(b"\r\n"):
        assert len(piece) <= 75
        piece.decode("utf-8")
    (event,) = Calendar.from_ical(raw).walk("VEVENT")
    assert str(event["DESCRIPTION"]) == f"Until now: {words}"


def test_calendar_keeps_the_minute_where_the_sheet_tells_the_day() -> None:
    far = next(line for line in CONTENT.waits if line.until == "the end of Monday 11 May")
    sheet = Sheet(visit_id=1, text_version="1", content=CONTENT.to_json(), made_at=MADE_AT)
    starts = [event.decoded("dtstart") for event in Calendar.from_ical(aftercare_ics(sheet)).walk("VEVENT")]
    assert far.ends == datetime(2026, 5, 11, 14, 10, tzinfo=UTC)
    assert far.ends in starts


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"shape": 99}, "This aftercare sheet was written by a newer version of the program. Bring this"),
        (
            {"shape": "none"},
            "This aftercare sheet cannot be read back from the record. What was printed or sent",
        ),
        ({"handed_over_at": "yesterday"}, "This aftercare sheet cannot be read back from the record."),
        ({"time_zone": "Europe/Skerrin"}, "This aftercare sheet cannot be read back from the record."),
        ({"layers": None}, "This aftercare sheet cannot be read back from the record."),
    ],
)
def test_content_that_is_no_sheet_is_refused_with_what_to_do(
    change: dict[str, object], sentence: str
) -> None:
    content = CONTENT.to_json() | change
    with pytest.raises(SheetUnreadable, match=f"^{sentence}"):
        aftercare_ics(Sheet(visit_id=1, text_version="1", content=content, made_at=MADE_AT))
