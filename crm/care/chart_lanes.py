"""Lanes of the coat chart: bands that overlap are stacked into rows, grades stand in a row beneath."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from crm.care.chart_facts import Band, GradeDot
from crm.care.chart_scale import Box, Scale, Sheet
from crm.care.forecast import Window
from crm.care.surfaces import Zone
from crm.care.words import ZONE_NAMES

_BETWEEN = 8.0
"""Room between two bands in one row, so that the name of one does not run into the next."""
_NARROWEST = 5.0
"""A cure of a few days would be a hair's breadth: stripes are never narrower than this."""


@dataclass(frozen=True, slots=True)
class BandMark:
    """A band as shapes. A part that it does not have is None; shapes may reach outside the plot.

    `fade` is the whole window, so that its slices keep their measure; `fade_seen` is what an ending left of it.
    """

    title: str
    label: str
    label_x: float
    label_y: float
    setting: Box | None
    solid: Box | None
    fade: Box | None
    fade_seen: Box | None
    overdue: Box | None
    hollow: Box | None
    notch_x: float | None
    end_x: float | None
    figures: Box | None
    """The window of the figures alone, as a line of no height beneath the band."""
    figures_notch_x: float | None
    promise_x: float | None
    y: float
    height: float

    @property
    def left(self) -> float:
        """The leftmost place that the band or its name takes up."""
        return min(self.label_x, *(box.x for box in self._boxes()))

    def right(self, sheet: Sheet) -> float:
        """The rightmost."""
        return max(self.label_x + sheet.wide(self.label), *(box.x + box.width for box in self._boxes()))

    def lowered(self, by: float) -> BandMark:
        """The same band further down."""
        boxes = {
            name: replace(box, y=round(box.y + by, 2))
            for name in ("setting", "solid", "fade", "fade_seen", "overdue", "hollow", "figures")
            if (box := getattr(self, name)) is not None
        }
        return replace(self, **boxes, y=round(self.y + by, 2), label_y=round(self.label_y + by, 2))

    def _boxes(self) -> list[Box]:
        found = [
            box
            for box in (self.setting, self.solid, self.fade_seen, self.overdue, self.hollow, self.figures)
            if box is not None
        ]
        return found or [Box(self.label_x, self.y, 0, self.height)]


@dataclass(frozen=True, slots=True)
class DotMark:
    """A grade as a dot: filled and numbered after decontamination, hollow before."""

    x: float
    y: float
    radius: float
    label: str
    title: str


@dataclass(frozen=True, slots=True)
class NameLine:
    """One line of a lane's name."""

    words: str
    y: float


@dataclass(frozen=True, slots=True)
class Lane:
    """One zone's strip of the chart."""

    zone: Zone
    name: str
    lines: tuple[NameLine, ...]
    y: float
    height: float
    bands: tuple[BandMark, ...]
    dots: tuple[DotMark, ...]


@dataclass(frozen=True, slots=True)
class _Bench:
    """What every band and dot is laid out with."""

    scale: Scale
    sheet: Sheet
    today: date


def lay_lanes(
    bands: Sequence[Band], dots: Sequence[GradeDot], *, scale: Scale, sheet: Sheet, today: date, top: float
) -> tuple[Lane, ...]:
    """Lanes from top to bottom, one for each zone that has a band or a grade in the plot."""
    bench = _Bench(scale, sheet, today)
    lanes: list[Lane] = []
    for zone in Zone:
        shown = [band for band in bands if band.zone == zone and _in_plot(band, scale, today)]
        graded = [dot for dot in dots if dot.zone == zone and scale.shows(dot.on)]
        if shown or graded:
            lanes.append(_lane(zone, shown, graded, bench, top))
            top = lanes[-1].y + lanes[-1].height
    return tuple(lanes)


def _lane(zone: Zone, bands: Sequence[Band], dots: Sequence[GradeDot], bench: _Bench, top: float) -> Lane:
    sheet = bench.sheet
    above = 0.0 if sheet.gutter else sheet.text + 8
    rows: list[float] = []
    marks = []
    row_height = sheet.text + sheet.bar + 8
    for band in bands:
        mark = _mark(band, bench)
        row = next((at for at, taken in enumerate(rows) if taken + _BETWEEN <= mark.left), len(rows))
        if row == len(rows):
            rows.append(0.0)
        rows[row] = mark.right(sheet)
        marks.append(mark.lowered(top + above + 4 + row * row_height))
    below = top + above + 4 + len(rows) * row_height
    radius = round(sheet.text * 0.62, 2)
    name = ZONE_NAMES[zone]
    lines = _wrapped(name[:1].upper() + name[1:], sheet)
    height = max(below - top + (2 * radius + 8 if dots else 0), above + len(lines) * sheet.text * 1.25) + 4
    return Lane(
        zone=zone,
        name=name,
        lines=tuple(
            NameLine(words, round(top + sheet.text + 4 + at * sheet.text * 1.25, 2))
            for at, words in enumerate(lines)
        ),
        y=round(top, 2),
        height=round(height, 2),
        bands=tuple(marks),
        dots=tuple(_placed(dots, bench, round(below + radius + 2, 2), radius)),
    )


