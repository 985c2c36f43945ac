"""The coat chart: a car's layers over time, in lanes by zone, ready to be drawn.

Everything is worked out here, so that a template only writes shapes down: the same drawing serves the
screen, the phone and the paper. A layer is a band: striped while it sets, solid while it holds, fading
through its window with a notch at the likely date, a dashed outline past it, and a hollow stub after its
ending.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from crm.care.chart_facts import (
    Band,
    ChartError,
    GradeDot,
    Span,
    VisitPost,
    in_words,
    two_years,
    whole_record,
)
from crm.care.chart_lanes import Lane, lay_lanes
from crm.care.chart_scale import DESK, PAPER, PHONE, Box, Scale, Sheet, Tick, salted, scale_of, ticks
from crm.care.seasons import Season
from crm.care.surfaces import Zone

__all__ = [
    "Band",
    "Chart",
    "ChartError",
    "Drawing",
    "GradeDot",
    "Span",
    "VisitPost",
    "coat_chart",
    "two_years",
    "whole_record",
]

FADE_STEPS = 24
FAINTEST = 0.1


@dataclass(frozen=True, slots=True)
class PostMark:
    """A visit's post."""

    x: float
    title: str


@dataclass(frozen=True, slots=True)
class FadeStep:
    """A slice of a fading band in a unit square; slices, because gradients vanish in some PDF readers."""

    x: float
    width: float
    opacity: float


@dataclass(frozen=True, slots=True)
class Drawing:
    """The chart on one sheet. `plot` is the part right of the lane names, from first lane to last."""

    sheet: Sheet
    height: float
    plot: Box
    lanes: tuple[Lane, ...]
    salt: tuple[tuple[float, float], ...]
    ticks: tuple[Tick, ...]
    posts: tuple[PostMark, ...]
    today_x: float | None
    today_label_x: float

    @property
    def fade(self) -> tuple[FadeStep, ...]:
        """Slices from full to faint."""
        return FADE


@dataclass(frozen=True)
class Chart:
    """The facts of a chart, and its drawings. Bands stand in lane order, then in the order they were laid."""

    bands: tuple[Band, ...]
    posts: tuple[VisitPost, ...]
    dots: tuple[GradeDot, ...]
    today: date
    span: Span
    salt: Season

    def drawn_on(self, sheet: Sheet) -> Drawing:
        """The chart laid out for that sheet."""
        scale = scale_of(self.span, sheet)
        head = round(2 * sheet.text + 8, 2)
        lanes = lay_lanes(self.bands, self.dots, scale=scale, sheet=sheet, today=self.today, top=head)
        bottom = lanes[-1].y + lanes[-1].height if lanes else head
        shows_today = scale.shows(self.today)
        return Drawing(
            sheet=sheet,
            height=round(bottom + sheet.text + 8, 2),
            plot=Box(scale.left, head, round(scale.right - scale.left, 2), round(bottom - head, 2)),
            lanes=lanes,
            salt=salted(scale, self.salt),
            ticks=ticks(scale, sheet),
            posts=tuple(
                PostMark(scale.x(p.on), f"{in_words(p.on)}: {p.name}")
                for p in self.posts
                if scale.shows(p.on)
            ),
            today_x=scale.x(self.today) if shows_today else None,
            today_label_x=_inside(scale.x(self.today), scale, sheet.wide(self.today_label)),
        )

    @cached_property
    def desk(self) -> Drawing:
        """For a wide screen."""
        return self.drawn_on(DESK)

    @cached_property
    def phone(self) -> Drawing:
        """For a narrow screen."""
        return self.drawn_on(PHONE)

    @cached_property
    def paper(self) -> Drawing:
        """For A4 and Letter between usual margins."""
        return self.drawn_on(PAPER)

    @property
    def today_label(self) -> str:
        """What stands under the line of today."""
        return f"today, {in_words(self.today)}"

    @property
    def summary(self) -> str:
        """The chart in one sentence, for those who cannot see it."""
        zones = len({band.zone for band in self.bands} | {dot.zone for dot in self.dots})
        seen = f"{in_words(self.span.first)} to {in_words(self.span.last)}"
        return (
            f"{seen}: {_count(len(self.bands), 'band')} in {_count(zones, 'lane')}, "
            f"{_count(len(self.posts), 'visit')}, {_count(len(self.dots), 'water grade')}."
        )

    @property
    def rows(self) -> tuple[tuple[Band, str, str], ...]:
        """For the table beside the chart: each band, its condition's key today, and its sentence."""
        return tuple(
            (band, band.condition(self.today).value, band.sentence(self.today)) for band in self.bands
        )


def coat_chart(
    *,
    bands: Sequence[Band],
    posts: Sequence[VisitPost],
    dots: Sequence[GradeDot],
    today: date,
    span: Span,
    salt: Season,
) -> Chart:
    """The chart of these facts over that stretch of time."""
    order = list(Zone)
    return Chart(
        bands=tuple(sorted(bands, key=lambda band: (order.index(band.zone), band.laid_on, band.name))),
        posts=tuple(sorted(posts, key=lambda post: post.on)),
        dots=tuple(sorted(dots, key=lambda dot: (order.index(dot.zone), dot.on, dot.decontaminated))),
        today=today,
        span=span,
        salt=salt,
    )


def _fade() -> tuple[FadeStep, ...]:
    width = 1 / FADE_STEPS
    drop = (1 - FAINTEST) / (FADE_STEPS - 1)
    return tuple(
        FadeStep(round(step * width, 4), round(width, 4), round(1 - step * drop, 3))
        for step in range(FADE_STEPS)
    )


def _inside(x: float, scale: Scale, wide: float) -> float:
    """The middle of a label as near to `x` as it can be without leaving the plot."""
    return round(min(max(x, scale.left + wide / 2), scale.right - wide / 2), 2)


def _count(number: int, noun: str) -> str:
    return f"{number or 'no'} {noun}{'' if number == 1 else 's'}"


FADE = _fade()
