"""The whole embedded stack: opened, described, watched and closed again."""

from __future__ import annotations

import os
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import redis
from django.conf import settings
from django.core.management import call_command

from crm.management.stack import programs
from crm.management.stack.ports import NoPort, listen
from crm.management.stack.running_lock import AlreadyRunning, RunningLock
from crm.management.stack.supervisor import ProgramEnded, Supervisor
from crm.setting_up.folders import DataFolder


class CannotOpen(Exception):
    """The stack cannot be started as asked; the sentence says why and how to mend it."""


REFUSALS: tuple[type[Exception], ...] = (AlreadyRunning, CannotOpen, NoPort, ProgramEnded, TimeoutError)
"""What opening and running a stack may raise; each is a sentence to show."""


@dataclass(frozen=True, kw_only=True)
class Listening:
    """Where the web server is to be reached."""

    address: str = "127.0.0.1"
    port: int | None = None


@dataclass(frozen=True)
class Stack:
    """The running stack."""

    supervisor: Supervisor
    url: str
    """Where the pages are, for a person to open."""

    def watch(self) -> None:
        """Return when the person in front of it wants it to end. Raises ProgramEnded."""
        self.supervisor.watch()

    def opening_words(self) -> list[str]:
        """What a person who has just started it should know, a line each."""
        mail = f"Mail leaves by {settings.EMAIL_HOST}, port {settings.EMAIL_PORT}"
        if settings.MAIL_GOES_TO_FOLDER:
            mail = f"No SMTP server is set: nothing is sent, mail goes to {settings.DATA.mail}"
        return [
            f"Overwinter is open at {self.url}",
            f"Data, logs and papers are in {settings.DATA.root}",
            mail,
            "Ctrl-C ends everything.",
        ]


@contextmanager
def data_folder() -> Iterator[RunningLock]:
    """Hold the data folder while this process works in it, its database and static files up to date.

    Raises CannotOpen in served mode, and AlreadyRunning where another process holds the folder.
    """
    if os.environ.get("DATABASE_URL"):
        raise CannotOpen(
            "DATABASE_URL is set: this command runs everything by itself on SQLite. Unset DATABASE_URL and "
            "REDIS_URL, or start gunicorn, celery worker and celery beat as the README says."
        )
    lock = RunningLock(settings.DATA.lock)
    lock.take()
    try:
        call_command("migrate", verbosity=0, interactive=False)
        call_command("collectstatic", verbosity=0, interactive=False)
        yield lock
    finally:
        lock.release()


@contextmanager
def embedded_stack(lock: RunningLock, listening: Listening) -> Iterator[Stack]:
    """Start broker, web, worker and beat on the data folder whose lock is held; end them all on leaving.

    Raises CannotOpen, NoPort, ProgramEnded, or TimeoutError when a program neither comes up nor ends.
    """
    folder: DataFolder = settings.DATA
    with listen(listening.address, listening.port) as listener:
        url = _url(listening.address, listener.getsockname()[1])
        environment = _environment(folder, url)
        supervisor = Supervisor(folder.logs)
        supervisor.obey_signals()
        try:
            _make_socket_folder(folder.socket.parent)
            folder.broker.mkdir(parents=True, exist_ok=True, mode=0o700)
            supervisor.start(programs.broker(folder))
            supervisor.wait_until(lambda: _answers(folder.socket), what="The broker", seconds=20)
            supervisor.start(programs.web(listener, environment=environment))
            supervisor.start(programs.worker(environment=environment))
            supervisor.start(programs.beat(environment=environment))
            supervisor.wait_until(lambda: _serves(listener), what="The web server", seconds=60)
            lock.describe(f"{url}, process {os.getpid()}")
            yield Stack(supervisor, url)
        finally:
            supervisor.stop()


def _environment(folder: DataFolder, url: str) -> dict[str, str]:
    """What the children must read as this process did: the data folder, and where links lead."""
    return {
        "OVERWINTER_DATA": str(folder.root),
        "OVERWINTER_BASE_URL": os.environ.get("OVERWINTER_BASE_URL") or url,
        "PYTHONUNBUFFERED": "1",
    }


def _url(address: str, port: int) -> str:
    if address in {"127.0.0.1", "::1"}:
        return f"http://localhost:{port}"
    if not os.environ.get("OVERWINTER_BASE_URL"):
        raise CannotOpen(
            f"Listening on {address} needs a name that the other machines know: set OVERWINTER_BASE_URL, for "
            f"example OVERWINTER_BASE_URL=http://studio-pc:{port}."
        )
    return str(settings.BASE_URL)


def _make_socket_folder(folder: Path) -> None:
    """The broker's socket lies in a folder that only this user can enter, wherever that has to be."""
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    state = folder.stat()
    if state.st_uid != os.getuid() or folder.is_symlink():
        raise CannotOpen(f"{folder} belongs to somebody else; the broker's socket cannot be put there.")
    folder.chmod(0o700)


def _answers(path: Path) -> bool:
    if not path.exists():
        return False
    client = redis.Redis(unix_socket_path=str(path), socket_timeout=2)
    try:
        return bool(client.ping())
    except redis.RedisError:
        return False
    finally:
        client.close()


def _serves(listener: socket.socket) -> bool:
    """Whether the web server answers at all, with whatever page."""
    address, port = listener.getsockname()[:2]
    everywhere = {"0.0.0.0": "127.0.0.1", "::": "::1"}  # noqa: S104 - compared with, not bound to
    with socket.socket(listener.family) as probe:
        probe.settimeout(5)
        try:
            probe.connect((everywhere.get(address, address), port))
            probe.sendall(b"HEAD / HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
            return probe.recv(16).startswith(b"HTTP/1.1 ")
        except OSError:
            return False
