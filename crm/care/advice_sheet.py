"""The aftercare sheet: its lines, their ranks, and the form in which the exact words sent are stored."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from enum import IntEnum
from typing import Any

from crm.care.months import MONTH_NAMES

_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_A_DAY = re.compile(
    rf"\b\d{{1,2}}(st|nd|rd|th)? ({'|'.join(MONTH_NAMES)})|\b\d{{4}}-\d{{2}}-\d{{2}}\b", re.IGNORECASE
)


class Rank(IntEnum):
    """What gives way to what: the lower number stays."""

    SAFETY = 1
    CURE = 2
    MATERIAL = 3
    CARE = 4
    CONVENIENCE = 5


class NaiveTimeError(ValueError):
    """A time without a time zone, which could mean any of several moments."""


class ForecastDayError(ValueError):
    """Words for an owner that name a day for something that can only be forecast."""


@dataclass(frozen=True, slots=True)
class Line:
    """One piece of advice: what to do, the reason as a clause that follows "because", its end if it has one.

    `code` names the text of the text set, `topic` the matter it speaks about; `until` is in UTC.
    """

    code: str
    rank: Rank
    words: str
    why: str
    until: datetime | None
    topic: str


@dataclass(frozen=True, slots=True)
class Dont:
    """One thing not to do until a moment (UTC); it is off the list once that moment has passed."""

    code: str
    words: str
    why: str
    until: datetime
    topic: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """A composed aftercare sheet in the words that the owner gets.

    `first` holds the three lines of the card: what is on the car, what not to do until when, how this owner
    washes it. `donts` are in order of their end. `safety` is part of every sheet and is never shortened.
    """

    version: str
    first: tuple[Line, ...]
    donts: tuple[Dont, ...]
    care: tuple[Line, ...]
    safety: tuple[Line, ...]

    def to_dict(self) -> dict[str, Any]:
        """The sheet as plain JSON values; `from_dict` gives the same sheet back."""
        return {
            "version": self.version,
            "first": [_line_values(line) for line in self.first],
            "donts": [_dont_values(dont) for dont in self.donts],
            "care": [_line_values(line) for line in self.care],
            "safety": [_line_values(line) for line in self.safety],
        }

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> Sheet:
        """A sheet from what `to_dict` stored. KeyError or ValueError where it was not a stored sheet."""
        return cls(
            version=values["version"],
            first=tuple(_line(each) for each in values["first"]),
            donts=tuple(_dont(each) for each in values["donts"]),
            care=tuple(_line(each) for each in values["care"]),
            safety=tuple(_line(each) for each in values["safety"]),
        )

    def still_open(self, now: datetime) -> tuple[Dont, ...]:
        """The "not until" lines that have not passed at this aware moment, soonest first."""
        return tuple(dont for dont in self.donts if dont.until > in_utc(now))


def _line_values(line: Line) -> dict[str, Any]:
    return {
        "code": line.code,
        "rank": line.rank.name.lower(),
        "words": line.words,
        "why": line.why,
        "until": None if line.until is None else line.until.isoformat(),
        "topic": line.topic,
    }


def _dont_values(dont: Dont) -> dict[str, Any]:
    return {
        "code": dont.code,
        "words": dont.words,
        "why": dont.why,
        "until": dont.until.isoformat(),
        "topic": dont.topic,
    }


def _line(values: Mapping[str, Any]) -> Line:
    until = values["until"]
    return Line(
        code=values["code"],
        rank=Rank[values["rank"].upper()],
        words=values["words"],
        why=values["why"],
        until=None if until is None else in_utc(datetime.fromisoformat(until)),
        topic=values["topic"],
    )


def _dont(values: Mapping[str, Any]) -> Dont:
    return Dont(
        code=values["code"],
        words=values["words"],
        why=values["why"],
        until=in_utc(datetime.fromisoformat(values["until"])),
        topic=values["topic"],
    )


def in_utc(moment: datetime) -> datetime:
    """The same moment in UTC, where adding hours means elapsed hours. NaiveTimeError where it has no zone."""
    if moment.utcoffset() is None:
        raise NaiveTimeError(f"The time {moment:%d %B %Y, %H:%M} has no time zone: give it the studio's.")
    return moment.astimezone(UTC)


FAR_AHEAD = timedelta(days=3)
"""Beyond this nobody waits for a minute; the day is told (own choice)."""


@dataclass(frozen=True, slots=True)
class Telling:
    """When and by which clock something is told to a person."""

    now: datetime
    zone: tzinfo

    def until(self, end: datetime) -> str:
        """The end of a wait as it is told now: "Tuesday 5 May, 15:10", and far ahead "the end of Monday 18 May".

        The day is told whole, so that nobody is told a wait is over before it is.
        """
        if in_utc(end) - in_utc(self.now) <= FAR_AHEAD:
            return moment_words(end, self.zone)
        # Midnight ends the day before it.
        last = (in_utc(end) - timedelta(microseconds=1)).astimezone(self.zone).date()
        return f"the end of {day_words(last)}"


def moment_words(moment: datetime, zone: tzinfo) -> str:
    """A moment for a person, in the clock of that zone: "Tuesday 5 May, 15:10".

    Seconds round up to the next minute, so that nobody is told a wait is over before it is.
    NaiveTimeError where the moment has no time zone.
    """
    exact = in_utc(moment)
    whole = exact.replace(second=0, microsecond=0)
    if exact > whole:
        whole += timedelta(minutes=1)
    local = whole.astimezone(zone)
    return f"{day_words(local.date())}, {local:%H:%M}"


def day_words(day: date) -> str:
    """A day for a person, without the year: "Tuesday 5 May"."""
    return f"{_DAYS[day.weekday()]} {day.day} {MONTH_NAMES[day.month - 1]}"


def month_words(day: date) -> str:
    """The month of a day: "May"."""
    return MONTH_NAMES[day.month - 1]


def require_no_day(words: str) -> None:
    """ForecastDayError where words about a forecast name a day: "around February" is as fine as it gets."""
    if _A_DAY.search(words):
        raise ForecastDayError(f"“{words}” names a day. Say roughly when, such as “until around February”.")
