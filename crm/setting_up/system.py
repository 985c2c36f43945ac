"""What the machine itself must have: shared libraries for paper, and services for the tests."""

from __future__ import annotations

import ctypes
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

# Debian's apt-get may wait for another apt-get: better than failing beside an unattended upgrade.
APT = ("apt-get", "-y", "-q", "-o", "DPkg::Lock::Timeout=120")


class CannotSetUp(Exception):
    """Setting up cannot go on; the sentence says what a person has to do."""


@dataclass(frozen=True)
class Need:
    """Something the machine must have: its name, Debian's packages for it, how it is looked for."""

    name: str
    packages: tuple[str, ...]
    is_there: Callable[[], bool]


def _library(soname: str) -> Callable[[], bool]:
    def is_there() -> bool:
        try:
            ctypes.CDLL(soname)
        except OSError:
            return False
        return True

    return is_there


def postgres_programs() -> Path | None:
    """The folder that holds PostgreSQL's initdb and pg_ctl: the newest that is installed, or None."""
    debian = Path("/usr/lib/postgresql")
    versions = (
        sorted(debian.glob("*/bin/pg_ctl"), key=lambda path: int(path.parts[-3])) if debian.is_dir() else []
    )
    if versions:
        return versions[-1].parent
    elsewhere = shutil.which("pg_ctl")
    return Path(elsewhere).resolve().parent if elsewhere else None


def redis_server() -> str | None:
    """The path of redis-server, or None."""
    return shutil.which("redis-server")


def chromium() -> str | None:
    """The path of Chromium, or None."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


PAPER = (
    Need("Pango", ("libpango-1.0-0", "libpangoft2-1.0-0"), _library("libpangoft2-1.0.so.0")),
    Need("HarfBuzz's subsetter", ("libharfbuzz-subset0",), _library("libharfbuzz-subset.so.0")),
)
TESTS = (
    Need("PostgreSQL 15", ("postgresql-15",), lambda: postgres_programs() is not None),
    Need("Redis", ("redis-server",), lambda: redis_server() is not None),
    Need("Chromium", ("chromium",), lambda: chromium() is not None),
)


def _can_make_venv() -> bool:
    """Debian ships venv without ensurepip, which it needs to put pip inside."""
    probe = [sys.executable, "-c", "import ensurepip, venv"]
    return subprocess.run(probe, capture_output=True, check=False).returncode == 0


VENV = (Need("Python's venv module", ("python3-venv",), _can_make_venv),)


def provide(needs: tuple[Need, ...], *, say: Callable[[str], None]) -> None:
    """Install what is missing where that is possible (as root on Debian).

    Raises CannotSetUp with the exact command to type where it is not.
    """
    missing = [need for need in needs if not need.is_there()]
    if not missing:
        return
    names = ", ".join(need.name for need in missing)
    packages = [package for need in missing for package in need.packages]
    if shutil.which("apt-get") is None:
        raise CannotSetUp(
            f"This machine lacks: {names}. Install them with its own package manager, then try again."
        )
    if os.geteuid() != 0:
        raise CannotSetUp(
            f"This machine lacks: {names}. Type this, then try again:\n"
            f"    sudo apt-get install {' '.join(packages)}"
        )
    say(f"installing {names} with apt-get")
    _apt("update")
    _apt("install", "--no-install-recommends", *packages)
    still = [need.name for need in missing if not need.is_there()]
    if still:
        raise CannotSetUp(
            f"apt-get installed {' '.join(packages)}, and yet this is not to be found: {', '.join(still)}."
        )


def _apt(*words: str) -> None:
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    result = subprocess.run([*APT, *words], env=environment, capture_output=True, text=True, check=False)
    if result.returncode != 0:
        last = "\n".join((result.stdout + result.stderr).strip().splitlines()[-8:])
        raise CannotSetUp(f"{last}\nThis failed: {' '.join(['apt-get', *words])}. Mend it, then try again.")
