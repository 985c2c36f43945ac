"""The lock of a data folder and the port of its web server."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from crm.management.stack.ports import NoPort, listen
from crm.management.stack.running_lock import AlreadyRunning, RunningLock
from tests.processes import PROJECT


def test_lock_is_held_by_one_and_says_by_whom(tmp_path: Path) -> None:
    first = RunningLock(tmp_path / "data" / "running.lock")
    first.take()
    first.describe("http://localhost:8484, process 7")
    with pytest.raises(AlreadyRunning) as caught:
        RunningLock(first.path).take()
    assert str(caught.value) == (
        f"Overwinter is already running on {tmp_path / 'data'} (http://localhost:8484, process 7). "
        "Use that one, stop it first, or name another folder with --data."
    )
    first.release()
    second = RunningLock(first.path)
    second.take()
    assert first.path.read_text() == f"process {os.getpid()}"
    second.release()


def test_lock_of_a_crashed_run_is_taken_over(tmp_path: Path) -> None:
    code = (
        "import os, sys; from pathlib import Path\n"
        "from crm.management.stack.running_lock import RunningLock\n"
        "RunningLock(Path(sys.argv[1])).take(); os.kill(os.getpid(), 9)\n"
    )
    path = tmp_path / "running.lock"
    crashed = subprocess.run([sys.executable, "-c", code, str(path)], cwd=PROJECT, check=False)
    assert crashed.returncode == -9
    assert path.read_text() != ""
    lock = RunningLock(path)
    lock.take()
    lock.release()


def test_port_asked_for_and_taken_is_refused() -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        with pytest.raises(NoPort, match=f"^Port {port} on 127.0.0.1 is taken"):
            listen("127.0.0.1", port)


def test_usual_port_taken_gives_the_next_free_one(monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        usual = other.getsockname()[1]
        monkeypatch.setattr("crm.management.stack.ports.USUAL_PORT", usual)
        with listen("127.0.0.1", None) as listener:
            assert listener.getsockname()[1] != usual


@pytest.mark.parametrize(
    ("address", "port", "sentence"),
    [
        ("127.0.0.1", 70000, "70000 is not a port: it must be from 0 to 65535."),
        ("127.0.0.1", -1, "-1 is not a port: it must be from 0 to 65535."),
        ("192.0.2.1", 0, "Cannot listen on 192.0.2.1, port 0: Cannot assign requested address."),
        ("no such host", 0, "Cannot listen on no such host, port 0: Name or service not known."),
    ],
)
def test_impossible_address_is_refused_with_a_sentence(address: str, port: int, sentence: str) -> None:
    with pytest.raises(NoPort) as caught:
        listen(address, port)
    assert str(caught.value) == sentence
