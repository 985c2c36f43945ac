"""The parts of the tour that need no studio: the page, the chart in plain signs, the papers of a note."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from email.message import EmailMessage
from io import BytesIO, StringIO, TextIOWrapper
from pathlib import Path

import pytest

from crm.care.forecast import Window
from crm.care.seasons import MonthDay, Season
from crm.care.surfaces import Zone, surfaces_of
from crm.care.terms import Condition
from crm.management.demo import folder
from crm.management.demo.coats import KEY, LANE, coat_lines
from crm.management.demo.folder import MARK, NotTheDemo, claim_folder, empty_folder
from crm.management.demo.mail import PapersMissing, find_message, unpack
from crm.management.demo.page import Page
from crm.management.demo.who_hears import Kept, by_reason, reminders
from crm.management.stack.running_lock import AlreadyRunning, RunningLock
from crm.models import Forecast, Layer
from crm.selectors.car_lanes import OnZone, ZoneLane
from crm.setting_up.folders import DataFolder
from tests import factories
from tests.post.cast import MAY, sealed_car

SALT = Season(MonthDay(11, 1), MonthDay(3, 31))
TODAY = date(2026, 11, 25)


def test_page_wraps_sentences_and_leaves_paths_whole() -> None:
    out = StringIO()
    page = Page(out)
    page.chapter("One")
    page.say("word " * 40, hang="- ")
    page.path("The note", "/a" * 60)
    page.path("The note", "/short")
    lines = out.getvalue().splitlines()
    assert lines[:3] == ["", "1  One", "------"]
    assert [line for line in lines if len(line) > 80] == ["   " + "/a" * 60]
    assert lines[3].startswith("   - word")
    assert lines[4].startswith("     word")
    assert lines[-1] == "   The note     /short"


def test_page_lines_columns_up() -> None:
    out = StringIO()
    Page(out).table([("Jo Tern", "QA21 LME", "one"), ("Al", "QB1", "two " * 30)])
    assert out.getvalue().splitlines()[:3] == [
        "   Jo Tern  QA21 LME  one",
        "   Al       QB1       two two two two two two two two two two two two two two",
        "                      two two two two two two two two two two two two two two",
    ]


def test_page_writes_what_a_plain_terminal_can_show() -> None:
    raw = BytesIO()
    out = TextIOWrapper(raw, encoding="ascii")
    Page(out).line("Łucja “says” yes")
    assert raw.getvalue() == b"?ucja ?says? yes\n"


def _lane(zone: Zone, laid: datetime, window: Window | None) -> ZoneLane:
    row = OnZone(
        layer=Layer(laid_at=laid),
        surfaces=surfaces_of(zone),
        where="",
        condition=Condition.HOLDING,
        window=window,
        reasons=(),
        by_figures="",
        promised="",
        promised_on=None,
        seen=(),
        clocks=(),
    )
    return ZoneLane(zone, zone.value, (row,), "")


def test_chart_has_a_sign_for_every_month() -> None:
    window = Window(date(2026, 12, 10), date(2027, 2, 10), date(2027, 3, 5))
    lanes = [
        _lane(Zone.TOPS, datetime(2026, 9, 3, 14, tzinfo=UTC), window),
        _lane(Zone.SEATS, datetime(2026, 10, 3, 14, tzinfo=UTC), None),
    ]
    lines = [line[LANE:].rstrip() for line in coat_lines(lanes, today=TODAY, salt=SALT)]
    # Months from September 2026: S O N D J F M
    assert lines[0] == "    2027        2028        2029        2030"
    assert lines[1][:7] == "  *****"
    assert lines[2] == "==|~~o~"
    assert lines[3].startswith(" =|....")
    assert list(coat_lines(lanes, today=TODAY, salt=SALT))[-1] == KEY


def test_reasons_are_gathered_whatever_their_day() -> None:
    kept = [
        Kept("A", "QA1", "said no to letters on 3 May 2026"),
        Kept("B", "QB1", "said no to letters on 4 May 2026"),
        Kept("C", "QC1", "the car is in storage"),
        Kept("D", "QD1", "open complaint since 3 October 2026"),
    ]
    assert [(count, reason, one.who) for count, reason, one in by_reason(kept)] == [
        (2, "said no to letters", "A"),
        (1, "open complaint", "D"),
        (1, "the car is in storage", "C"),
    ]


def _note(folder: Path, *attached: tuple[str, bytes, str, str]) -> Path:
    message = EmailMessage()
    message["Message-ID"], message["Subject"] = "<one@localhost>", "Aftercare"
    message.set_content("Hello")
    for name, content, main, sub in attached:
        message.add_attachment(content, maintype=main, subtype=sub, filename=name)
    path = folder / "one.eml"
    path.write_bytes(message.as_bytes())
    return path


ICS = (
    b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:x\r\nBEGIN:VEVENT\r\nUID:1\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
)


def test_note_is_found_by_its_number_and_unpacked(tmp_path: Path) -> None:
    path = _note(
        tmp_path, ("../sheet.pdf", b"%PDF-1.7", "application", "pdf"), ("a.ics", ICS, "text", "calendar")
    )
    assert find_message(tmp_path, "one@localhost") == path
    assert find_message(tmp_path, "two@localhost") is None
    arrived = unpack(path, tmp_path / "out")
    assert (arrived.pdf, arrived.entries) == (tmp_path / "out" / "sheet.pdf", 1)


@pytest.mark.parametrize(
    ("attached", "sentence"),
    [
        ((), "The aftercare note came without its PDF sheet."),
        (((("a.pdf"), b"hello", "application", "pdf"),), "The aftercare note came without its PDF sheet."),
        (
            (("a.pdf", b"%PDF-1.7", "application", "pdf"),),
            "The aftercare note came without its calendar file.",
        ),
    ],
)
def test_note_without_its_papers_is_a_failure(
    tmp_path: Path, attached: tuple[tuple[str, bytes, str, str], ...], sentence: str
) -> None:
    with pytest.raises(PapersMissing) as caught:
        unpack(_note(tmp_path, *attached), tmp_path / "out")
    assert str(caught.value) == sentence


def test_emptied_folder_keeps_its_mark_and_its_key_and_nothing_of_the_studio(tmp_path: Path) -> None:
    folder = DataFolder(root=tmp_path / "demo")
    claim_folder(folder)
    folder.secret_key.write_text("key")
    for path in (
        folder.database,
        folder.root / "overwinter.sqlite3-wal",
        folder.beat,
        folder.mail / "one.eml",
    ):
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"x")
    empty_folder(folder)
    assert sorted(path.name for path in folder.root.iterdir()) == ["running.lock", "secret_key", MARK]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("now", "day"),
    [
        # 23:30 and 00:30 in summer time; in Greenwich it is the 14th both times.
        (datetime(2026, 7, 14, 22, 30, tzinfo=UTC), date(2026, 7, 14)),
        (datetime(2026, 7, 14, 23, 30, tzinfo=UTC), date(2026, 7, 15)),
    ],
)
def test_demo_ends_on_the_day_it_is_here(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, now: datetime, day: date
) -> None:
    monkeypatch.setattr(folder, "build_demo", lambda **_: None)
    factories.user()
    kept = DataFolder(root=tmp_path / "demo")
    claim_folder(kept)
    folder.build(kept, now=now, say=lambda _: None)
    assert folder.built_until(kept) == day


@pytest.mark.django_db
def test_reminders_come_before_what_is_past_by_the_day_of_the_studio() -> None:
    gone, due = (sealed_car(at=MAY - timedelta(days=60), salted=None) for _ in range(2))
    for car, low in ((gone, date(2026, 7, 14)), (due, date(2026, 7, 16))):
        Forecast.objects.filter(car=car).update(low=low, due_on=low, likely=low + timedelta(days=90))
    # Half past midnight on the 15th: what was to come on the 14th is past.
    asked, _ = reminders(datetime(2026, 7, 14, 23, 30, tzinfo=UTC))
    assert [item.due.day for item in asked] == [16, 14]


def test_folder_in_use_is_not_emptied(tmp_path: Path) -> None:
    folder = DataFolder(root=tmp_path)
    claim_folder(folder)
    folder.database.write_bytes(b"x")
    lock = RunningLock(folder.lock)
    lock.take()
    with pytest.raises(AlreadyRunning):
        empty_folder(folder)
    lock.release()
    assert folder.database.read_bytes() == b"x"


def test_folder_is_claimed_once_and_never_taken_from_a_studio(tmp_path: Path) -> None:
    mine = DataFolder(root=tmp_path / "mine")
    claim_folder(mine)
    claim_folder(mine)
    assert (mine.root / MARK).is_file()
    theirs = DataFolder(root=tmp_path)
    theirs.database.write_bytes(b"x")
    with pytest.raises(NotTheDemo, match="holds a studio that is not the demo"):
        claim_folder(theirs)
    assert not (theirs.root / MARK).exists()
