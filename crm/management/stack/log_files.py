"""What a child says, kept in a file of bounded size, with its last lines at hand."""

from __future__ import annotations

import threading
from collections import deque
from pathlib import Path
from typing import IO

LARGEST = 5_000_000
"""Bytes after which a log file becomes its own `.1` and a new one begins."""
LAST_LINES = 8


class LogFile:
    """Copies one child's output into a file until the child closes it."""

    def __init__(self, path: Path, source: IO[bytes]) -> None:
        self.path = path
        self.last: deque[str] = deque(maxlen=LAST_LINES)
        self._source = source
        self._thread = threading.Thread(target=self._copy, name=f"log {path.stem}", daemon=True)
        self._thread.start()

    def finish(self, *, seconds: float) -> None:
        """Wait until everything the child said has been written."""
        self._thread.join(seconds)

    def _copy(self) -> None:
        file = self.path.open("ab")
        try:
            for line in self._source:
                if file.tell() + len(line) > LARGEST:
                    file.close()
                    self.path.replace(self.path.with_suffix(".log.1"))
                    file = self.path.open("ab")
                file.write(line)
                file.flush()
                self.last.append(line.decode(errors="replace").rstrip())
        finally:
            file.close()
            self._source.close()
