"""How long a product lasts, drawn: the share of layers left by age, as the shelf has it, as learned, and as seen.

The law of the shelf and the learned one are smooth curves. What was seen is a band between two steps: so many at
least, so many at most, were left at an age. Everything is worked out here; a template only writes shapes down.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import ceil, inf

from crm.care.chart_scale import Sheet
from crm.care.life import LONGEST_LIFE, Weibull
from crm.care.turnbull import Steps

DESK = Sheet("desk", width=720, gutter=54, text=14, bar=0)
PHONE = Sheet("phone", width=340, gutter=50, text=13, bar=0)
_HEIGHT = {"desk": 300.0, "phone": 240.0}
_POINTS = 60
_LAST_SHARE = 0.02
"""The axis runs on until each law leaves no more than this."""
_ROWS = 8
_STEPS = (0.25, 0.5, 1.0, 2.0, 3.0, 6.0, 12.0, 24.0, 60.0, 120.0)


@dataclass(frozen=True, slots=True)
class Mark:
    """A place on an axis with its word."""

    at: float
    words: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """The chart on one sheet, as path data and places in user units of its view box. Empty `band`: nothing seen."""

    sheet: Sheet
    height: float
    left: float
    right: float
    top: float
    bottom: float
    shelf: str
    learned: str
    band: str
    most: str
    least: str
    months: tuple[Mark, ...]
    shares: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """One age of the table beside the chart: percent left by each. `seen` is None where no look reaches."""

    months: str
    shelf: int
    learned: int
    seen: tuple[int, int] | None


@dataclass(frozen=True)
class LastedChart:
    """The two laws and what was seen, in reference months at the main site of the product's class."""

    shelf: Weibull
    learned: Weibull
    seen: Steps

    @cached_property
    def until(self) -> float:
        """The age at which the chart ends: a whole number of its steps."""
        return max(ceil(self._last / self._every), 1) * self._every

    @cached_property
    def _every(self) -> float:
        return next((step for step in _STEPS if self._last / step <= _ROWS), _STEPS[-1])

    @cached_property
    def _last(self) -> float:
        last = max(law.quantile(1 - _LAST_SHARE) for law in (self.shelf, self.learned))
        return min(last, LONGEST_LIFE)

    @cached_property
    def desk(self) -> Drawing:
        """For a wide screen."""
        return self.drawn_on(DESK)

    @cached_property
    def phone(self) -> Drawing:
        """For a narrow screen."""
        return self.drawn_on(PHONE)

    @property
    def summary(self) -> str:
        """The chart in one sentence, for those who cannot see it."""
        shelf, learned = (f"{law.quantile(0.5):.1f}" for law in (self.shelf, self.learned))
        return f"half are gone after {shelf} months by the shelf, after {learned} as learned; the table says more."

    @property
    def rows(self) -> tuple[Row, ...]:
        """The same as a table, from the youngest age of the axis on."""
        return tuple(
            Row(
                _plain(age),
                _percent(self.shelf.survival(age)),
                _percent(self.learned.survival(age)),
                self._seen_at(age),
            )
            for age in self._ages()
            if age > 0
        )

    def drawn_on(self, sheet: Sheet) -> Drawing:
        """The chart laid out for that sheet."""
        plot = _Plot(sheet, self.until, _HEIGHT[sheet.name])
        most, least = list(self._most()), list(self._least())
        return Drawing(
            sheet=sheet,
            height=round(plot.bottom + 2.6 * sheet.text, 2),
            left=plot.left,
            right=plot.right,
            top=plot.top,
            bottom=plot.bottom,
            shelf=plot.line(_curve(self.shelf, self.until)),
            learned=plot.line(_curve(self.learned, self.until)),
            band=plot.line([*most, *reversed(least)]) + "z" if self.seen.stretches else "",
            most=plot.line(most) if self.seen.stretches else "",
            least=plot.line(least) if self.seen.stretches else "",
            months=tuple(self._month_marks(plot)),
            shares=tuple(
                Mark(plot.y(share), f"{share * 100:.0f} %") for share in (1.0, 0.75, 0.5, 0.25, 0.0)
            ),
        )

    def _ages(self) -> list[float]:
        every = self._every
        return [step * every for step in range(round(self.until / every) + 1)]

    def _month_marks(self, plot: _Plot) -> Iterator[Mark]:
        """The ages of the axis; where there is no room for every word, for every second or third."""
        ages, room = self._ages(), plot.right - plot.left
        wide = plot.sheet.wide(_plain(ages[-1]) + " ")
        every = next((n for n in (1, 2, 3) if len(ages) * wide / n <= room), 4)
        for place, age in enumerate(ages):
            yield Mark(plot.x(age), _plain(age) if place % every == 0 else "")

    def _seen_at(self, age: float) -> tuple[int, int] | None:
        if not self.seen.stretches or age > max(self._reaches()):
            return None
        least, most = self.seen.left(age)
        return _percent(least), _percent(most)

    def _reaches(self) -> Iterator[float]:
        """Ages up to which something is known: those of every stretch that a look bounds."""
        for stretch in self.seen.stretches:
            yield stretch.low if stretch.high == inf else stretch.high

    def _most(self) -> Iterator[tuple[float, float]]:
        """Corners of the upper step: it falls where each stretch ends."""
        yield from self._stepped([(stretch.high, stretch.mass) for stretch in self.seen.stretches])

    def _least(self) -> Iterator[tuple[float, float]]:
        """Corners of the lower step: it falls where each stretch begins."""
        yield from self._stepped([(stretch.low, stretch.mass) for stretch in self.seen.stretches])

    def _stepped(self, falls: Sequence[tuple[float, float]]) -> Iterator[tuple[float, float]]:
        left = 1.0
        yield 0.0, left
        for age, mass in falls:
            if age > self.until:
                break
            yield age, left
            left = max(left - mass, 0.0)
            yield age, left
        yield self.until, left


@dataclass(frozen=True, slots=True)
class _Plot:
    """Ages and shares to places on a sheet."""

    sheet: Sheet
    until: float
    height: float

    @property
    def left(self) -> float:
        return self.sheet.gutter

    @property
    def right(self) -> float:
        return self.sheet.width - self.sheet.text

    @property
    def top(self) -> float:
        return self.sheet.text

    @property
    def bottom(self) -> float:
        return self.top + self.height

    def x(self, age: float) -> float:
        return round(self.left + age / self.until * (self.right - self.left), 2)

    def y(self, share: float) -> float:
        return round(self.bottom - share * self.height, 2)

    def line(self, points: Sequence[tuple[float, float]]) -> str:
        """Path data through the points."""
        return "M" + "L".join(f"{self.x(age):g} {self.y(share):g}" for age, share in points)


def _curve(law: Weibull, until: float) -> list[tuple[float, float]]:
    ages = [until * step / _POINTS for step in range(_POINTS + 1)]
    return [(age, law.survival(age)) for age in ages]


def _percent(share: float) -> int:
    return round(share * 100)


def _plain(months: float) -> str:
    return f"{months:g}"
