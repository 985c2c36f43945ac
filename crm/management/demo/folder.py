"""The demo's own data folder: marked, so that nothing here can ever empty a real studio's."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

from django.utils.timezone import localdate

from crm.management.stack.running_lock import RunningLock
from crm.models import User
from crm.services.demo import Built, build_demo
from crm.setting_up.folders import DataFolder

MARK = "this-is-the-demo.json"
PAPERS = "tour"
"""Where the tour unpacks the papers of its note."""


class NotTheDemo(Exception):
    """The folder holds something that is not the demo; nothing in it was touched."""


def claim_folder(folder: DataFolder) -> None:
    """Mark a new folder as the demo's. Raises NotTheDemo where another studio lives in it."""
    mark = folder.root / MARK
    if mark.is_file():
        return
    if folder.database.exists():
        raise NotTheDemo(
            f"{folder.root} holds a studio that is not the demo. Nothing was touched; name another folder with --data."
        )
    folder.root.mkdir(parents=True, exist_ok=True, mode=0o700)
    mark.write_text("{}\n", encoding="utf-8")


def built_until(folder: DataFolder) -> date | None:
    """The day on which the demo in this folder ends; None where none was built. Needs an open database."""
    if not User.objects.exists():
        return None
    stored = json.loads((folder.root / MARK).read_text(encoding="utf-8"))
    return date.fromisoformat(stored["until"]) if "until" in stored else None


def empty_folder(folder: DataFolder) -> None:
    """Take away the studio that was built in a claimed folder, with its mail. Raises AlreadyRunning.

    The database goes as a file, not row by row: what an older version built may not fit this one's tables.
    """
    lock = RunningLock(folder.lock)
    lock.take()
    try:
        for path in (folder.mail, folder.broker, folder.root / PAPERS):
            shutil.rmtree(path, ignore_errors=True)
        for start in (folder.database, folder.beat):
            for path in folder.root.glob(f"{start.name}*"):
                path.unlink()
        (folder.root / MARK).write_text("{}\n", encoding="utf-8")
    finally:
        lock.release()


def build(folder: DataFolder, *, now: datetime, say: Callable[[str], None]) -> Built:
    """Build the demo up to `now` into the empty database of a folder that is claimed and held."""
    say("Building the demo studio: four years of visits that end today.")
    built = build_demo(now=now)
    _write_mark(folder.root / MARK, now)
    return built


def _write_mark(path: Path, now: datetime) -> None:
    unfinished = path.with_suffix(".part")
    unfinished.write_text(json.dumps({"until": localdate(now).isoformat()}) + "\n", encoding="utf-8")
    unfinished.rename(path)
