"""Seasons of the year by month and day, so that one pair of dates serves every year and both hemispheres."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import MAXYEAR, MINYEAR, date, timedelta

_LONGEST = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_ONE_DAY = timedelta(days=1)


class SeasonError(ValueError):
    """A month and day, or a season, that cannot be meant; the message says what to change."""


@dataclass(frozen=True, slots=True, order=True)
class MonthDay:
    """A day of the year without a year, such as 1 November. 29 February is allowed."""

    month: int
    day: int

    def __post_init__(self) -> None:
        if not 1 <= self.month <= 12:
            raise SeasonError(f"There is no month {self.month}: give a month from 1 to 12.")
        if not 1 <= self.day <= _LONGEST[self.month - 1]:
            raise SeasonError(f"Month {self.month} has no day {self.day}.")

    @classmethod
    def parse(cls, text: str) -> MonthDay:
        """The day written as MM-DD, such as `11-01`. Raises SeasonError."""
        month, dash, day = text.strip().partition("-")
        if not (dash and month.isdecimal() and day.isdecimal()):
            raise SeasonError(f"“{text}” is not a month and a day: write 1 November as 11-01.")
        return cls(int(month), int(day))

    def __str__(self) -> str:
        return f"{self.month:02}-{self.day:02}"

    def in_year(self, year: int) -> date:
        """The first day of that year that is not before this one: 29 February is 1 March in a common year."""
        if (self.month, self.day) == (2, 29) and not _is_leap(year):
            return date(year, 3, 1)
        return date(year, self.month, self.day)


@dataclass(frozen=True, slots=True)
class Season:
    """A part of every year, both ends included; an end before the start wraps the new year.

    In common years a season that ends on 29 February ends on the 28th, and one that starts then starts on
    1 March.
    """

    start: MonthDay
    end: MonthDay

    def __post_init__(self) -> None:
        if self.start == self.end == MonthDay(2, 29):
            raise SeasonError("A season cannot be 29 February alone: most years do not have that day.")

    @property
    def wraps(self) -> bool:
        """Whether the season runs over the new year."""
        return self.end < self.start

    def contains(self, on: date) -> bool:
        """Whether that day is in the season."""
        day = MonthDay(on.month, on.day)
        if self.wraps:
            return day >= self.start or day <= self.end
        return self.start <= day <= self.end

    def boundaries(self, from_: date, to: date) -> tuple[date, ...]:
        """The days after `from_` and up to and with `to` on which the season opens or has just closed.

        In order, without repeats. Between two of them every day is inside or every day is outside. A day of
        closing is the first one outside. Empty where `to` is not after `from_`.
        """
        years = range(max(from_.year - 1, MINYEAR), min(to.year, MAXYEAR) + 1)
        days = {day for year in years for day in self._turns(year) if from_ < day <= to}
        return tuple(sorted(days))

    def next_start(self, on: date) -> date:
        """The first opening of the season on or after that day."""
        start = self.start.in_year(on.year)
        return start if start >= on else self.start.in_year(on.year + 1)

    def current_or_next(self, on: date) -> tuple[date, date]:
        """First and last day of the season that is running on that day, or of the next one to come."""
        if not self.contains(on):
            start = self.next_start(on)
        else:
            start = self.start.in_year(on.year)
            if start > on:
                start = self.start.in_year(on.year - 1)
        return start, self._last_day(start.year + self.wraps)

    def _turns(self, year: int) -> Iterator[date]:
        yield self.start.in_year(year)
        last = self._last_day(year)
        if last < date.max:
            yield last + _ONE_DAY

    def _last_day(self, year: int) -> date:
        if self.end == MonthDay(2, 29) and not _is_leap(year):
            return date(year, 2, 28)
        return date(year, self.end.month, self.end.day)


SALT = Season(MonthDay(11, 1), MonthDay(3, 31))
"""Salted months of a wet temperate country in the north (common practice, no source)."""
HOT = Season(MonthDay(6, 1), MonthDay(8, 31))
"""Hot months of the same (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Seasons:
    """The two seasons that a studio sets for its own roads and weather."""

    salt: Season = SALT
    hot: Season = HOT
    _hash: int = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        # Every forecast looks its clocks up by the seasons: the hash is worked out once.
        object.__setattr__(self, "_hash", hash((self.salt, self.hot)))

    def __hash__(self) -> int:
        return self._hash


def _is_leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
