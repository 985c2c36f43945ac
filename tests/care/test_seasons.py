"""Seasons of the year.

The wrapping season is that of the Austrian winter-tyre rule (from memory); the rest is arithmetic.
"""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.seasons import HOT, SALT, MonthDay, Season, SeasonError, Seasons

WINTER_TYRES = Season(MonthDay(11, 1), MonthDay(4, 15))
SOUTHERN_WINTER = Season(MonthDay(6, 1), MonthDay(8, 31))
LEAP_END = Season(MonthDay(12, 1), MonthDay(2, 29))
LEAP_START = Season(MonthDay(2, 29), MonthDay(4, 30))

month_days = st.dates(date(2024, 1, 1), date(2024, 12, 31)).map(lambda day: MonthDay(day.month, day.day))
seasons = (
    st.tuples(month_days, month_days)
    .filter(lambda ends: ends != (MonthDay(2, 29),) * 2)
    .map(lambda ends: Season(*ends))
)
days = st.dates(date(1990, 1, 1), date(2060, 12, 31))


@pytest.mark.parametrize(
    ("day", "inside"),
    [
        (date(2026, 12, 31), True),
        (date(2027, 1, 1), True),
        (date(2026, 11, 1), True),
        (date(2027, 4, 15), True),
        (date(2027, 4, 16), False),
        (date(2027, 10, 31), False),
    ],
)
def test_season_wraps_the_new_year(day: date, inside: bool) -> None:
    assert WINTER_TYRES.contains(day) is inside


def test_season_of_the_south_lies_within_one_year() -> None:
    assert SOUTHERN_WINTER.contains(date(2026, 6, 1))
    assert SOUTHERN_WINTER.contains(date(2026, 8, 31))
    assert not SOUTHERN_WINTER.contains(date(2026, 5, 31))
    assert not SOUTHERN_WINTER.contains(date(2026, 9, 1))
    assert not SOUTHERN_WINTER.wraps


def test_season_ending_on_leap_day_ends_a_day_earlier_in_common_years() -> None:
    assert LEAP_END.current_or_next(date(2027, 1, 5)) == (date(2026, 12, 1), date(2027, 2, 28))
    assert LEAP_END.current_or_next(date(2028, 1, 5)) == (date(2027, 12, 1), date(2028, 2, 29))
    assert LEAP_END.boundaries(date(2027, 1, 1), date(2028, 6, 1)) == (
        date(2027, 3, 1),
        date(2027, 12, 1),
        date(2028, 3, 1),
    )


def test_season_starting_on_leap_day_starts_in_march_in_common_years() -> None:
    assert LEAP_START.next_start(date(2027, 1, 1)) == date(2027, 3, 1)
    assert LEAP_START.next_start(date(2028, 1, 1)) == date(2028, 2, 29)
    assert not LEAP_START.contains(date(2027, 2, 28))


def test_default_seasons_are_those_of_a_northern_country_that_salts() -> None:
    assert Seasons() == Seasons(SALT, HOT)
    assert SALT.boundaries(date(2026, 1, 1), date(2026, 12, 31)) == (date(2026, 4, 1), date(2026, 11, 1))
    assert HOT.boundaries(date(2026, 1, 1), date(2026, 12, 31)) == (date(2026, 6, 1), date(2026, 9, 1))


@pytest.mark.parametrize(
    ("on", "period"),
    [
        (date(2026, 10, 31), (date(2026, 11, 1), date(2027, 3, 31))),
        (date(2026, 11, 1), (date(2026, 11, 1), date(2027, 3, 31))),
        (date(2027, 2, 1), (date(2026, 11, 1), date(2027, 3, 31))),
        (date(2027, 4, 1), (date(2027, 11, 1), date(2028, 3, 31))),
    ],
)
def test_season_names_the_running_or_the_next_period(on: date, period: tuple[date, date]) -> None:
    assert SALT.current_or_next(on) == period


def test_seasons_with_the_same_dates_are_equal_and_hash_alike() -> None:
    one, two = Seasons(hot=SOUTHERN_WINTER), Seasons(hot=Season(MonthDay(6, 1), MonthDay(8, 31)))
    assert one == two
    assert hash(one) == hash(two)
    assert one != Seasons(salt=SOUTHERN_WINTER)


def test_month_day_is_read_back_from_its_own_words() -> None:
    assert MonthDay.parse("11-01") == MonthDay(11, 1)
    assert str(MonthDay(2, 29)) == "02-29"


@pytest.mark.parametrize("text", ["", "11", "11/01", "13-01", "02-30", "aa-bb", "11-00", "-1-1", "²-01"])
def test_month_day_refuses_what_is_not_a_day(text: str) -> None:
    with pytest.raises(SeasonError):
        MonthDay.parse(text)


def test_season_cannot_be_leap_day_alone() -> None:
    with pytest.raises(SeasonError, match="29 February alone"):
        Season(MonthDay(2, 29), MonthDay(2, 29))


@settings(max_examples=60, deadline=None)
@given(season=seasons, start=days, length=st.integers(0, 800))
def test_season_boundaries_are_exactly_the_days_on_which_it_turns(
    season: Season, start: date, length: int
) -> None:
    walked = [start + timedelta(days=n) for n in range(length + 1)]
    turned = {day for before, day in pairwise(walked) if season.contains(before) != season.contains(day)}
    boundaries = season.boundaries(start, walked[-1])
    assert turned <= set(boundaries)
    assert list(boundaries) == sorted(set(boundaries))
    # A boundary that turns nothing is only where a season that fills the year meets itself.
    assert all(season.contains(day) for day in set(boundaries) - turned)


@settings(max_examples=100, deadline=None)
@given(season=seasons, on=days)
def test_season_periods_hold_only_days_of_the_season(season: Season, on: date) -> None:
    first, last = season.current_or_next(on)
    assert first <= last
    assert season.contains(first)
    assert season.contains(last)
    assert (first <= on <= last) == season.contains(on)
    assert season.next_start(on) >= on
    assert season.contains(season.next_start(on))
