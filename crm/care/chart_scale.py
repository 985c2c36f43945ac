"""Time laid out on a sheet: where a day stands, which months are named, which are salted.

Lengths are user units of an SVG view box. A sheet is as wide as it is usually shown, so that a unit is
about a pixel of a screen, or a 96th of an inch on paper, and letters keep a readable size.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from crm.care.chart_facts import Span, first_of_month
from crm.care.seasons import Season

_LETTER = 0.56
"""Width of a letter as a share of its size: the mean of the chart's face, rounded up."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """What the chart is drawn for. `gutter` is the column of lane names; 0 puts each name above its lane."""

    name: str
    width: float
    gutter: float
    text: float
    bar: float

    def wide(self, words: str) -> float:
        """Estimated width of these words when set on this sheet."""
        return len(words) * self.text * _LETTER


DESK = Sheet("desk", width=960, gutter=150, text=14, bar=15)
PHONE = Sheet("phone", width=360, gutter=0, text=13, bar=15)
PAPER = Sheet("paper", width=680, gutter=104, text=10.5, bar=10)


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Tick:
    """A month or year on the axis. `label` is empty where there is no room for a word."""

    x: float
    label: str
    year: bool


@dataclass(frozen=True, slots=True)
class Scale:
    """Days to places from left to right."""

    span: Span
    left: float
    right: float

    def x(self, day: date) -> float:
        """Where the morning of that day stands; days outside the span stand outside the sheet's plot."""
        share = (day - self.span.first).days / self.span.days
        return round(self.left + share * (self.right - self.left), 2)

    def shows(self, day: date) -> bool:
        """Whether the day is in the plot."""
        return self.span.first <= day <= self.span.last


def scale_of(span: Span, sheet: Sheet) -> Scale:
    """The scale that fills a sheet beside its lane names."""
    return Scale(span, sheet.gutter, sheet.width)


def ticks(scale: Scale, sheet: Sheet) -> tuple[Tick, ...]:
    """Months with as many names as fit, and the years."""
    firsts = []
    day = first_of_month(scale.span.first, 0)
    while day <= scale.span.last:
        firsts.append(day)
        day = first_of_month(day, 1)
    month = (scale.right - scale.left) / max(len(firsts), 1)
    every = next((step for step in (1, 3, 6) if step * month >= sheet.wide("Mmm ")), 12)
    marked = [day for day in firsts if (day.month - 1) % every == 0 and day >= scale.span.first]
    return tuple(_named(marked, scale, sheet, every))


def _named(marked: list[date], scale: Scale, sheet: Sheet, every: int) -> Iterator[Tick]:
    """Ticks with their words, a word left out where it would run into the one before or off the sheet."""
    free = scale.left
    for day in marked:
        x, label = scale.x(day), _tick_label(day, every)
        until = x + sheet.wide(label + " ")
        if label and free <= x and until <= scale.right + sheet.wide(" "):
            free = until
        else:
            label = ""
        yield Tick(x, label, day.month == 1)


def _tick_label(day: date, every: int) -> str:
    return f"{day.year}" if day.month == 1 else "" if every == 12 else f"{day:%b}"


def salted(scale: Scale, salt: Season) -> tuple[tuple[float, float], ...]:
    """Left edge and width of every salted stretch in the plot."""
    span = scale.span
    turns = [span.first, *salt.boundaries(span.first, span.last), span.last + timedelta(days=1)]
    return tuple(
        (scale.x(start), round(scale.x(end) - scale.x(start), 2))
        for start, end in pairwise(turns)
        if salt.contains(start)
    )
