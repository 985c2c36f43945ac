"""The figures as tables that fit a terminal of 80 columns."""

from __future__ import annotations

import os
import platform
import textwrap
from collections.abc import Sequence

from django.db import connection

from crm.management.bench.forecasts import Compared
from crm.management.bench.pages import MOST_QUERIES, MOST_TIMES_SQL, Measured

WIDTH = 80


def machine() -> str:
    """What the figures were taken on."""
    cores = len(os.sched_getaffinity(0))
    return f"{cores} core{'' if cores == 1 else 's'}, Python {platform.python_version()}"


def database() -> str:
    """Name and version of the database."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SHOW server_version")
        else:
            cursor.execute("SELECT sqlite_version()")
        version = str(cursor.fetchone()[0]).split()[0]
    return f"{connection.display_name} {version}"


def find_table(rows: Sequence[Measured]) -> list[str]:
    """The pages, a line each, and what to make of them."""
    return [
        f"{'':34}{'page, ms':>19}  {'bare SQL, ms':>12} {'ratio':>5} {'queries':>5}",
        *(_line(row) for row in rows),
        "",
        "Median (least-most); ratio of the least. Page: the whole request, signed in,",
        "through all middleware.",
        *textwrap.wrap(
            "Bare SQL: statements written by hand for the same rows, sent through the same connection and fetched.",
            WIDTH,
        ),
        "",
        f"{'Where the time goes, median ms':34}{'its own SQL':>12}{'the rest':>12}",
        *(
            f"{row.asked.what[:33]:34}{row.own.median:>12.2f}{row.page.median - row.own.median:>12.2f}"
            for row in rows
        ),
        "",
        *_verdicts(rows),
    ]


def _line(row: Measured) -> str:
    page = f"{row.page.median:.1f} ({row.page.least:.1f}-{row.page.most:.1f})"
    return f"{row.asked.what[:33]:34}{page:>19}  {row.sql.median:>12.2f} {row.ratio:>5.1f} {row.queries:>5}"


def _verdicts(rows: Sequence[Measured]) -> list[str]:
    slow = [row for row in rows if row.ratio > MOST_TIMES_SQL]
    many = [row for row in rows if row.queries > MOST_QUERIES]
    files = [row.queries for row in rows if row.asked.what.startswith("car file")]
    indexes = sorted({name for row in rows for name in row.ways.indexes})
    scanned = sorted({f"{table} ({row.asked.what})" for row in rows for table in row.ways.scanned})
    told = [
        f"Page at most {MOST_TIMES_SQL} times the SQL: {len(rows) - len(slow)} of {len(rows)}.",
        f"At most {MOST_QUERIES} queries: {len(rows) - len(many)} of {len(rows)}.",
        f"Queries of a car file at 1 and at 100 visits: {' and '.join(map(str, files))}.",
        f"Read from end to end: {', '.join(scanned) or 'no table that grows'}.",
        f"Indexes used: {', '.join(indexes)}.",
    ]
    return [line for words in told for line in textwrap.wrap(words, WIDTH, subsequent_indent="  ")]


def forecast_table(found: Compared) -> list[str]:
    """The engine beside the walk."""
    rows = (
        ("engine, first pass", found.layers, found.engine_a_second),
        ("engine, again", found.layers, found.again_a_second),
        ("plain walk over the days", found.walked, found.walk_a_second),
    )
    return [
        f"{'':28}{'layers':>10}{'a second of CPU':>18}",
        *(f"{what:28}{layers:>10,}{speed:>18,.0f}" for what, layers, speed in rows),
        "",
        "The engine's forecasts carry their reasons in words, the walk's are dates alone.",
        f"Engine, first pass, against the walk: {found.ratio:,.0f} times as fast (aim: 100).",
        f"Largest difference of any date: {found.apart} day{'' if found.apart == 1 else 's'} (at most 1).",
    ]
