"""Calendar arithmetic: months from an anchor, ISO weeks, elapsed hours and wall-clock times.

Deadlines of a setting layer are elapsed hours; reminders are wall-clock times in the studio's zone.
"""

from __future__ import annotations

from calendar import monthrange
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

DAYS_IN_MONTH = 30.4375
"""The mean month, in days: 365.25 / 12."""


MONTH_NAMES = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


class NaiveMoment(ValueError):
    """A moment without a time zone was given where elapsed hours matter."""


def add_months(anchor: date, n: int) -> date:
    """The day `n` months after the anchor, held back to the end of a shorter month.

    Always count from the anchor: 31 August + 1 + 1 months is 30 October, + 2 is 31 October.
    """
    years, month = divmod(anchor.year * 12 + anchor.month - 1 + n, 12)
    return date(years, month + 1, min(anchor.day, monthrange(years, month + 1)[1]))


def month_series(anchor: date, every: int, until: date) -> tuple[date, ...]:
    """The anchor and every `every` months from it, up to and including `until`, each from the anchor.

    Raises ValueError where `every` is not a positive number of months.
    """
    if every < 1:
        raise ValueError("A series needs at least one month between its days.")
    days: list[date] = []
    while (day := add_months(anchor, every * len(days))) <= until:
        days.append(day)
    return tuple(days)


def iso_week(day: date) -> str:
    """The ISO 8601 week of a day, `2026-W53`: week 1 holds 4 January."""
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02}"


def monday_of(day: date) -> date:
    """The Monday on which the day's ISO week starts."""
    return day - timedelta(days=day.weekday())


def elapsed(at: datetime, hours: float) -> datetime:
    """The moment so many true hours after `at`, in the zone of `at`, across any clock change.

    Raises NaiveMoment where `at` has no zone.
    """
    if at.tzinfo is None or at.utcoffset() is None:
        raise NaiveMoment("A moment needs its time zone before hours can be counted from it.")
    return (at.astimezone(UTC) + timedelta(hours=hours)).astimezone(at.tzinfo)


def wall_clock(day: date, at: time, zone: ZoneInfo) -> datetime:
    """The moment when a clock on the studio's wall first shows this time on this day.

    A time skipped in spring becomes the same distance past the skip (01:30 becomes 02:30); a time
    shown twice in autumn is the first of the two.
    """
    local = datetime.combine(day, at.replace(fold=0, tzinfo=None), tzinfo=zone)
    return local.astimezone(UTC).astimezone(zone)
