"""A studio as a server runs it, with its clock in the tests' hands: PostgreSQL, Redis, gunicorn, worker, beat, SMTP."""

from __future__ import annotations

import asyncio
import json
import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import psycopg
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

from crm.management.stack.programs import Program, beat, worker
from crm.management.stack.supervisor import Child, Supervisor
from crm.management.testing.servers import Servers
from tests.conftest import PostOffice, free_port
from tests.journeys.moved_clock import FILE
from tests.processes import children_of, is_alive, wait_until
from tests.served import answers, manage, own_database, web

PATIENCE = 60.0
"""Seconds that something is waited for which takes one or two."""


@dataclass
class SlowOffice(PostOffice):
    """A mail server that can keep its answer back once it has the message."""

    silent: bool = False

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802
        answer = await super().handle_DATA(server, session, envelope)
        while self.silent:
            await asyncio.sleep(0.05)
        return answer


@dataclass
class ServedStudio:
    """The running studio."""

    environment: dict[str, str]
    supervisor: Supervisor
    office: SlowOffice
    worker: Child
    workers: int = field(default=1)

    @property
    def url(self) -> str:
        return self.environment["OVERWINTER_BASE_URL"]

    def show(self, moment: datetime) -> None:
        """Move the clock of the web server and of the worker there; it runs on."""
        file = Path(self.environment[FILE])
        unfinished = file.with_suffix(".part")
        unfinished.write_text(moment.isoformat(), encoding="ascii")
        unfinished.rename(file)

    def wait_for_mail(self, number: int, *, ticks: int = 2) -> list[EmailMessage]:
        """Wait until so many mails have come, and then for more ticks. Returns every mail."""
        wait_until(lambda: len(self.office.taken) >= number, seconds=PATIENCE, what=f"mail number {number}")
        if ticks:
            self.tick(ticks)
        return self.office.taken

    def tick(self, times: int) -> None:
        """Wait for so many ticks of beat that begin from now on."""
        before = self._ticks("received")
        wait_until(lambda: self._ticks("received") >= before + times, seconds=PATIENCE, what="Ticks")
        ended = self._ticks("succeeded")
        wait_until(lambda: self._ticks("succeeded") > ended, seconds=PATIENCE, what="The end of a tick")

    def _ticks(self, word: str) -> int:
        log = self.worker.log.path
        lines = log.read_text(encoding="utf-8").splitlines() if log.exists() else []
        said = [json.loads(line)["event"] for line in lines if line.startswith("{")]
        return sum(event.startswith("Task crm.tasks.tick[") and word in event for event in said)

    def ask(self, question: str) -> list[tuple[Any, ...]]:
        """Ask the database."""
        with psycopg.connect(self.environment["DATABASE_URL"]) as connection:
            return connection.execute(question.encode()).fetchall()

    def kill_the_worker(self) -> None:
        """kill -9 of the worker and of all that came of it."""
        family = children_of(self.worker.process.pid)
        os.kill(self.worker.process.pid, signal.SIGKILL)
        self.worker.process.wait()
        wait_until(
            lambda: not any(map(is_alive, family)), seconds=10, what="the end of the worker's children"
        )

    def start_a_worker(self) -> None:
        """Another worker in place of the one that was killed."""
        self.supervisor.children.remove(self.worker)
        self.workers += 1
        self.worker = self.supervisor.start(_moved_worker(self.environment, f"worker-{self.workers}"))


@contextmanager
def served_studio(servers: Servers, folder: Path, *, at: datetime) -> Iterator[ServedStudio]:
    """Start everything at a moment, with the people of `scene` in the database."""
    office = SlowOffice(port=free_port())
    controller: Any = Controller(office, hostname="127.0.0.1", port=office.port)
    controller.start()
    supervisor = Supervisor(folder / "logs")
    try:
        with own_database(servers, folder / "data", redis=8) as settings:
            environment = settings | {
                "OVERWINTER_SMTP_HOST": "127.0.0.1",
                "OVERWINTER_SMTP_PORT": str(office.port),
                "OVERWINTER_SMTP_SECURITY": "none",
                "OVERWINTER_MAIL_FROM": "yard@example.com",
                FILE: str(folder / "clock"),
            }
            manage(environment, "migrate", "--verbosity", "0")
            manage(environment, "collectstatic", "--no-input", "--verbosity", "0")
            manage(environment, "shell", "-c", "from tests.journeys.scene import a_scene; a_scene()")
            try:
                yield _started(environment, supervisor, office, at)
            finally:
                supervisor.stop()
    finally:
        office.silent = False
        controller.stop()


def _started(
    environment: dict[str, str], supervisor: Supervisor, office: SlowOffice, at: datetime
) -> ServedStudio:
    Path(environment[FILE]).write_text(at.isoformat(), encoding="ascii")
    supervisor.start(web(environment, "tests.journeys.moved_clock:application"))
    at_work = supervisor.start(_moved_worker(environment, "worker-1"))
    supervisor.start(beat(environment=environment))
    studio = ServedStudio(environment, supervisor, office, at_work)
    supervisor.wait_until(lambda: answers(studio.url), what="The web server", seconds=PATIENCE)
    return studio


def _moved_worker(environment: dict[str, str], name: str) -> Program:
    usual = worker(environment=environment)
    command = tuple(
        word.replace("crm.config.celery:app", "tests.journeys.moved_clock:app") for word in usual.command
    )
    return Program(name=name, command=command, environment=usual.environment, patience=usual.patience)
