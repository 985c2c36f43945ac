"""`python3 manage.py demo`: the demo studio, everything started by one command; `--tour` plays the job instead."""

from __future__ import annotations

from argparse import ArgumentParser
from time import monotonic
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from crm.management.demo.folder import NotTheDemo, build, built_until, claim_folder, empty_folder
from crm.management.demo.mail import PapersMissing
from crm.management.demo.page import Page
from crm.management.demo.tour import Tour, TourFailed
from crm.management.stack.embedded import REFUSALS, Listening, data_folder, embedded_stack
from crm.management.stack.running_lock import RunningLock
from crm.services.demo import PASSWORD, SIGN_INS
from crm.services.errors import Refused

SHOWN: tuple[type[Exception], ...] = (*REFUSALS, Refused, NotTheDemo, TourFailed, PapersMissing)


class Command(BaseCommand):
    """Build Greywater Yard where it is not there yet, start everything, and say how to sign in."""

    help = "Start the demo studio in a data folder of its own. Ctrl-C ends everything."

    def add_arguments(self, parser: ArgumentParser) -> None:
        # Taken out and obeyed before the settings are read; here for the help text alone.
        parser.add_argument(
            "--data", metavar="FOLDER", help="the data folder (default: one beside the studio's)"
        )
        parser.add_argument("--fresh", action="store_true", help="build it anew, with visits up to today")
        parser.add_argument(
            "--tour",
            action="store_true",
            help="build it and play the main job in this terminal, without a browser",
        )
        parser.add_argument("--port", type=int, help="the port (default: 8484, or the next free one)")
        parser.add_argument(
            "--listen", default="127.0.0.1", metavar="ADDRESS", help="default: this machine only"
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            claim_folder(settings.DATA)
            if options["tour"] or options["fresh"]:
                empty_folder(settings.DATA)
            with data_folder() as lock:
                if options["tour"]:
                    self._tour(lock)
                else:
                    self._start(lock, options)
        except SHOWN as error:
            raise CommandError(str(error)) from error
        except KeyboardInterrupt as error:
            raise CommandError("Stopped.") from error

    def _tour(self, lock: RunningLock) -> None:
        now, start = timezone.now(), monotonic()
        built = build(settings.DATA, now=now, say=self.stdout.write)
        Tour(Page(self.stdout), lock, now).play(built, monotonic() - start)

    def _start(self, lock: RunningLock, options: dict[str, Any]) -> None:
        until = built_until(settings.DATA)
        if until is None:
            build(settings.DATA, now=timezone.now(), say=self.stdout.write)
        elif until < timezone.localdate():
            self.stdout.write(f"This demo ends on {until:%-d %B %Y}; --fresh builds one that ends today.")
        with embedded_stack(lock, Listening(address=options["listen"], port=options["port"])) as stack:
            self.stdout.write("\n".join(["", *stack.opening_words(), "", *_sign_ins()]))
            self.stdout.flush()
            stack.watch()
            self.stdout.write("Stopping.")


def _sign_ins() -> list[str]:
    """Who may sign in; these accounts are in no other studio."""
    rows = [f"    {person.name:<8} {person.rank.label}" for person in SIGN_INS]
    return [f"Sign in with the password “{PASSWORD}” as", *rows]
