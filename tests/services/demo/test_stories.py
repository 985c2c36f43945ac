"""The stories of the demo on whatever day it is started: nothing in them may hang on today's date."""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from crm.models import Visit
from crm.services.demo.building import stories_of
from crm.services.demo.days import BAYS, Days
from crm.services.demo.staying import with_odometers
from tests.processes import PROJECT

LONDON = ZoneInfo("Europe/London")
STARTS = [
    datetime(2026, 11, 25, 10, 30, tzinfo=UTC),
    datetime(2028, 2, 29, 0, 5, tzinfo=UTC),
    datetime(2027, 1, 1, 0, 0, tzinfo=UTC),
    datetime(2026, 3, 29, 1, 30, tzinfo=UTC),  # clocks go forward
    datetime(2026, 10, 25, 0, 30, tzinfo=UTC),  # clocks go back
    *(datetime(2026, 1, 1, 17, 0, tzinfo=UTC) + timedelta(days=37 * step) for step in range(20)),
]


@pytest.mark.parametrize("now", STARTS, ids=str)
def test_stories_fit_the_day_they_are_told_on(now: datetime) -> None:
    days = Days(now, LONDON)
    stories = stories_of(days)
    assert len(stories) >= 80
    marks = [story.car.mark for story in stories]
    assert len(marks) == len(set(marks))
    for story in stories:
        over = [stay for stay in story.stays if stay.state == Visit.State.HANDED_OVER]
        ordered = sorted(over, key=lambda stay: stay.on)
        assert all(story.since <= stay.on for stay in story.stays), story.car.mark
        assert all(stay.on + timedelta(days=stay.nights) <= days.today for stay in over), story.car.mark
        gaps = pairwise(ordered)
        assert all(one.on + timedelta(days=one.nights) < other.on for one, other in gaps), story.car.mark
        booked = [stay for stay in story.stays if stay.state == Visit.State.BOOKED]
        assert all(stay.on >= days.today for stay in booked)
        assert all(when <= now for when, _ in story.happenings), story.car.mark
        read = [stay.odometer_km for stay in with_odometers(story.stays, km=story.km, km_a_year=12_000)]
        assert read == sorted(read, key=lambda km: km or 0)


def test_same_moment_gives_the_same_stories() -> None:
    def told() -> list[object]:
        stories = stories_of(Days(STARTS[0], LONDON))
        return [(story.car, story.owner, story.kept, story.stays, story.km) for story in stories]

    assert told() == told()


def test_stories_are_the_same_in_another_process() -> None:
    """Where the order of a set decided anything, another seed of hashing would tell another story."""
    code = (
        "import hashlib; from datetime import datetime, UTC; from zoneinfo import ZoneInfo\n"
        "import django; django.setup()\n"
        "from crm.services.demo.building import stories_of; from crm.services.demo.days import Days\n"
        "told = stories_of(Days(datetime(2026, 11, 25, 10, 30, tzinfo=UTC), ZoneInfo('Europe/London')))\n"
        "told = [(story.car, story.owner, story.kept, story.stays, story.km) for story in told]\n"
        "print(hashlib.sha256(repr(told).encode()).hexdigest())"
    )
    said = [
        subprocess.run(
            [sys.executable, "-c", code],
            cwd=PROJECT,
            env=os.environ | {"PYTHONHASHSEED": seed, "DJANGO_SETTINGS_MODULE": "crm.config.settings"},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    ]
    assert len(said[0]) == 65
    assert said[0] == said[1]


@pytest.mark.parametrize("now", STARTS[:3], ids=str)
def test_there_is_something_in_the_bay_and_something_to_come(now: datetime) -> None:
    days = Days(now, LONDON)
    states = {stay.state for story in stories_of(days) for stay in story.stays}
    assert states == {State.HANDED_OVER, State.IN_BAY, State.READY, State.BOOKED}
    coming = [
        stay.on
        for story in stories_of(Days(now, LONDON))
        for stay in story.stays
        if stay.state == State.BOOKED
    ]
    assert any(days.today < on <= days.today + timedelta(days=7) for on in coming)


State = Visit.State


def test_free_day_is_a_working_day_with_room() -> None:
    days = Days(datetime(2026, 11, 25, tzinfo=UTC), LONDON)
    sunday = date(2026, 11, 22)
    friday, thursday = date(2026, 11, 20), date(2026, 11, 19)
    assert [days.free(sunday) for _ in range(BAYS + 1)] == [*[friday] * BAYS, thursday]


def test_latest_is_never_today_nor_to_come() -> None:
    days = Days(datetime(2026, 10, 2, 12, tzinfo=UTC), LONDON)
    assert days.latest(10, 2) == date(2025, 10, 2)
    assert days.latest(10, 1) == date(2026, 10, 1)
    assert days.latest(10, 1, before=date(2026, 9, 1)) == date(2025, 10, 1)


def test_ahead_is_the_next_working_day() -> None:
    days = Days(datetime(2026, 11, 27, 12, tzinfo=UTC), LONDON)  # a Friday
    assert days.ahead(1) == date(2026, 11, 30)
    assert days.ahead(3) == date(2026, 11, 30)
