"""The turns of the seasons: in order, without a gap, and the same as asking the seasons day by day."""

from __future__ import annotations

from datetime import date
from itertools import islice, pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.seasons import MonthDay, Season, Seasons
from crm.care.turns import LAST, calendar_between, spans_from, states_between
from crm.care.wear import HOT, SALT
from tests.care.any_coats import any_seasons

SOUTH = Seasons(salt=Season(MonthDay(6, 1), MonthDay(8, 31)), hot=Season(MonthDay(12, 1), MonthDay(2, 28)))
ALWAYS = Seasons(salt=Season(MonthDay(1, 1), MonthDay(12, 31)), hot=Season(MonthDay(6, 1), MonthDay(8, 31)))
DAYS = st.dates(date(1990, 1, 1), date(2060, 12, 31))


def _state(seasons: Seasons, day: int) -> int:
    on = date.fromordinal(day)
    return HOT * seasons.hot.contains(on) | SALT * seasons.salt.contains(on)


def test_spans_of_a_year_start_with_the_one_the_day_lies_in() -> None:
    found = list(islice(spans_from(Seasons(), date(2025, 10, 10).toordinal()), 4))
    assert [(date.fromordinal(end), state) for end, state in found] == [
        (date(2025, 11, 1), 0),
        (date(2026, 4, 1), SALT),
        (date(2026, 6, 1), 0),
        (date(2026, 9, 1), HOT),
    ]


def test_spans_in_the_south_are_salted_in_july_and_hot_over_the_new_year() -> None:
    assert next(spans_from(SOUTH, date(2026, 7, 10).toordinal())) == (date(2026, 9, 1).toordinal(), SALT)
    assert next(spans_from(SOUTH, date(2026, 12, 10).toordinal())) == (date(2027, 3, 1).toordinal(), HOT)


def test_spans_end_with_the_last_day_of_all() -> None:
    found = list(spans_from(Seasons(), date(9998, 12, 31).toordinal()))
    assert found[-1] == (LAST, SALT)
    assert all(one < other for (one, _), (other, _) in pairwise(found))


@settings(max_examples=60, deadline=None)
@given(seasons=any_seasons, day=DAYS, later=st.integers(0, 9000))
def test_spans_say_what_the_seasons_say_of_each_day(seasons: Seasons, day: date, later: int) -> None:
    asked = day.toordinal() + later
    ends = spans_from(seasons, day.toordinal())
    assert next(state for end, state in ends if asked < end) == _state(seasons, asked)


@settings(max_examples=60, deadline=None)
@given(seasons=any_seasons, day=DAYS, length=st.integers(0, 800))
def test_states_between_two_days_are_those_of_every_day(seasons: Seasons, day: date, length: int) -> None:
    first, last = day.toordinal(), day.toordinal() + min(length, 366)
    assert states_between(seasons, first, last) == {_state(seasons, each) for each in range(first, last + 1)}


def test_states_of_more_than_a_year_are_all_that_there_are() -> None:
    first = date(2026, 3, 1).toordinal()
    assert states_between(ALWAYS, first, first + 5000) == {SALT, SALT | HOT}


@settings(max_examples=40, deadline=None)
@given(seasons=any_seasons, day=DAYS, length=st.integers(1, 9000))
def test_calendar_is_the_spans_up_to_its_end(seasons: Seasons, day: date, length: int) -> None:
    first, end = day.toordinal(), day.toordinal() + length
    calendar = calendar_between(seasons, first, end)
    assert calendar.ends[-1] == end
    for each in {first, *calendar.ends[:-1], *(turn - 1 for turn in calendar.ends)}:
        state = next(state for turn, state in zip(*calendar, strict=True) if each < turn)
        assert state == _state(seasons, each)
