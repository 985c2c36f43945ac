"""Where one installation keeps what it owns: the data folder and the paths inside it."""

from __future__ import annotations

import hashlib
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path

# A unix socket's address has room for 107 bytes and a closing zero (sun_path in unix(7)).
LONGEST_SOCKET_PATH = 107


@dataclass(frozen=True, kw_only=True)
class DataFolder:
    """The folder that holds one installation's database, papers, mail, logs and broker file."""

    root: Path

    @property
    def database(self) -> Path:
        return self.root / "overwinter.sqlite3"

    @property
    def secret_key(self) -> Path:
        return self.root / "secret_key"

    @property
    def settings(self) -> Path:
        """A file of NAME=value lines, read after the environment, which wins."""
        return self.root / "settings.env"

    @property
    def mail(self) -> Path:
        return self.root / "mail"

    @property
    def media(self) -> Path:
        return self.root / "media"

    @property
    def static(self) -> Path:
        return self.root / "static"

    @property
    def logs(self) -> Path:
        return self.root / "logs"

    @property
    def broker(self) -> Path:
        """The folder of the broker's append-only file."""
        return self.root / "broker"

    @property
    def beat(self) -> Path:
        """The file in which beat keeps when it last sent each task."""
        return self.root / "beat-schedule"

    @property
    def lock(self) -> Path:
        return self.root / "running.lock"

    @property
    def socket(self) -> Path:
        """The broker's unix socket: in the data folder, or elsewhere when that path is too long."""
        wanted = self.broker / "broker.sock"
        if len(os.fsencode(wanted)) <= LONGEST_SOCKET_PATH:
            return wanted
        mark = hashlib.sha256(os.fsencode(self.root)).hexdigest()[:16]
        return Path(tempfile.gettempdir()) / f"overwinter-{os.getuid()}-{mark}" / "broker.sock"


def default_root() -> Path:
    """The data folder when nothing else is said: under XDG_DATA_HOME, or ~/.local/share."""
    base = os.environ.get("XDG_DATA_HOME") or "~/.local/share"
    return Path(base).expanduser() / "overwinter"
