"""Days of the demo studio, counted back from the day it is started."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from crm.care.months import wall_clock

YEARS = 4
BAYS = 2
_ONE_DAY = timedelta(days=1)
_SATURDAY = 5


@dataclass
class Days:
    """The studio's calendar: the day it is started, and which past days its two bays have room on."""

    now: datetime
    zone: ZoneInfo
    taken: Counter[date] = field(default_factory=Counter)

    @property
    def today(self) -> date:
        """The day it is in the studio."""
        return self.now.astimezone(self.zone).date()

    @property
    def first(self) -> date:
        """The day on which the record begins."""
        return self.today.replace(day=1, year=self.today.year - YEARS)

    def at(self, day: date, hour: int, minute: int = 0) -> datetime:
        """A time on the studio's wall."""
        return wall_clock(day, time(hour, minute), self.zone)

    def latest(self, month: int, day: int, *, before: date | None = None) -> date:
        """The last time a day of the year came round, before a day or before today."""
        limit = before or self.today
        found = date(limit.year, month, day)
        return found if found < limit else date(limit.year - 1, month, day)

    def free(self, day: date) -> date:
        """That day, or the nearest working day before it on which a bay was free. Takes the place."""
        while day.weekday() >= _SATURDAY or self.taken[day] >= BAYS:
            day -= _ONE_DAY
        self.taken[day] += 1
        return day

    def ago(self, days: int) -> date:
        """A free working day about so many days ago."""
        return self.free(self.today - timedelta(days=days))

    def ahead(self, days: int) -> date:
        """The first working day from so many days ahead on."""
        day = self.today + timedelta(days=days)
        while day.weekday() >= _SATURDAY:
            day += _ONE_DAY
        return day

    def seasons(self, month: int, day: int, *, since: date, until: date) -> Iterator[date]:
        """A day of the year in every year between two days, the earliest first."""
        for year in range(since.year, until.year + 1):
            found = date(year, month, day)
            if since <= found <= until:
                yield found
