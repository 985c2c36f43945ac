"""Starts programs, watches them, and ends them together."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import IO, cast

from crm.management.stack.log_files import LogFile
from crm.management.stack.offspring import before_start
from crm.management.stack.programs import Program

GLANCE = 0.1
"""Seconds between two looks at the children."""


class ProgramEnded(Exception):
    """A program of the stack ended by itself; the sentence says which, how, and what it said last."""


@dataclass(frozen=True)
class Child:
    """A running program."""

    program: Program
    process: subprocess.Popen[bytes]
    log: LogFile


class Supervisor:
    """Runs programs as children of this process until asked to stop or until one of them ends.

    Each child has a session of its own, so that Ctrl-C reaches this process alone and the end is in order:
    the last started first, the broker last. Must be used from the main thread.
    """

    def __init__(self, logs: Path) -> None:
        self.logs = logs
        self.children: list[Child] = []
        self._asked_to_stop = False

    def start(self, program: Program) -> Child:
        """Start one program with its output in logs/<name>.log."""
        self.logs.mkdir(parents=True, exist_ok=True, mode=0o700)
        process = subprocess.Popen(
            program.command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env={**os.environ, **program.environment},
            pass_fds=program.descriptors,
            user=program.user,
            group=program.user,
            extra_groups=[] if program.user else None,
            start_new_session=True,
            preexec_fn=before_start(os.getpid()),  # noqa: PLW1509 - one thread forks, and it takes no lock
        )
        output = cast("IO[bytes]", process.stdout)  # it was asked for with PIPE
        child = Child(program, process, LogFile(self.logs / f"{program.name}.log", output))
        self.children.append(child)
        return child

    def wait_until(self, ready: Callable[[], bool], *, what: str, seconds: float) -> None:
        """Wait for something the programs should bring about.

        Raises ProgramEnded where one of them ends instead, and TimeoutError when the time is over.
        """
        end = time.monotonic() + seconds
        while not ready():
            self._check()
            if self._asked_to_stop:
                raise KeyboardInterrupt
            if time.monotonic() > end:
                raise TimeoutError(
                    f"{what} did not come up within {seconds:.0f} seconds; the logs are in {self.logs}."
                )
            time.sleep(GLANCE)

    def watch(self) -> None:
        """Return when asked to stop (Ctrl-C or TERM). Raises ProgramEnded where a program ends by itself."""
        while not self._asked_to_stop:
            self._check()
            time.sleep(GLANCE)

    def obey_signals(self) -> None:
        """From now on Ctrl-C, TERM and a closed terminal mean: stop in good order."""
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(number, self._ask_to_stop)

    def stop(self) -> None:
        """End every child, the last started first; one that does not end in its time is killed."""
        for child in reversed(self.children):
            if child.process.poll() is None:
                child.process.terminate()
            try:
                child.process.wait(child.program.patience)
            except subprocess.TimeoutExpired:
                child.process.kill()
                child.process.wait()
            child.log.finish(seconds=2)
        self.children.clear()

    def _ask_to_stop(self, _number: int, _frame: FrameType | None) -> None:
        self._asked_to_stop = True

    def _check(self) -> None:
        for child in self.children:
            code = child.process.poll()
            if code is not None and not self._asked_to_stop:
                child.log.finish(seconds=2)
                raise ProgramEnded(_obituary(child, code))


def _obituary(child: Child, code: int) -> str:
    how = f"was killed by signal {-code}" if code < 0 else f"ended by itself with exit code {code}"
    said = "".join(f"\n    {line}" for line in child.log.last) or "\n    (nothing)"
    return (
        f"The {child.program.name} {how}, so everything was stopped. It said last ({child.log.path}):{said}"
    )
