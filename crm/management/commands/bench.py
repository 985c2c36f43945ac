"""`python3 manage.py bench find|forecast|learn|winter`: how the screens and the engine bear a large studio."""

from __future__ import annotations

import os
import sys
from argparse import SUPPRESS, ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from crm.care.learning import LearningError
from crm.management.bench.chain import LAYERS, whole_chain
from crm.management.bench.filling import InUse, filled
from crm.management.bench.forecasts import compared
from crm.management.bench.lives import NoLibrary, fitted
from crm.management.bench.pages import Browser, Measured, WrongAnswer, everything_asked, measured
from crm.management.bench.plan import Sizes
from crm.management.bench.printing import (
    chain_table,
    database,
    find_table,
    forecast_table,
    learn_table,
    machine,
)
from crm.management.bench.scratch import run_apart, scratch_folder
from crm.management.bench.sought import NothingToSeek
from crm.management.bench.winter import BRANCH_CARS, chain_season, studio_season, wrong
from crm.management.bench.winter_table import studio_table, winter_chain_table

FORECAST = 20_000
"""Layers that are forecast where nobody says how many."""
LAWS_APART = 1e-4
"""By how much the figures of two laws may differ, as a share of them."""
DAYS_APART = 1
"""By how much the engine's dates may differ from the plain walk's."""


class Command(BaseCommand):
    """Fill a scratch database and measure in it; the studio's own is never touched."""

    help = "Measure find (the pages), forecast, learn or the winter plan. Fails for wrong answers, never for time."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        what = parser.add_subparsers(dest="what", required=True)
        find = what.add_parser("find", help="pages against the bare SQL for the same answer")
        find.add_argument("--cars", type=int, default=100_000)
        find.add_argument("--layers", type=int, default=1_000_000)
        find.add_argument("--runs", type=int, default=15, help="how often each page is timed")
        find.add_argument(
            "--keep", type=Path, metavar="DIR", help="keep the scratch folder, and use it again"
        )
        find.add_argument(
            "--database-url",
            metavar="URL",
            default=os.environ.get("DATABASE_URL"),
            help="an empty PostgreSQL database to fill instead (default: DATABASE_URL)",
        )
        find.add_argument("--here", action="store_true", help=SUPPRESS)
        forecast = what.add_parser("forecast", help="the engine against a plain walk over the days")
        forecast.add_argument("--layers", type=int, help=f"{FORECAST:,}, or {LAYERS:,} with --chain")
        forecast.add_argument(
            "--chain", action="store_true", help="side by side against one by one, at the size of a chain"
        )

        learn = what.add_parser("learn", help="lives learned from many layers, against lifelines")
        learn.add_argument("--layers", type=int, default=10_000)

        winter = what.add_parser("winter", help="the winter plan of a studio and of a chain, with its bound")
        winter.add_argument("--cars", type=int, default=500, help="of the one studio")
        winter.add_argument("--weeks", type=int, default=11)
        winter.add_argument("--branches", type=int, default=200, help=f"of {BRANCH_CARS} cars each")

    def handle(self, *_args: Any, **options: Any) -> None:
        if options["what"] == "winter":
            self._winter(options["cars"], options["weeks"], options["branches"])
            return
        if options["layers"] is None:
            options["layers"] = LAYERS if options["chain"] else FORECAST
        if options["layers"] < 1 or options.get("cars", 1) < 1:
            raise CommandError("Give at least one car and one layer.")
        if options["what"] == "forecast":
            self._chain(options["layers"]) if options["chain"] else self._forecast(options["layers"])
        elif options["what"] == "learn":
            self._learn(options["layers"])
        elif options["here"]:
            self._find(Sizes(cars=options["cars"], layers=options["layers"]), runs=max(1, options["runs"]))
        else:
            self._elsewhere(options)

    def _elsewhere(self, options: dict[str, Any]) -> None:
        """The same command again, in a process whose data folder is the scratch one."""
        arguments = ["bench", "find", "--here"]
        arguments += [f"--{name}={options[name]}" for name in ("cars", "layers", "runs")]
        with scratch_folder(options["keep"]) as folder:
            code = run_apart(arguments, folder=folder, database_url=options["database_url"])
        if code != 0:
            sys.exit(code)

    def _find(self, sizes: Sizes, *, runs: int) -> None:
        try:
            now = timezone.now()
            filled(sizes, today=timezone.localdate(now), say=self._say)
            call_command("collectstatic", verbosity=0, interactive=False)
            browser, rows = Browser(), list[Measured]()
            for asked in everything_asked(now):
                self._say(f"measuring: {asked.what}")
                rows.append(measured(asked, browser, runs=runs))
        except (InUse, NothingToSeek, WrongAnswer) as error:
            raise CommandError(str(error)) from error
        table = find_table(rows)
        self._print([f"bench find: {sizes}; runs: {runs}", f"{machine()}, {database()}", "", *table])

    def _forecast(self, layers: int) -> None:
        found = compared(layers)
        self._print([f"bench forecast: {layers:,} layers", machine(), "", *forecast_table(found)])
        if found.apart > DAYS_APART:
            raise CommandError(f"The two differ by {found.apart} days: one of them is wrong.")

    def _chain(self, layers: int) -> None:
        found = whole_chain(layers)
        self._print([f"bench forecast --chain: {layers:,} layers", machine(), "", *chain_table(found)])
        if found.apart or found.told_otherwise:
            raise CommandError("Side by side and one by one differ: one of them is wrong.")

    def _learn(self, layers: int) -> None:
        try:
            found = fitted(layers)
        except (NoLibrary, LearningError) as error:
            raise CommandError(str(error)) from error
        self._print([f"bench learn: {layers:,} layers", machine(), "", *learn_table(found)])
        if not found.apart(found.tight) <= LAWS_APART:
            raise CommandError("The two laws differ: one of them is wrong.")

    def _winter(self, cars: int, weeks: int, branches: int) -> None:
        if min(cars, weeks, branches) < 1:
            raise CommandError("Give at least one car, one week and one branch.")
        studio = studio_season(cars, weeks)
        self._print([f"bench winter: {machine()}", "", *studio_table(studio), "", ""])
        chain = chain_season(branches, weeks)
        self._print(winter_chain_table(chain))
        mistake = wrong([studio, *chain.seasons])
        if mistake:
            raise CommandError(mistake)

    def _say(self, words: str) -> None:
        """Progress, on standard error, so that what is printed in the end stands alone."""
        self.stderr.write(words, style_func=str)

    def _print(self, lines: list[str]) -> None:
        self.stdout.write("\n".join(line.rstrip() for line in lines))
