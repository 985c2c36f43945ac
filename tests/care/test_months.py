"""Months, weeks and clock changes against dateutil, RFC 5545 cases and the IANA data."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.months import (
    DAYS_IN_MONTH,
    NaiveMoment,
    add_months,
    elapsed,
    iso_week,
    monday_of,
    month_series,
    wall_clock,
)

LONDON = ZoneInfo("Europe/London")


@pytest.mark.parametrize(
    ("anchor", "months", "expected"),
    [
        # Computed with dateutil's relativedelta.
        (date(2025, 8, 31), 6, date(2026, 2, 28)),
        (date(2023, 8, 31), 6, date(2024, 2, 29)),
        (date(2025, 1, 31), 1, date(2025, 2, 28)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2025, 3, 31), -1, date(2025, 2, 28)),
        (date(2025, 12, 31), 2, date(2026, 2, 28)),
        (date(2025, 8, 31), 2, date(2025, 10, 31)),
    ],
)
def test_add_months_holds_back_to_the_end_of_a_short_month(anchor: date, months: int, expected: date) -> None:
    assert add_months(anchor, months) == expected


def test_add_months_is_not_repeatable_and_so_always_starts_at_the_anchor() -> None:
    anchor = date(2025, 8, 31)
    assert add_months(add_months(anchor, 1), 1) == date(2025, 10, 30)
    assert add_months(anchor, 2) == date(2025, 10, 31)


@settings(max_examples=100)
@given(st.dates(date(1950, 1, 1), date(2100, 12, 31)), st.integers(-240, 240))
def test_add_months_agrees_with_dateutil(anchor: date, months: int) -> None:
    assert add_months(anchor, months) == anchor + relativedelta(months=months)


def test_month_series_keeps_the_february_that_a_recurrence_rule_loses() -> None:
    # FREQ=MONTHLY;INTERVAL=6 from 31 August skips February by RFC 5545 section 3.3.10.
    assert month_series(date(2025, 8, 31), 6, date(2027, 3, 1)) == (
        date(2025, 8, 31),
        date(2026, 2, 28),
        date(2026, 8, 31),
        date(2027, 2, 28),
    )


def test_month_series_ends_with_its_last_day_and_can_be_empty() -> None:
    assert month_series(date(2026, 1, 5), 1, date(2026, 2, 5)) == (date(2026, 1, 5), date(2026, 2, 5))
    assert month_series(date(2026, 1, 5), 1, date(2026, 1, 4)) == ()
    with pytest.raises(ValueError, match="at least one month"):
        month_series(date(2026, 1, 5), 0, date(2026, 2, 5))


@pytest.mark.parametrize(
    ("day", "week"),
    [
        # ISO 8601: week 1 holds 4 January.
        (date(2005, 1, 1), "2004-W53"),
        (date(2005, 12, 31), "2005-W52"),
        (date(2007, 1, 1), "2007-W01"),
        (date(2007, 12, 31), "2008-W01"),
        (date(2008, 12, 29), "2009-W01"),
        (date(2009, 12, 31), "2009-W53"),
        (date(2010, 1, 3), "2009-W53"),
        (date(2021, 1, 3), "2020-W53"),
        (date(2026, 1, 1), "2026-W01"),
        (date(2027, 1, 1), "2026-W53"),
    ],
)
def test_iso_week_follows_the_standard(day: date, week: str) -> None:
    assert iso_week(day) == week


def test_a_53rd_week_is_there_in_the_long_years_only() -> None:
    """28 December is always in the last week of its year."""
    assert [year for year in range(2000, 2041) if iso_week(date(year, 12, 28)) == f"{year}-W53"] == [
        2004, 2009, 2015, 2020, 2026, 2032, 2037,
    ]  # fmt: skip


def test_monday_of_starts_the_week() -> None:
    assert monday_of(date(2027, 1, 1)) == date(2026, 12, 28)
    assert monday_of(date(2026, 12, 28)) == date(2026, 12, 28)


def test_elapsed_counts_true_hours_across_both_clock_changes() -> None:
    # IANA 2025b and 2026f: London forward 29 March 2026, back 25 October 2026.
    spring = datetime(2026, 3, 28, 16, tzinfo=LONDON)
    autumn = datetime(2026, 10, 24, 16, tzinfo=LONDON)
    assert elapsed(spring, 24).isoformat() == "2026-03-29T17:00:00+01:00"
    assert elapsed(autumn, 24).isoformat() == "2026-10-25T15:00:00+00:00"
    assert spring + timedelta(hours=24) == datetime(
        2026, 3, 29, 16, tzinfo=LONDON
    )  # wall clock, one hour short


def test_elapsed_refuses_a_moment_without_a_zone() -> None:
    with pytest.raises(NaiveMoment):
        elapsed(datetime(2026, 3, 28, 16), 24)  # noqa: DTZ001


@pytest.mark.parametrize(
    ("day", "utc_hour"),
    [(date(2026, 3, 28), 9), (date(2026, 3, 29), 8), (date(2026, 10, 24), 8), (date(2026, 10, 25), 9)],
)
def test_wall_clock_is_nine_on_the_studios_wall_all_year(day: date, utc_hour: int) -> None:
    moment = wall_clock(day, time(9), LONDON)
    assert moment.hour == 9
    assert moment.astimezone(UTC).hour == utc_hour


def test_wall_clock_moves_a_skipped_time_past_the_gap() -> None:
    moment = wall_clock(date(2026, 3, 29), time(1, 30), LONDON)
    assert moment.isoformat() == "2026-03-29T02:30:00+01:00"
    assert moment.astimezone(UTC).isoformat() == "2026-03-29T01:30:00+00:00"


def test_wall_clock_takes_the_first_of_a_time_shown_twice() -> None:
    moment = wall_clock(date(2026, 10, 25), time(1, 30, fold=1), LONDON)
    assert moment.astimezone(UTC).isoformat() == "2026-10-25T00:30:00+00:00"


def test_mean_month_is_a_twelfth_of_a_julian_year() -> None:
    assert DAYS_IN_MONTH * 12 == 365.25
