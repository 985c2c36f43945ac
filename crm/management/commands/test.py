"""`python3 manage.py test`: the whole suite, on SQLite and on PostgreSQL.

Django's own test command is replaced on purpose: the tests are pytest's, and they bring their own servers.
"""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from crm.management.testing.runs import Database, carry_out, planned_runs
from crm.management.testing.servers import NoServer, private_servers


class Command(BaseCommand):
    """Start private servers, run pytest on each database, and fail where either run does."""

    help = "Run the tests on SQLite and PostgreSQL. The rest is handed to pytest: test tests/care -k window"
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--only", choices=[database.value for database in Database], help="one database alone"
        )

    def run_from_argv(self, argv: list[str]) -> None:
        """Everything but --only is pytest's: Django must not try to understand it."""
        parser = ArgumentParser(prog=f"{argv[0]} {argv[1]}", description=self.help, add_help=False)
        self.add_arguments(parser)
        ours, theirs = parser.parse_known_args(argv[2:])
        try:
            failed = self.handle(only=ours.only, arguments=theirs)
        except CommandError as error:
            self.stderr.write(str(error))
            sys.exit(1)
        sys.exit(1 if failed else 0)

    def handle(self, *_args: Any, only: str | None, arguments: list[str], **_options: Any) -> list[str]:  # type: ignore[override]
        """Returns the names of the runs that failed."""
        databases = [Database(only)] if only else list(Database)
        failed = []
        try:
            with private_servers() as servers:
                for run in planned_runs(databases, arguments, servers):
                    self.stdout.write(f"\n== The tests on {run.database} ==", ending="\n")
                    self.stdout.flush()
                    code = carry_out(run, settings.PROJECT)
                    if code != 0:
                        failed.append(f"{run.database} (pytest's exit code {code})")
        except (NoServer, TimeoutError) as error:
            raise CommandError(str(error)) from error
        if failed:
            self.stderr.write(f"The tests failed on {' and '.join(failed)}.")
        return failed
