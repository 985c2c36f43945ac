"""What a coat chart shows: bands of layers, visits and grades, and the stretch of time it looks at."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from crm.care.forecast import Window, condition, window_words
from crm.care.surfaces import Zone
from crm.care.terms import Condition
from crm.care.words import CONDITION_NAMES

_ONE_DAY = timedelta(days=1)


class ChartError(ValueError):
    """Facts that no chart can show; the message says which and why."""


@dataclass(frozen=True, slots=True)
class Band:
    """One layer in one zone.

    `where` names its surfaces there. `set_on` is the end of its cure (None: no cure clock), `window` how
    long it should hold (None: no forecast), `ended_on` and `ended_why` the ending, if there was one. `by_figures` is
    the window of the figures alone where a grade has moved it, `promised_until` the end of what was promised.
    """

    zone: Zone
    name: str
    where: str
    laid_on: date
    set_on: date | None
    window: Window | None
    ended_on: date | None
    ended_why: str
    by_figures: Window | None = None
    promised_until: date | None = None

    def __post_init__(self) -> None:
        if self.set_on is not None and self.set_on < self.laid_on:
            raise ChartError(f"{self.name} is said to have set before it was laid.")
        if self.ended_on is not None and self.ended_on < self.laid_on:
            raise ChartError(f"{self.name} is said to have ended before it was laid.")

    def condition(self, today: date) -> Condition:
        """How the layer stands on that day."""
        ended = self.ended_on is not None and self.ended_on <= today
        return condition(self.window, today=today, cured_on=self.set_on, ended=ended)

    def sentence(self, today: date) -> str:
        """The band in words: what, where, when laid, how long it should hold and how it stands."""
        said = [f"{self.name} on {self.where}" if self.where else self.name, f"laid {in_words(self.laid_on)}"]
        if self.set_on is not None and self.set_on > self.laid_on:
            said.append(f"set {in_words(self.set_on)}")
        if self.window is None:
            said.append("no forecast")
        else:
            said.append(window_words(self.window))
        if self.by_figures is not None:
            said.append(f"by the figures alone {window_words(self.by_figures)}")
        if self.promised_until is not None:
            said.append(f"promised until {in_words(self.promised_until)}")
        state = CONDITION_NAMES[self.condition(today)]
        if self.ended_on is not None:
            state = f"ended {in_words(self.ended_on)}" + (f": {self.ended_why}" if self.ended_why else "")
        return "; ".join([*said, state])


@dataclass(frozen=True, slots=True)
class VisitPost:
    """A visit, drawn as a post through all lanes."""

    on: date
    name: str


@dataclass(frozen=True, slots=True)
class GradeDot:
    """A water grade, 4 to 0. Only one taken after decontamination is evidence and shows its number."""

    zone: Zone
    on: date
    grade: int
    decontaminated: bool

    def sentence(self) -> str:
        """The grade in words."""
        how = "after decontamination" if self.decontaminated else "before decontamination: not proof"
        return f"water grade {self.grade} on {in_words(self.on)}, {how}"


@dataclass(frozen=True, slots=True)
class Span:
    """The days that a chart shows, both ends included."""

    first: date
    last: date

    def __post_init__(self) -> None:
        if self.last <= self.first:
            raise ChartError("A chart needs at least two days to show.")

    @property
    def days(self) -> int:
        """Number of days shown."""
        return (self.last - self.first).days + 1


def two_years(today: date) -> Span:
    """A year behind and a year ahead, on whole months."""
    return Span(first_of_month(today, -12), first_of_month(today, 13) - _ONE_DAY)


def whole_record(
    bands: Sequence[Band], posts: Sequence[VisitPost], dots: Sequence[GradeDot], *, today: date
) -> Span:
    """From the first thing known to the last date forecast, on whole months; never less than two years."""
    near = two_years(today)
    known = [near.first, near.last, *_days_of(bands), *(post.on for post in posts), *(dot.on for dot in dots)]
    return Span(first_of_month(min(known), 0), first_of_month(max(known), 1) - _ONE_DAY)


def first_of_month(day: date, later: int) -> date:
    """The first of the month that lies `later` months after that day's (a negative number: before)."""
    months = min(max(day.year * 12 + day.month - 1 + later, 12), date.max.year * 12 + 11)
    return date(months // 12, months % 12 + 1, 1)


def in_words(day: date) -> str:
    """A day as the studio writes it: 4 May 2026."""
    return f"{day.day} {day:%b %Y}"


def _days_of(bands: Iterable[Band]) -> Iterable[date]:
    for band in bands:
        yield band.laid_on
        if band.ended_on is not None:
            yield band.ended_on
        elif band.window is not None:
            yield band.window.high
        if band.promised_until is not None:
            yield band.promised_until
