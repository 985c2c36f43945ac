"""Sending hours, on the days on which clocks change among them.

Days and offsets of the changes: IANA time-zone database, releases 2025b and 2026f. Hours: common practice, no source.
"""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.models import Studio
from crm.post.quiet import Hours, SendingHours

LONDON = SendingHours(ZoneInfo("Europe/London"))
SUNDAYS_TOO = SendingHours(ZoneInfo("Europe/London"), sundays=True)


def _utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def _local(text: str, zone: str = "Europe/London") -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone))


@pytest.mark.parametrize(
    ("local", "allowed"),
    [
        ("2026-05-04T08:59:59", False),  # Monday
        ("2026-05-04T09:00:00", True),
        ("2026-05-04T18:59:59", True),
        ("2026-05-04T19:00:00", False),
        ("2026-05-09T09:29:59", False),  # Saturday
        ("2026-05-09T09:30:00", True),
        ("2026-05-09T12:59:59", True),
        ("2026-05-09T13:00:00", False),
        ("2026-05-10T11:00:00", False),  # Sunday
    ],
)
def test_sending_hours_of_a_week(local: str, allowed: bool) -> None:
    assert LONDON.allow(_local(local)) is allowed


@pytest.mark.parametrize(
    ("asked", "leaves"),
    [
        ("2026-05-04T03:00:00", "2026-05-04T09:00:00"),
        ("2026-05-04T20:00:00", "2026-05-05T09:00:00"),
        ("2026-05-08T19:00:00", "2026-05-09T09:30:00"),  # Friday night to Saturday
        ("2026-05-09T13:00:00", "2026-05-11T09:00:00"),  # Saturday noon to Monday
        ("2026-05-10T00:00:00", "2026-05-11T09:00:00"),  # Sunday to Monday
        ("2026-05-04T12:34:56", "2026-05-04T12:34:56"),
    ],
)
def test_next_moment_is_the_next_opening(asked: str, leaves: str) -> None:
    assert LONDON.next_moment(_local(asked)) == _local(leaves)


@pytest.mark.parametrize(
    ("day", "leaves"),
    [
        ("2026-03-28", "2026-03-28T09:00:00"),  # the day before the clocks go forward
        ("2026-03-29", "2026-03-29T08:00:00"),
        ("2026-10-24", "2026-10-24T08:00:00"),
        ("2026-10-25", "2026-10-25T09:00:00"),  # the day they go back
    ],
)
def test_nine_in_the_studio_stays_nine_across_a_change_of_clocks(day: str, leaves: str) -> None:
    hours = SendingHours(LONDON.zone, saturday=Hours(time(9), time(13)), sundays=True)
    assert hours.next_moment(_utc(f"{day}T00:30:00")) == _utc(leaves)


def test_an_hour_that_the_clock_skips_opens_after_the_skip() -> None:
    hours = SendingHours(LONDON.zone, saturday=Hours(time(1, 30), time(13)), sundays=True)
    # 29 March 2026, 01:30 does not exist in London: the clock goes from 01:00 to 02:00, which is 01:00 UTC.
    assert hours.next_moment(_utc("2026-03-29T00:10:00")) == _utc("2026-03-29T01:30:00")


def test_an_hour_that_the_clock_shows_twice_opens_once() -> None:
    hours = SendingHours(LONDON.zone, saturday=Hours(time(1, 30), time(13)), sundays=True)
    first = hours.next_moment(_utc("2026-10-25T00:10:00"))
    assert first == _utc("2026-10-25T00:30:00")
    assert hours.next_moment(first + timedelta(seconds=1)) == first + timedelta(seconds=1)


def test_southern_studio_keeps_its_own_clock() -> None:
    sydney = SendingHours(ZoneInfo("Australia/Sydney"))
    # Clocks went back on 5 April 2026: UTC+11 on Saturday, UTC+10 on Monday.
    assert sydney.next_moment(_local("2026-04-04T05:00:00", "Australia/Sydney")) == _utc(
        "2026-04-03T22:30:00"
    )
    assert sydney.next_moment(_local("2026-04-05T12:00:00", "Australia/Sydney")) == _utc(
        "2026-04-05T23:00:00"
    )


def test_sundays_have_saturdays_hours_where_the_studio_wants_them() -> None:
    assert SUNDAYS_TOO.next_moment(_local("2026-05-10T02:00:00")) == _local("2026-05-10T09:30:00")


def test_studio_settings_are_the_hours() -> None:
    studio = Studio(
        name="Greywater Yard", weekday_from="10:00", weekday_until="12:00", time_zone="Europe/Berlin"
    )
    assert SendingHours.of(studio) == SendingHours(
        ZoneInfo("Europe/Berlin"), Hours(time(10), time(12)), Hours(time(9, 30), time(13))
    )


def test_a_week_without_hours_falls_back_to_the_usual_ones() -> None:
    studio = Studio(
        weekday_from="19:00", weekday_until="09:00", saturday_from="13:00", saturday_until="13:00"
    )
    assert SendingHours.of(studio) == SendingHours(ZoneInfo("Europe/London"))


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 4 * 365 * 24 * 60))
def test_next_moment_is_allowed_and_never_early(minutes: int) -> None:
    moment = datetime(2025, 1, 1, tzinfo=UTC) + timedelta(minutes=minutes)
    leaves = LONDON.next_moment(moment)
    assert LONDON.allow(leaves)
    assert timedelta() <= leaves - moment <= timedelta(days=2, hours=20)
