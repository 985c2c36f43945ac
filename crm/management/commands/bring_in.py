"""Bring in the list that a studio kept before: a CSV or a workbook with one row a visit."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from crm.selectors.studio import StudioMissing
from crm.services.bring_in import Order, bring_in, report
from crm.services.errors import Refused


class Command(BaseCommand):
    """`python3 manage.py bring_in LIST.xlsx` says row by row what it understands; `--commit` saves it."""

    help = "Bring in a studio's own list of visits (.csv or .xlsx). Without --commit nothing is saved."

    def add_arguments(self, parser: CommandParser) -> None:
        """The file and how to read it."""
        parser.add_argument("file", type=Path, help="the list, .csv or .xlsx")
        parser.add_argument(
            "--commit", action="store_true", help="save what the report says, in one transaction"
        )
        order = parser.add_mutually_exclusive_group()
        order.add_argument("--day-first", action="store_true", help="3/5/25 is 3 May")
        order.add_argument("--month-first", action="store_true", help="3/5/25 is 5 March")
        parser.add_argument(
            "--unit", choices=("miles", "km"), default="", help="what a bare odometer number means"
        )
        parser.add_argument("--report", type=Path, help="write the report to this file as well")

    def handle(self, *args: Any, **options: Any) -> None:
        """Print the report."""
        month_first = True if options["month_first"] else False if options["day_first"] else None
        order = Order(
            path=options["file"], commit=options["commit"], month_first=month_first, unit=options["unit"]
        )
        try:
            lines = list(report(bring_in(order)))
        except (Refused, StudioMissing) as error:
            raise CommandError(str(error)) from error
        for line in lines:
            self.stdout.write(line)
        if options["report"]:
            try:
                options["report"].write_text("\n".join(lines) + "\n", encoding="utf-8")
            except OSError as error:
                raise CommandError(
                    f"The report could not be written to {options['report']}: {error}."
                ) from error
