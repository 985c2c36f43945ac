"""Mail as files: each message is one .eml file in the data folder, to be opened with any mail program."""

from __future__ import annotations

import itertools
import os
import re
import time
from collections.abc import Sequence
from pathlib import Path

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend

_number = itertools.count(1)


class MailFolderBackend(BaseEmailBackend):
    """Write each message into settings.EMAIL_FILE_PATH, named by time, receiver and subject."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        folder = Path(settings.EMAIL_FILE_PATH)
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        written = 0
        for message in email_messages:
            if not message.recipients():
                continue
            _write_whole(folder / _file_name(message), message.message().as_bytes())
            written += 1
        return written


def _file_name(message: EmailMessage) -> str:
    words = re.sub(r"[^A-Za-z0-9@.]+", "-", f"{message.recipients()[0]} {message.subject}").strip("-.")
    stamp = time.strftime("%Y%m%d-%H%M%S", time.gmtime())
    return f"{stamp}-{os.getpid()}-{next(_number):04d}-{words[:80]}.eml"


def _write_whole(path: Path, content: bytes) -> None:
    """Write beside and rename, so that nobody who watches the folder reads half a message."""
    unfinished = path.with_suffix(".part")
    unfinished.write_bytes(content)
    unfinished.rename(path)
