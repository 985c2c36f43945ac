"""Processes that end when the one that started them does, however that one ends."""

from __future__ import annotations

import ctypes
import os
import signal
import sys
from collections.abc import Callable

PR_SET_PDEATHSIG = 1  # prctl(2), linux/prctl.h

_libc = ctypes.CDLL(None, use_errno=True) if sys.platform == "linux" else None


def die_with_parent() -> None:
    """Ask the kernel to kill this process when the thread that started it ends (Linux; elsewhere nothing).

    A kill is asked for, not a polite end: whoever is left alone by a crash cannot finish in good order
    anyway, since the broker is going too, and nothing that waits can be trusted to stop waiting.
    """
    if _libc is None:
        return
    if _libc.prctl(PR_SET_PDEATHSIG, signal.SIGKILL, 0, 0, 0) != 0:
        raise OSError(ctypes.get_errno(), "prctl(PR_SET_PDEATHSIG)")


def before_start(parent: int) -> Callable[[], None]:
    """What a child of process `parent` runs between fork and exec."""

    def prepare() -> None:
        die_with_parent()
        # The parent may have ended before the kernel was asked.
        if os.getppid() != parent:
            os._exit(1)

    return prepare
