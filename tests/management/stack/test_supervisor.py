"""Programs that end, programs that do not want to end, and what is said about them."""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

import pytest

from crm.management.stack.log_files import LogFile
from crm.management.stack.programs import Program
from crm.management.stack.supervisor import ProgramEnded, Supervisor
from tests.processes import is_alive


def _python(code: str, *, name: str = "clerk", patience: float = 5) -> Program:
    return Program(name=name, command=(sys.executable, "-u", "-c", code), patience=patience)


def test_program_that_ends_by_itself_is_named_with_its_last_words(tmp_path: Path) -> None:
    supervisor = Supervisor(tmp_path)
    supervisor.start(_python("import time; time.sleep(60)", name="other"))
    supervisor.start(_python("print('no ink'); print('no paper'); raise SystemExit(3)"))
    with pytest.raises(ProgramEnded) as caught:
        supervisor.watch()
    supervisor.stop()
    assert str(caught.value) == (
        "The clerk ended by itself with exit code 3, so everything was stopped. "
        f"It said last ({tmp_path / 'clerk.log'}):\n    no ink\n    no paper"
    )


def test_program_that_is_killed_is_told_apart(tmp_path: Path) -> None:
    supervisor = Supervisor(tmp_path)
    child = supervisor.start(_python("import time; time.sleep(60)"))
    child.process.kill()
    with pytest.raises(ProgramEnded, match=r"^The clerk was killed by signal 9, so everything was stopped\."):
        supervisor.watch()
    supervisor.stop()


def test_stop_ends_the_last_started_first(tmp_path: Path) -> None:
    record = tmp_path / "record"
    code = (
        "import signal, sys, time, pathlib\n"
        "def end(*_):\n"
        "    with open({path!r}, 'a') as file: file.write({name!r} + ' ')\n"
        "    sys.exit(0)\n"
        "signal.signal(signal.SIGTERM, end); print('ready')\n"
        "time.sleep(60)\n"
    )
    supervisor = Supervisor(tmp_path)
    for name in ("first", "second", "third"):
        child = supervisor.start(_python(code.format(path=str(record), name=name), name=name))
        supervisor.wait_until(lambda child=child: "ready" in child.log.last, what=name, seconds=20)  # type: ignore[misc]
    supervisor.stop()
    assert record.read_text() == "third second first "


def test_program_that_will_not_end_is_killed_when_its_time_is_over(tmp_path: Path) -> None:
    supervisor = Supervisor(tmp_path)
    code = (
        "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); print('ready'); time.sleep(60)"
    )
    child = supervisor.start(_python(code, patience=0.2))
    supervisor.wait_until(lambda: "ready" in child.log.last, what="the clerk", seconds=20)
    supervisor.stop()
    assert child.process.returncode == -signal.SIGKILL
    assert not is_alive(child.process.pid)


def test_waiting_has_an_end(tmp_path: Path) -> None:
    supervisor = Supervisor(tmp_path)
    with pytest.raises(TimeoutError, match=r"^The printer did not come up within 0 seconds"):
        supervisor.wait_until(lambda: False, what="The printer", seconds=0.1)


def test_waiting_ends_when_the_program_does(tmp_path: Path) -> None:
    supervisor = Supervisor(tmp_path)
    supervisor.start(_python("raise SystemExit(1)"))
    with pytest.raises(ProgramEnded):
        supervisor.wait_until(lambda: False, what="The clerk", seconds=20)
    supervisor.stop()


def test_log_file_never_grows_without_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("crm.management.stack.log_files.LARGEST", 1_000)
    read, write = os.pipe()
    log = LogFile(tmp_path / "clerk.log", os.fdopen(read, "rb"))
    with os.fdopen(write, "wb") as stream:
        for number in range(100):
            stream.write(b"line %04d of what was said by the clerk\n" % number)
    log.finish(seconds=10)
    sizes = {path.name: path.stat().st_size for path in tmp_path.iterdir()}
    assert set(sizes) == {"clerk.log", "clerk.log.1"}
    assert max(sizes.values()) <= 1_000
    assert log.last[-1] == "line 0099 of what was said by the clerk"
