"""When post may leave: sending hours on the studio's own clock.

Hours and days are common practice, no source. A change to or from summer time moves the moment, never the
time on the wall: nine o'clock in the studio stays nine o'clock.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from crm.care.months import wall_clock
from crm.models import Studio

SATURDAY, SUNDAY = 5, 6
_ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Hours:
    """Part of a day: from the first time up to, but not with, the second. Empty where that is not later."""

    start: time
    end: time

    @property
    def open(self) -> bool:
        return self.start < self.end


@dataclass(frozen=True, slots=True)
class SendingHours:
    """The hours of a week in which post may leave, in one zone. Sunday, if at all, has Saturday's hours."""

    zone: ZoneInfo
    weekday: Hours = Hours(time(9), time(19))
    saturday: Hours = Hours(time(9, 30), time(13))
    sundays: bool = False

    @classmethod
    def of(cls, studio: Studio) -> SendingHours:
        """The studio's own hours; where it has closed the whole week, the usual ones."""
        own = cls(
            zone=studio.zone,
            weekday=Hours(_time(studio.weekday_from), _time(studio.weekday_until)),
            saturday=Hours(_time(studio.saturday_from), _time(studio.saturday_until)),
            sundays=studio.post_on_sundays,
        )
        return own if own.weekday.open or own.saturday.open else cls(zone=studio.zone)

    def on(self, day: date) -> Hours | None:
        """The hours of one day, or None where nothing leaves on it."""
        hours = self.weekday
        if day.weekday() == SATURDAY or (day.weekday() == SUNDAY and self.sundays):
            hours = self.saturday
        elif day.weekday() == SUNDAY:
            return None
        return hours if hours.open else None

    def allow(self, moment: datetime) -> bool:
        """Whether post may leave at that moment."""
        local = moment.astimezone(self.zone)
        hours = self.on(local.date())
        return hours is not None and hours.start <= local.time() < hours.end

    def next_moment(self, moment: datetime) -> datetime:
        """That moment if post may leave then, otherwise the next opening; in UTC."""
        if self.allow(moment):
            return moment.astimezone(UTC)
        day = moment.astimezone(self.zone).date()
        while True:
            hours = self.on(day)
            opening = wall_clock(day, hours.start, self.zone).astimezone(UTC) if hours else None
            if opening is not None and opening > moment:
                return opening
            day += _ONE_DAY


def _time(value: time | str) -> time:
    """A time of day; a row that was just made still holds its default as text."""
    return time.fromisoformat(value) if isinstance(value, str) else value
