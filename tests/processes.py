"""Real processes in tests: a command started as a person would, and everything that came of it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[1]


def children_of(pid: int) -> set[int]:
    """Every living process that descends from `pid`, not counting itself."""
    parents: dict[int, list[int]] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                # The name is in brackets and may hold anything: what counts comes after the last bracket.
                state, parent = (entry / "stat").read_text().rpartition(")")[2].split()[:2]
            except OSError:
                continue
            if state != "Z":
                parents.setdefault(int(parent), []).append(int(entry.name))
    found: set[int] = set()
    waiting = [pid]
    while waiting:
        for child in parents.get(waiting.pop(), []):
            found.add(child)
            waiting.append(child)
    return found


def is_alive(pid: int) -> bool:
    """Whether a process runs; one that has ended and waits to be read does not count."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def wait_until(true: Callable[[], bool], *, seconds: float, what: str) -> None:
    """Wait for something, and fail with its name when it does not come."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, f"{what} did not happen within {seconds} seconds"
        time.sleep(0.05)


class Command:
    """`manage.py` with some arguments, running, with what it has said so far."""

    def __init__(self, *arguments: str, environment: dict[str, str]) -> None:
        self.said = ""
        self.process = subprocess.Popen(
            [sys.executable, "manage.py", *arguments],
            cwd=PROJECT,
            env=plain_environment() | environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        )
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        with self.process.stdout as stream:
            for line in stream:
                self.said += line

    def wait_for(self, words: str, *, seconds: float = 60) -> None:
        """Wait until it has said something; fail at once where it ends instead."""

        def true() -> bool:
            assert words in self.said or self.process.poll() is None, self.said
            return words in self.said

        wait_until(true, seconds=seconds, what=f"{words!r} in what the command says")

    def send(self, number: signal.Signals) -> None:
        os.kill(self.process.pid, number)

    def finish(self, *, seconds: float = 60) -> int:
        """Wait for its end. Returns its exit code."""
        code = self.process.wait(seconds)
        self._reader.join(10)
        return code

    def end(self) -> None:
        """Whatever the test has come to: nothing is left running."""
        if self.process.poll() is None:
            family = children_of(self.process.pid)
            self.process.kill()
            self.process.wait()
            wait_until(lambda: not any(map(is_alive, family)), seconds=10, what="the end of the children")
        self._reader.join(10)


def plain_environment() -> dict[str, str]:
    """This process's environment without anything that says how the application is to run."""
    left_out = ("OVERWINTER_", "DATABASE_URL", "REDIS_URL", "DJANGO_SETTINGS_MODULE")
    kept = {name: value for name, value in os.environ.items() if not name.startswith(left_out)}
    return kept | {"OVERWINTER_BOOTSTRAP": "off"}
