"""One stack to a data folder, by a lock that the kernel lets go of when its holder ends."""

from __future__ import annotations

import fcntl
import os
from pathlib import Path


class AlreadyRunning(Exception):
    """Another process runs on this data folder; the sentence says where it is to be found."""


class RunningLock:
    """Holds `path` from `take` to `release`; a crashed holder leaves the file but not the lock."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._handle: int | None = None

    def take(self) -> None:
        """Raises AlreadyRunning where a living process holds the lock."""
        self.path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        handle = os.open(self.path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            known = os.read(handle, 1000).decode(errors="replace").strip()
            os.close(handle)
            where = f" ({known})" if known else ""
            raise AlreadyRunning(
                f"Overwinter is already running on {self.path.parent}{where}. "
                "Use that one, stop it first, or name another folder with --data."
            ) from None
        self._handle = handle
        self.describe(f"process {os.getpid()}")

    def describe(self, words: str) -> None:
        """Write down what a second start should be told."""
        if self._handle is None:
            raise RuntimeError("describe() comes after take()")
        os.ftruncate(self._handle, 0)
        os.pwrite(self._handle, words.encode(), 0)

    def release(self) -> None:
        if self._handle is not None:
            os.ftruncate(self._handle, 0)
            os.close(self._handle)
            self._handle = None
