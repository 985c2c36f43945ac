"""`python3 manage.py studio`: the studio's own installation, everything started by one command."""

from __future__ import annotations

import getpass
import os
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from crm.management.stack.embedded import REFUSALS, Listening, data_folder, embedded_stack
from crm.models import User
from crm.services.errors import Refused
from crm.services.opening import FirstDay, open_studio

PASSWORD = "OVERWINTER_OWNER_PASSWORD"  # noqa: S105 - the setting's name
SHOWN: tuple[type[Exception], ...] = (*REFUSALS, Refused)


class Command(BaseCommand):
    """Start everything on the studio's data folder; the first time, make its first account."""

    help = "Start the studio: web pages, post and scheduler on one data folder. Ctrl-C ends everything."

    def add_arguments(self, parser: ArgumentParser) -> None:
        # Taken out and obeyed before the settings are read; here for the help text alone.
        parser.add_argument("--data", metavar="FOLDER", help="the data folder (default: OVERWINTER_DATA)")
        parser.add_argument("--port", type=int, help="the port (default: 8484, or the next free one)")
        parser.add_argument(
            "--listen", default="127.0.0.1", metavar="ADDRESS", help="default: this machine only"
        )
        parser.add_argument("--name", help="first run: the studio's name")
        parser.add_argument("--owner", help="first run: the name the owner-manager signs in with")
        parser.add_argument(
            "--password-file", type=Path, help=f"first run: a file with the password (or set {PASSWORD})"
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            with data_folder() as lock:
                if not User.objects.exists():
                    self._make_first_account(options)
                with embedded_stack(
                    lock, Listening(address=options["listen"], port=options["port"])
                ) as stack:
                    self.stdout.write("\n".join(["", *stack.opening_words()]))
                    self.stdout.flush()
                    stack.watch()
                    self.stdout.write("Stopping.")
        except SHOWN as error:
            raise CommandError(str(error)) from error

    def _make_first_account(self, options: dict[str, Any]) -> None:
        asking = sys.stdin.isatty()
        first_day = FirstDay(
            studio=options["name"] or self._ask("The studio's name", "--name", asking=asking),
            time_zone=settings.TIME_ZONE,
            sign_in=options["owner"] or self._ask("The name you will sign in with", "--owner", asking=asking),
            password=_given_password(options) or self._ask_password(asking=asking),
        )
        manager = open_studio(first_day=first_day)
        self.stdout.write(f"Made the owner-manager's account: sign in as {manager.username}.")

    def _ask(self, question: str, option: str, *, asking: bool) -> str:
        if not asking:
            raise Refused(f"This is the first run and nobody is there to ask. Give {option}.")
        answer = ""
        while not answer:
            answer = input(f"{question}: ").strip()
        return answer

    def _ask_password(self, *, asking: bool) -> str:
        if not asking:
            raise Refused(
                f"This is the first run and nobody is there to ask. Give --password-file or set {PASSWORD}."
            )
        while True:
            first = getpass.getpass("A password (at least 10 characters): ")
            if first == getpass.getpass("Once more: "):
                return first
            self.stdout.write("These two differ. Again, please.")


def _given_password(options: dict[str, Any]) -> str:
    path: Path | None = options["password_file"]
    if path is None:
        return os.environ.get(PASSWORD, "")
    try:
        password = path.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise Refused(f"The password file {path} cannot be read: {error}.") from error
    if not password:
        raise Refused(f"The password file {path} is empty.")
    return password