def _wrapped(words: str, sheet: Sheet) -> list[str]:
    """The words broken between words so that each line fits beside, or above, the plot."""
    lines = [""]
    for word in words.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and sheet.wide(longer) > (sheet.gutter or sheet.width):
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def _in_plot(band: Band, scale: Scale, today: date) -> bool:
    until = band.ended_on or max(today, band.window.high if band.window else today)
    return band.laid_on <= scale.span.last and until >= scale.span.first


def _mark(band: Band, bench: _Bench) -> BandMark:
    """The band at the top of the sheet; the lane moves it down to its row."""
    scale, sheet = bench.scale, bench.sheet
    y = sheet.text + 3
    label = _fitting(band.name, sheet, scale.right - scale.left)
    start = scale.x(band.laid_on)
    label_x = max(min(max(start, scale.left), scale.right - sheet.wide(label)), scale.left)
    parts = _parts(band, bench, y)
    ended = None if band.ended_on is None else scale.x(band.ended_on)
    likely = None if band.window is None else band.window.likely
    if likely is not None and band.ended_on is not None and band.ended_on <= likely:
        likely = None
    return BandMark(
        title=band.sentence(bench.today),
        label=label,
        label_x=round(label_x, 2),
        label_y=round(y - 4, 2),
        **parts,
        hollow=None if ended is None else Box(ended, y, round(2 * sheet.bar, 2), sheet.bar),
        notch_x=None if likely is None or not scale.shows(likely) else scale.x(likely),
        end_x=ended,
        figures=None if band.by_figures is None else _line(band.by_figures, scale, y + sheet.bar + 3),
        figures_notch_x=None if band.by_figures is None else scale.x(band.by_figures.likely),
        promise_x=None if band.promised_until is None else scale.x(band.promised_until),
        y=y,
        height=sheet.bar,
    )


def _line(window: Window, scale: Scale, y: float) -> Box:
    left = scale.x(window.low)
    return Box(left, y, round(scale.x(window.high) - left, 2), 0)


def _parts(band: Band, bench: _Bench, y: float) -> dict[str, Box | None]:
    """Setting, solid, fading and overdue stretches, each cut at the ending."""
    stop = band.ended_on or max(bench.today + timedelta(days=1), band.laid_on)
    ending = band.ended_on or date.max
    set_on = band.set_on or band.laid_on
    low, high = (band.window.low, band.window.high) if band.window else (stop, stop)
    low = max(low, set_on)

    def between(start: date, end: date, narrowest: float = 0.0) -> Box | None:
        if end <= start:
            return None
        x = bench.scale.x(start)
        return Box(x, y, round(max(bench.scale.x(end) - x, narrowest), 2), bench.sheet.bar)

    seen = between(low, min(high, ending))
    return {
        "setting": between(band.laid_on, min(set_on, ending), _NARROWEST),
        "solid": between(set_on, min(low, ending)),
        "fade": between(low, high) if seen else None,
        "fade_seen": seen,
        "overdue": between(high, stop) if band.window else None,
    }


def _placed(dots: Iterable[GradeDot], bench: _Bench, y: float, radius: float) -> Iterable[DotMark]:
    """Dots from left to right; where two would cover each other the later one moves aside.

    What was graded alike on one day is one dot, so that a row of panels does not run on into the months to come.
    """
    free = bench.scale.left + radius
    for dot in dict.fromkeys(dots):
        x = max(bench.scale.x(dot.on), free)
        free = x + 2 * radius + 1
        label = str(dot.grade) if dot.decontaminated else ""
        yield DotMark(round(x, 2), y, radius, label, dot.sentence())


def _fitting(words: str, sheet: Sheet, room: float) -> str:
    """The words, cut with an ellipsis where the whole plot is too narrow for them."""
    if sheet.wide(words) <= room:
        return words
    letters = int(room / sheet.wide("m")) - 1
    return words[: max(letters, 1)].rstrip() + "…"
