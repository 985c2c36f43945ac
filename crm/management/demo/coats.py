"""The coat chart in plain signs: a line for each zone, from last year to the end of the longest window."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from django.utils.timezone import localdate

from crm.care.months import add_months
from crm.care.seasons import Season
from crm.selectors.car_lanes import OnZone, ZoneLane

LANE = 30
ROOM = 46
_YEAR = 4
HELD, THIN, LIKELY, NOTHING, SALT, NOW = "=", "~", "o", ".", "*", "|"
KEY = f"{HELD} holding   {THIN} may be thin   {LIKELY} likely thin by   {SALT} roads salted   {NOW} today"


def coat_lines(lanes: Sequence[ZoneLane], *, today: date, salt: Season) -> Iterator[str]:
    """The chart, one sign a month, and its key."""
    rows = [row for lane in lanes for row in lane.rows[:1]]
    months = _months(rows, today)
    yield f"{'':<{LANE}}{_years(months)}"
    yield f"{'salted roads':<{LANE}}{''.join(SALT if _salted(month, salt) else ' ' for month in months)}"
    for lane in lanes:
        for row in lane.rows[:1]:
            yield f"{lane.words[: LANE - 2]:<{LANE}}{_signs(row, months, today)}"
    yield KEY


def _months(rows: Sequence[OnZone], today: date) -> list[date]:
    first = min((localdate(row.layer.laid_at) for row in rows), default=today).replace(day=1)
    oldest = add_months(today.replace(day=1), -12)
    first = max(first, oldest)
    return [add_months(first, step) for step in range(ROOM)]


def _years(months: Sequence[date]) -> str:
    """Each year over its January; the year of the first month where there is room before the next."""
    signs = [" "] * len(months)
    januaries = [place for place, month in enumerate(months) if month.month == 1]
    first = [0] if not januaries or januaries[0] > _YEAR else []
    for place in (*first, *januaries):
        signs[place : place + _YEAR] = str(months[place].year)
    return "".join(signs[: len(months)])


def _salted(month: date, salt: Season) -> bool:
    return salt.contains(month.replace(day=15))


def _signs(row: OnZone, months: Sequence[date], today: date) -> str:
    laid = localdate(row.layer.laid_at).replace(day=1)
    return "".join(_sign(row, month, laid, today) for month in months)


def _sign(row: OnZone, month: date, laid: date, today: date) -> str:
    if month == today.replace(day=1):
        return NOW
    window = row.window
    if month < laid or (window is not None and month > window.high):
        return " "
    if window is None:
        return HELD if month < today else NOTHING
    if month == window.likely.replace(day=1):
        return LIKELY
    return HELD if month < window.low.replace(day=1) else THIN
