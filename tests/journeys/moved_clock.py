"""The web server and the worker at another time: both look at a file before each piece of work.

The clock of the broker, of beat and of the worker's own housekeeping stays as it is; only what the application
does happens at the moment that the file names, and runs on from there.
"""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Iterable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import time_machine
from celery import signals

from crm.config.celery import app
from crm.config.wsgi import application as served

__all__ = ["FILE", "app", "application"]

FILE = "MOVED_CLOCK"
"""The environment variable that names the file; in it stands a moment as ISO 8601 writes it."""

_lock = threading.Lock()
_shown: list[Any] = [0.0, None]
"""When the file was written that was read last, and who moves the clock."""


def move() -> None:
    """Move this process's clock to the moment in the file, plus what has gone by since it was written there."""
    with Path(os.environ[FILE]).open(encoding="ascii") as file:
        told, written = datetime.fromisoformat(file.read()), os.fstat(file.fileno()).st_mtime
    with _lock:
        if written == _shown[0]:
            return
        if _shown[1] is not None:
            _shown[1].stop()
        since = timedelta(seconds=time.time() - written)
        _shown[:] = written, time_machine.travel(told + since, tick=True)
        _shown[1].start()


@signals.task_prerun.connect
def _before_a_task(**_: Any) -> None:
    move()


def application(environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
    """The application behind the web server, at the moment of the file."""
    move()
    return served(environ, start_response)
