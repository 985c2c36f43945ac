"""The figures as tables that fit a terminal of 80 columns."""

from __future__ import annotations

import os
import platform
import textwrap
from collections.abc import Sequence

from django.db import connection

from crm.management.bench.chain import Chain
from crm.management.bench.forecasts import Compared
from crm.management.bench.lives import Fit, Fitted
from crm.management.bench.pages import MOST_QUERIES, MOST_TIMES_SQL, Measured
from crm.management.bench.timing import Timing

WIDTH = 80
ROUNDING = 1e-13
"""Two sums over many rows that differ by less than this share of them are the same."""


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
    """The pages, a line each, where their time goes, and what to make of it."""
    return [
        f"{'':30}{'page, ms':>23}{'SQL, ms':>9}{'ratio':>7}{'queries':>8}",
        *(_line(row) for row in rows),
        "",
        *_wrapped("Median (least-most). Ratio: least against least, of bare and own SQL the quicker."),
        *_wrapped("Page: the whole request of somebody signed in, through all middleware."),
        *_wrapped("SQL: statements written by hand for the same rows, sent bare and fetched."),
        "",
        f"{'':30}{'bare SQL, ms':>23}{'own SQL':>9}{'empty':>7}{'beyond':>8}",
        *(_parts(row) for row in rows),
        "",
        *_wrapped(
            "Own SQL: the statements of the page sent bare. Empty: the same page with nothing asked, which"
            " no page can be quicker than. Beyond: what the page takes beyond that, in times of the SQL."
        ),
        "",
        *_verdicts(rows),
    ]


def _line(row: Measured) -> str:
    return f"{row.asked.what[:29]:30}{_cell(row.page, 1):>23}{row.sql.median:>9.2f}{row.ratio:>7.1f}{row.queries:>8}"


def _parts(row: Measured) -> str:
    bare = f"{row.asked.what[:29]:30}{_cell(row.sql, 2):>23}{row.own.least:>9.2f}"
    return f"{bare}{row.floor.least:>7.1f}{row.ratio_beyond:>8.1f}"


def _cell(timing: Timing, digits: int) -> str:
    return f"{timing.median:.{digits}f} ({timing.least:.{digits}f}-{timing.most:.{digits}f})"


def _wrapped(words: str) -> list[str]:
    return textwrap.wrap(words, WIDTH, subsequent_indent="  ")


def _verdicts(rows: Sequence[Measured]) -> list[str]:
    aimed = [row for row in rows if row.asked.aimed]
    quick = [row for row in aimed if row.ratio <= MOST_TIMES_SQL]
    beyond = [row for row in aimed if row.ratio_beyond <= MOST_TIMES_SQL]
    few = [row for row in aimed if row.queries <= MOST_QUERIES]
    files = [row.queries for row in rows if row.asked.what.startswith("car file")]
    indexes = sorted({name for row in rows for name in row.ways.indexes})
    scanned = sorted({f"{table} ({row.asked.what})" for row in rows for table in row.ways.scanned})
    told = [
        f"Type-ahead and car file, at most {MOST_TIMES_SQL} times the SQL: {len(quick)} of {len(aimed)}.",
        f"The same beyond an empty page: {len(beyond)} of {len(aimed)}.",
        f"Type-ahead and car file, at most {MOST_QUERIES} queries: {len(few)} of {len(aimed)}.",
        f"Queries of a car file at 1 and at 100 visits: {' and '.join(map(str, files))}.",
        f"Read from end to end: {', '.join(scanned) or 'no table that grows'}.",
        f"Indexes used: {', '.join(indexes)}.",
    ]
    return [line for words in told for line in _wrapped(words)]


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
        f"Times as fast as the walk (aim: 100): {found.ratio:,.0f} in the first pass, {found.ratio_again:,.0f} again.",
        f"Largest difference of any date: {found.apart} day{'' if found.apart == 1 else 's'} (at most 1).",
    ]


def chain_table(found: Chain) -> list[str]:
    """The layers side by side beside the layers one by one."""
    rows = (
        ("dates, side by side", found.dates),
        ("dates, one by one", found.dates_one_by_one),
        ("with reasons, side by side", found.words),
        ("with reasons, one by one", found.words_one_by_one),
    )
    dates = found.dates.a_second / found.dates_one_by_one.a_second
    words = found.words.a_second / found.words_one_by_one.a_second
    return [
        f"{'':28}{'layers':>10}{'seconds of CPU':>16}{'layers a second':>18}",
        *(f"{what:28}{pace.layers:>10,}{pace.seconds:>16,.1f}{pace.a_second:>18,.0f}" for what, pace in rows),
        "",
        f"Times as fast as one by one: {dates:.1f} for the dates alone, {words:.1f} with their reasons.",
        f"Largest difference of any date: {found.apart} day{'' if found.apart == 1 else 's'} (at most 0).",
        f"Layers with other reasons: {found.told_otherwise} (at most 0).",
    ]


def learn_table(found: Fitted) -> list[str]:
    """Our law beside the library's, and whose is likelier."""
    ways = (
        ("ours", found.ours),
        ("lifelines, as it comes", found.library),
        ("lifelines, searching further", found.tight),
    )
    return [
        f"{'':30}{'CPU, ms':>9}{'scale':>12}{'shape':>11}{'log-likelihood':>18}",
        *(_fit(what, fit) for what, fit in ways),
        "",
        f"Times as fast as lifelines as it comes (aim: 10): {found.ratio:,.0f}.",
        f"Largest relative difference of scale or shape: {found.apart(found.library):.1e} as it comes,",
        f"  {found.apart(found.tight):.1e} searching further (at most 1e-4).",
        *_wrapped(f"Log-likelihood: {_likelier(found.ours, found.library)} as it comes."),
        *_wrapped(f"Log-likelihood: {_likelier(found.ours, found.tight)} searching further."),
    ]


def _fit(what: str, fit: Fit) -> str:
    law = fit.law
    return (
        f"{what:30}{fit.seconds * 1000:>9.1f}{law.scale:>12.7f}{law.shape:>11.7f}{fit.log_likelihood:>18.9f}"
    )


def _likelier(ours: Fit, other: Fit) -> str:
    more = ours.log_likelihood - other.log_likelihood
    if abs(more) < ROUNDING * abs(ours.log_likelihood):
        return "the same, but for rounding, as that of lifelines"
    return f"ours is {'higher' if more > 0 else 'lower'} by {abs(more):.1e} than that of lifelines"
