"""`manage.py demo` and its tour, run as a person would run them: real processes, a real broker, real files."""

from __future__ import annotations

import re
import signal
import time
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path

import pytest
from icalendar import Calendar

from crm.services.demo import PASSWORD, SIGN_INS
from tests.processes import Command, children_of, is_alive

pytestmark = pytest.mark.stack
CHAPTERS = (
    "1  The phone rings",
    "2  What is on QB68 OSZ",
    "3  The car goes back to its keeper",
    "4  The aftercare note leaves",
    "5  Who is reminded before a layer lapses",
    "6  Who is asked in before winter",
    "7  What was written",
)


class Played:
    """One tour: what it said, how it ended, and the folder that it left."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.left: set[int] = set()
        self.took = time.monotonic()
        command = Command("demo", "--tour", "--data", str(folder), environment={})
        try:
            while command.process.poll() is None:
                self.left |= children_of(command.process.pid)
                time.sleep(0.2)
            self.code = command.finish()
        finally:
            command.end()
        self.took = time.monotonic() - self.took
        self.said = command.said

    def path(self, what: str) -> Path:
        """The path that stands behind a word in the last chapter."""
        found = re.search(rf"^   {what}\s+(/.+)$", self.said, re.MULTILINE)
        assert found, self.said
        return Path(found[1])


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Played:
    return Played(tmp_path_factory.mktemp("tour") / "data")


def test_tour_ends_well_and_leaves_no_process(played: Played) -> None:
    assert played.code == 0, played.said
    assert len(played.left) >= 4  # broker, web, worker and beat were there
    assert [pid for pid in played.left if is_alive(pid)] == []


def test_tour_tells_every_chapter_in_eighty_columns(played: Played) -> None:
    places = [played.said.find(chapter) for chapter in CHAPTERS]
    assert -1 not in places, played.said
    assert places == sorted(places)
    long = [line for line in played.said.splitlines() if len(line) > 80 and not line.strip().startswith("/")]
    assert long == []
    assert "!" not in played.said


def test_tour_finds_the_car_by_signs_taken_for_others(played: Played) -> None:
    chapter = played.said.partition(CHAPTERS[0])[2].partition(CHAPTERS[1])[0]
    assert "Typed 805" in chapter
    assert "QB68 OSZ" in chapter


def test_tour_tells_windows_reasons_and_who_is_left_out(played: Played) -> None:
    chart = played.said.partition(CHAPTERS[1])[2].partition(CHAPTERS[2])[0]
    assert "reference life of" in chart
    assert "= holding" in chart
    assert chart.count("\n   - ") >= 4
    assert played.said.count("Left out:") == 2
    assert "a complaint is open: " in played.said


def test_note_of_the_tour_is_a_whole_message_with_pdf_and_calendar(played: Played) -> None:
    message = message_from_bytes(played.path("The note").read_bytes(), policy=policy.default)
    assert isinstance(message, EmailMessage)
    assert message["To"] == "Wenna Trescothek <wenna.t@example.org>"
    assert message["Auto-Submitted"] == "auto-generated"
    kinds = [part.get_content_type() for part in message.iter_attachments()]
    assert sorted(kinds) == ["application/pdf", "text/calendar"]
    sheet = played.path("The sheet").read_bytes()
    assert sheet.startswith(b"%PDF-")
    assert sheet.rstrip().endswith(b"%%EOF")
    calendar = Calendar.from_ical(played.path("The calendar").read_bytes())
    assert len(calendar.walk("VEVENT")) >= 5


def test_demo_starts_on_what_was_built_says_how_to_sign_in_and_ends_with_ctrl_c(played: Played) -> None:
    command = Command("demo", "--data", str(played.folder), "--port", "0", environment={})
    try:
        command.wait_for("Sign in with the password", seconds=120)
        command.wait_for(SIGN_INS[-1].name)
        family = children_of(command.process.pid)
        command.send(signal.SIGINT)
        assert command.finish() == 0, command.said
    finally:
        command.end()
    assert "Building" not in command.said
    assert PASSWORD in command.said
    assert [person.name for person in SIGN_INS if person.name not in command.said] == []
    assert re.search(r"Overwinter is open at http://localhost:\d+", command.said)
    assert [pid for pid in family if is_alive(pid)] == []


@pytest.mark.parametrize("arguments", [(), ("--fresh",), ("--tour",)])
def test_folder_of_a_real_studio_is_not_touched(tmp_path: Path, arguments: tuple[str, ...]) -> None:
    database = tmp_path / "overwinter.sqlite3"
    database.write_bytes(b"a studio's whole memory")
    command = Command("demo", "--data", str(tmp_path), *arguments, environment={})
    try:
        assert command.finish() == 1
    finally:
        command.end()
    assert command.said == (
        f"CommandError: {tmp_path} holds a studio that is not the demo. Nothing was touched; "
        "name another folder with --data.\n"
    )
    assert database.read_bytes() == b"a studio's whole memory"
