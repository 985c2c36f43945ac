"""`manage.py studio` as a person starts it: real broker, web server, worker and beat."""

from __future__ import annotations

import os
import re
import shutil
import signal
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from crm.setting_up.folders import DataFolder
from tests.processes import Command, children_of, is_alive, wait_until

pytestmark = pytest.mark.stack
OPEN = "Ctrl-C ends everything."
WHOLE_FAMILY = 8  # broker, gunicorn and its two, the worker and its two, beat
PASSWORD = "a-long-enough-word-7"


@dataclass(frozen=True)
class NobodyThere:
    """A first run that had nobody to ask: how it ended, and the folder, made ready but without an account."""

    code: int
    said: str
    root: Path


@pytest.fixture(scope="module")
def nobody_there(tmp_path_factory: pytest.TempPathFactory) -> NobodyThere:
    """Made from nothing, once; what every other test here begins with is a copy of it."""
    root = tmp_path_factory.mktemp("embedded") / "data"
    command = Command("studio", "--name", "Greywater Yard", environment={"OVERWINTER_DATA": str(root)})
    return NobodyThere(command.finish(), command.said, root)


@pytest.fixture
def data(nobody_there: NobodyThere, tmp_path: Path) -> DataFolder:
    """A folder whose tables and static files are there already, before anybody has an account."""
    shutil.copytree(nobody_there.root, tmp_path / "data")
    return DataFolder(root=tmp_path / "data")


@pytest.fixture
def studio(data: DataFolder) -> Iterator[Command]:
    """A studio that has come up with its first account, on a port that was free."""
    command = Command(
        *("studio", "--port", "0", "--name", "Greywater Yard", "--owner", "mara"),
        environment={
            "OVERWINTER_DATA": str(data.root),
            "OVERWINTER_OWNER_PASSWORD": PASSWORD,
            "OVERWINTER_TICK_SECONDS": "1",
        },
    )
    try:
        command.wait_for(OPEN)
        # The worker's own processes come up a moment after the pages.
        wait_until(lambda: " ready." in (data.logs / "worker.log").read_text(), seconds=60, what="the worker")
        assert len(children_of(command.process.pid)) >= WHOLE_FAMILY
        yield command
    finally:
        command.end()


def _address(command: Command) -> str:
    found = re.search(r"open at (http://localhost:\d+)", command.said)
    assert found is not None, command.said
    return found.group(1)


def _status(url: str) -> int:
    try:
        with urllib.request.urlopen(url, timeout=20) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as error:
        with error:
            return error.code


def _command_line(pid: int) -> bytes:
    """The words a process was started with; nothing for one that has ended."""
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes()
    except OSError:
        return b""


def test_studio_serves_pages_runs_the_post_and_ends_in_order(studio: Command, data: DataFolder) -> None:
    family = children_of(studio.process.pid)
    assert "Made the owner-manager's account: sign in as mara." in studio.said
    assert f"nothing is sent, mail goes to {data.mail}" in studio.said
    assert PASSWORD not in studio.said

    assert _status(_address(studio) + "/") == 200
    manifest = (data.static / "staticfiles.json").read_text(encoding="utf-8")
    hashed = re.search(r'"(crm/[^"]+\.[0-9a-f]{12}\.css)"', manifest)
    assert hashed is not None
    assert _status(f"{_address(studio)}/static/{hashed.group(1)}") == 200

    worker = data.logs / "worker.log"
    wait_until(
        lambda: re.search(r"crm\.tasks\.tick\S* succeeded", worker.read_text(encoding="utf-8")) is not None,
        seconds=30,
        what="a tick that the worker has carried out",
    )

    second = Command("studio", environment={"OVERWINTER_DATA": str(data.root)})
    assert second.finish() == 1
    assert f"already running on {data.root} ({_address(studio)}, process {studio.process.pid})" in second.said

    studio.send(signal.SIGINT)
    assert studio.finish() == 0
    assert studio.said.endswith("Stopping.\n")
    assert [pid for pid in family if is_alive(pid)] == []


@pytest.mark.unmeasured
def test_studio_killed_leaves_no_orphan_and_starts_again(studio: Command, data: DataFolder) -> None:
    family = children_of(studio.process.pid)
    studio.send(signal.SIGKILL)
    assert studio.finish() == -signal.SIGKILL
    wait_until(lambda: not any(map(is_alive, family)), seconds=10, what="the end of every child")

    again = Command("studio", "--port", "0", environment={"OVERWINTER_DATA": str(data.root)})
    try:
        again.wait_for(OPEN)
        assert "Made the owner-manager's account" not in again.said
        assert _status(_address(again) + "/") == 200
        again.send(signal.SIGTERM)
        assert again.finish() == 0
    finally:
        again.end()


@pytest.mark.unmeasured
@pytest.mark.parametrize("name", ["worker", "web"])
def test_studio_stops_with_a_sentence_when_a_program_dies(
    studio: Command, data: DataFolder, name: str
) -> None:
    family = children_of(studio.process.pid)
    marks = {"worker": b"crm.config.celery:app\0worker", "web": b"-m\0gunicorn"}
    masters = family - {pid for child in family for pid in children_of(child)}
    (victim,) = (pid for pid in masters if marks[name] in _command_line(pid))
    os.kill(victim, signal.SIGKILL)
    assert studio.finish() == 1
    assert f"The {name} was killed by signal 9, so everything was stopped." in studio.said
    assert str(data.logs / f"{name}.log") in studio.said
    wait_until(lambda: not any(map(is_alive, family)), seconds=10, what="the end of every child")


def test_first_run_with_nobody_to_ask_says_what_to_give(nobody_there: NobodyThere) -> None:
    assert nobody_there.code == 1
    assert nobody_there.said == (
        "CommandError: This is the first run and nobody is there to ask. Give --owner.\n"
    )


def test_first_run_refuses_a_password_that_anyone_would_guess(data: DataFolder, tmp_path: Path) -> None:
    secret = tmp_path / "password"
    secret.write_text("password12\n", encoding="utf-8")
    command = Command(
        *("studio", "--name", "Greywater Yard", "--owner", "mara", "--password-file", str(secret)),
        environment={"OVERWINTER_DATA": str(data.root)},
    )
    assert command.finish() == 1
    assert command.said == "CommandError: This password is too common.\n"


def test_studio_is_not_started_beside_served_settings(data: DataFolder) -> None:
    command = Command(
        "studio",
        environment={
            "OVERWINTER_DATA": str(data.root),
            "DATABASE_URL": "postgresql://localhost:1/studio",
            "REDIS_URL": "redis://localhost:1/0",
            "OVERWINTER_BASE_URL": "https://studio.example.org",
            "OVERWINTER_SECRET_KEY": "0123456789-a-long-secret-key-for-the-tests-alone-0123456789",
        },
    )
    assert command.finish() == 1
    assert "DATABASE_URL is set: this command runs everything by itself on SQLite." in command.said


def test_wrong_setting_is_told_in_a_sentence_without_a_traceback(data: DataFolder) -> None:
    command = Command(
        "studio", environment={"OVERWINTER_DATA": str(data.root), "OVERWINTER_TIME_ZONE": "Skerrin"}
    )
    assert command.finish() == 1
    assert command.said == "OVERWINTER_TIME_ZONE must be a zone like Europe/London, not 'Skerrin'.\n"
