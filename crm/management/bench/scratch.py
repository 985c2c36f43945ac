"""A place of its own for the bench: a data folder and settings that have nothing to do with the studio's."""

from __future__ import annotations

import os
import secrets
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings

from crm.setting_up.bootstrap import OFF


@contextmanager
def scratch_folder(kept: Path | None) -> Iterator[Path]:
    """The folder that is to be kept, or one that is gone afterwards."""
    if kept is not None:
        kept.mkdir(parents=True, exist_ok=True)
        yield kept.absolute()
        return
    with tempfile.TemporaryDirectory(prefix="overwinter-bench-") as folder:
        yield Path(folder)


def run_apart(arguments: Sequence[str], *, folder: Path, database_url: str | None) -> int:
    """Run a command of this project in the folder, on its SQLite file or on another database. Returns the exit code.

    A process of its own, because settings are read once; nothing of the studio's settings reaches it.
    """
    environment = apart(dict(os.environ), folder=folder, database_url=database_url)
    command = [sys.executable, "-m", "django", *arguments]
    return subprocess.run(command, env=environment, cwd=settings.PROJECT, check=False).returncode


def apart(environment: dict[str, str], *, folder: Path, database_url: str | None) -> dict[str, str]:
    """The environment of that process."""
    names = ("DATABASE_URL", "REDIS_URL")
    kept = {
        name: value
        for name, value in environment.items()
        if not name.startswith("OVERWINTER_") and name not in names
    }
    kept |= {
        OFF: "off",
        "DJANGO_SETTINGS_MODULE": "crm.config.settings",
        "OVERWINTER_DATA": str(folder),
        "OVERWINTER_LOG_LEVEL": "WARNING",
    }
    if database_url:
        kept |= {
            "DATABASE_URL": database_url,
            "REDIS_URL": "redis://localhost",  # demanded beside the other; nothing is posted
            "OVERWINTER_BASE_URL": "http://localhost",
            "OVERWINTER_SECRET_KEY": secrets.token_urlsafe(64),
        }
    return kept
