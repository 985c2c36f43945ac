"""From a fresh copy of the project to a running command: .venv, pinned packages, system libraries.

The packages are pinned by version and hash in requirements.txt, and for the tests in
requirements-dev.txt, which holds both. A stamp in .venv says which of the two files it was made from.
"""

from __future__ import annotations

import contextlib
import fcntl
import hashlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from crm.setting_up.system import PAPER, TESTS, VENV, CannotSetUp, Need, provide

OFF = "OVERWINTER_BOOTSTRAP"
"""Set to `off` where somebody else has installed the packages, as on a server."""
NEEDS_PAPER = frozenset({"demo", "studio"})
# Settings of pip that uv would not see: where one is set, pip itself does the installing.
PIP_ONLY = (
    "index-url", "extra-index-url", "no-index", "find-links", "cert", "client-cert", "proxy", "trusted-host",
)  # fmt: skip


@dataclass(frozen=True)
class Place:
    """The project's folder and what is made in it."""

    project: Path

    @property
    def venv(self) -> Path:
        return self.project / ".venv"

    @property
    def python(self) -> Path:
        return self.venv / "bin" / "python"

    @property
    def stamp(self) -> Path:
        return self.venv / "overwinter-stamp.json"

    def lock(self, *, for_tests: bool) -> Path:
        return self.project / ("requirements-dev.txt" if for_tests else "requirements.txt")


def ensure(project: Path, arguments: list[str]) -> None:
    """Return inside the project's ready .venv; anywhere else make it ready and start again there.

    Raises CannotSetUp with a sentence where a person has to do something first.
    """
    if os.environ.get(OFF) == "off":
        return
    command = arguments[0] if arguments else ""
    place = Place(project)
    for_tests = command == "test"
    if not is_ready(place, for_tests=for_tests):
        with _alone(place):
            # Another process may have made it ready while this one waited.
            if not is_ready(place, for_tests=for_tests):
                _make_ready(place, for_tests=for_tests)
    provide(_system_needs(command), say=say)
    if Path(sys.prefix).resolve() != place.venv.resolve():
        os.execv(place.python, [str(place.python), *sys.orig_argv[1:]])


def is_ready(place: Place, *, for_tests: bool) -> bool:
    """Whether .venv holds exactly what the lock file says."""
    if not os.access(place.python, os.X_OK):
        return False
    try:
        stamp = json.loads(place.stamp.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return isinstance(stamp, dict) and stamp.get(_key(for_tests=for_tests)) == _digest(
        place, for_tests=for_tests
    )


def say(line: str) -> None:
    """One line of progress, on standard error so that a command's own output stays clean."""
    print(f"setting up: {line}", file=sys.stderr, flush=True)


def _system_needs(command: str) -> tuple[Need, ...]:
    if command == "test":
        return PAPER + TESTS
    return PAPER if command in NEEDS_PAPER else ()


def _key(*, for_tests: bool) -> str:
    return "tests" if for_tests else "runs"


def _digest(place: Place, *, for_tests: bool) -> str:
    return hashlib.sha256(place.lock(for_tests=for_tests).read_bytes()).hexdigest()


@contextlib.contextmanager
def _alone(place: Place) -> Iterator[None]:
    """Hold the project's folder: two commands typed at once must not both fill .venv."""
    handle = os.open(place.project, os.O_RDONLY)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            say("another command is at it already; waiting for it")
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def _make_ready(place: Place, *, for_tests: bool) -> None:
    if not os.access(place.project, os.W_OK):
        raise CannotSetUp(
            f"{place.project} cannot be written to, so .venv cannot be made there. Copy it to your own."
        )
    if not os.access(place.python, os.X_OK) or not _runs(place.python):
        say("making .venv")
        _make_venv(place)
    # A .venv once made for the tests stays so: the run-time packages are among the tests' own.
    wide = for_tests or (place.stamp.is_file() and "tests" in place.stamp.read_text(encoding="utf-8"))
    lock = place.lock(for_tests=wide)
    count = sum(1 for line in lock.read_text(encoding="utf-8").splitlines() if "==" in line)
    say(f"installing {count} packages from {lock.name} (once; a minute or two)")
    place.stamp.unlink(missing_ok=True)
    _install(place, lock)
    stamp = {"runs": _digest(place, for_tests=False)}
    if wide:
        stamp["tests"] = _digest(place, for_tests=True)
    unfinished = place.stamp.with_suffix(".part")
    unfinished.write_text(json.dumps(stamp), encoding="utf-8")
    unfinished.rename(place.stamp)
    say("ready")


def _runs(python: Path) -> bool:
    return subprocess.run([python, "-c", ""], capture_output=True, check=False).returncode == 0


def _make_venv(place: Place) -> None:
    provide(VENV, say=say)
    # By the interpreter underneath: one inside another environment would be found through that one.
    base = getattr(sys, "_base_executable", sys.executable)
    result = subprocess.run(
        [base, "-m", "venv", "--clear", place.venv], capture_output=True, text=True, check=False
    )
    if result.returncode != 0:
        raise CannotSetUp(
            f"{(result.stdout + result.stderr).strip()}\n.venv could not be made; mend that and try again."
        )


def _install(place: Place, lock: Path) -> None:
    uv = shutil.which("uv")
    python = str(place.python)
    if uv is not None and not _pip_has_its_own_settings(place):
        by_uv = [uv, "pip", "install", "--quiet", "--python", python, "--require-hashes", "-r", str(lock)]
        if subprocess.run(by_uv, check=False).returncode == 0:
            return
        say("uv could not; trying pip")
    by_pip = [python, "-m", "pip", "install", "-qq", "--disable-pip-version-check", "--require-hashes"]
    if subprocess.run([*by_pip, "-r", str(lock)], check=False).returncode != 0:
        raise CannotSetUp(
            "pip could not install the packages; what it said is above. It needs a package index "
            "that it can reach (its own configuration is honoured). Mend that and try again."
        )


def _pip_has_its_own_settings(place: Place) -> bool:
    listed = subprocess.run(
        [place.python, "-m", "pip", "config", "list"], capture_output=True, text=True, check=False
    ).stdout
    names = {line.partition("=")[0].rpartition(".")[2] for line in listed.splitlines()}
    return not names.isdisjoint(PIP_ONLY)
