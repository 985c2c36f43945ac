"""Paint thickness: readings into spots, and spots into panels.

A reading is a single value of the gauge; a spot is the average of at least three readings within a circle
of 4 cm; that vocabulary is the dry-film standard's (SSPC-PA 2), which is for steel structures and is not
used to pass or fail anything here. A panel is decided on its lowest spot: an average hides the thin edge.

All thickness is total film in µm, from the metal up. How much of it is clear, a gauge cannot see.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import floor, fsum, isfinite
from statistics import median

from crm.care.paint_terms import ON_METAL, GaugeMode, SpotPlace

MICROMETRES_IN_A_MIL = 25.4
"""Exactly: a thousandth of an inch, and the inch is 25.4 mm by definition."""

READINGS_OF_A_SPOT = 3
"""The least number of readings in a spot measurement (SSPC-PA 2)."""

THICKEST = 5000.0
"""µm. Over this no reading on a car is paint, filler or film."""


class NotAThickness(ValueError):
    """A reading or a spot that cannot be; the message says what to do about it."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One value of the gauge, in µm, with what it was taken with.

    `um` is None exactly where the mode says that nothing can be measured there: plastic is never 0.
    Raises NotAThickness with a sentence where the two do not go together or the value cannot be.
    """

    um: float | None
    mode: GaugeMode

    def __post_init__(self) -> None:
        if self.mode is GaugeMode.NOT_MEASURABLE:
            if self.um is not None:
                raise NotAThickness("Where nothing can be measured there is no figure: leave it empty.")
        elif self.um is None:
            raise NotAThickness(
                "A figure is missing. On plastic, carbon or glass-fibre choose “not measurable”."
            )
        elif not isfinite(self.um):
            raise NotAThickness("A reading has to be a number.")
        elif self.um <= 0:
            raise NotAThickness(
                f"A reading of {self.um:g} is not paint. On plastic, carbon or glass-fibre choose “not measurable”;"
                " on metal, zero the gauge and measure again."
            )
        elif self.um > THICKEST:
            raise NotAThickness(
                f"{self.um:g} µm is over half a centimetre. Look whether the gauge was set to another unit."
            )


def from_mil(mil: float) -> float:
    """Thousandths of an inch in µm: 1 mil is 25.4 µm exactly, 4 mil are 101.6 µm."""
    return mil * MICROMETRES_IN_A_MIL


@dataclass(frozen=True, slots=True)
class Spot:
    """Readings taken within about 4 cm, as they were read. The order does not matter.

    `label` is the spot's number on the sketch of the panel, so that it is found again. `at` is when it was
    measured, with a time zone. `film`: protective film or a wrap lay on it. `gauge`: the instrument's name, ""
    where the studio has only one.
    """

    label: str
    at: datetime
    readings: tuple[Reading, ...]
    place: SpotPlace = SpotPlace.FLAT
    film: bool = False
    gauge: str = ""

    def __post_init__(self) -> None:
        if not self.readings:
            raise NotAThickness("A spot needs a reading, or “not measurable”.")
        if self.at.utcoffset() is None:
            raise NotAThickness("The moment of a reading needs a time zone.")

    @property
    def values(self) -> tuple[float, ...]:
        """The readings that have a figure, µm, in order of size."""
        return tuple(sorted(reading.um for reading in self.readings if reading.um is not None))

    @property
    def modes(self) -> frozenset[GaugeMode]:
        """What the readings with a figure were taken with."""
        return frozenset(reading.mode for reading in self.readings if reading.um is not None)

    @property
    def mean(self) -> float | None:
        """The average in µm; None where nothing was measurable or readings of two kinds do not go together."""
        return fsum(self.values) / len(self.values) if len(self.modes) == 1 else None

    @property
    def is_whole(self) -> bool:
        """Whether there are enough readings of one kind to be called a spot."""
        return self.mean is not None and len(self.values) >= READINGS_OF_A_SPOT

    @property
    def remark(self) -> str:
        """What is wrong with the spot, in a sentence; empty where nothing is."""
        if len(self.modes) > 1:
            return (
                f"Spot {self.label} has readings of two kinds, as some gauges give on zinc-coated steel:"
                " measure it again."
            )
        if self.mean is not None and not self.is_whole:
            count = len(self.values)
            return (
                f"Spot {self.label} has {count} reading{'s' * (count > 1)}, too few to be a spot:"
                f" take {READINGS_OF_A_SPOT} within 4 cm."
            )
        return ""


@dataclass(frozen=True, slots=True)
class PanelReadings:
    """The spots of one panel in one visit. Bodies are mixed: every panel has modes of its own.

    Figures are over the spots on the flat of the paint; edges are apart, and spots on film are not paint.
    """

    spots: tuple[Spot, ...]

    @property
    def means(self) -> tuple[float, ...]:
        """The spots on the flat of the paint, µm, in order of size."""
        return _means(self.spots, SpotPlace.FLAT, frozenset(GaugeMode))

    @property
    def n(self) -> int:
        """How many spots the figures rest on."""
        return len(self.means)

    @property
    def minimum(self) -> float | None:
        """The lowest spot, which decides."""
        return min(self.means, default=None)

    @property
    def median(self) -> float | None:
        """The middle spot."""
        return median(self.means) if self.means else None

    @property
    def maximum(self) -> float | None:
        """The highest spot."""
        return max(self.means, default=None)

    @property
    def on_metal(self) -> float | None:
        """The lowest spot on metal, which the bands are for."""
        return min(_means(self.spots, SpotPlace.FLAT, ON_METAL), default=None)

    @property
    def edge(self) -> float | None:
        """The lowest edge, crest or crease on metal."""
        return min(_means(self.spots, SpotPlace.EDGE, ON_METAL), default=None)

    @property
    def under_film(self) -> bool:
        """Whether film lay on any of the spots."""
        return any(spot.film for spot in self.spots)

    @property
    def not_measurable(self) -> bool:
        """Whether somebody tried, and nothing could be measured on any spot."""
        return bool(self.spots) and not any(spot.values for spot in self.spots)

    @property
    def modes(self) -> frozenset[GaugeMode]:
        """What the spots behind the figures were measured with."""
        return frozenset().union(*(spot.modes for spot in _paint(self.spots, SpotPlace.FLAT)))

    @property
    def remarks(self) -> tuple[str, ...]:
        """What is wrong with single spots."""
        return tuple(spot.remark for spot in self.spots if spot.remark)


def um(value: float) -> str:
    """A thickness as one writes it, down to a tenth, so that 79.97 is never shown as the 80 it is under."""
    return f"{floor(round(value * 10, 6)) / 10:.1f}".removesuffix(".0")


def _paint(spots: Sequence[Spot], place: SpotPlace) -> list[Spot]:
    return [spot for spot in spots if spot.place is place and not spot.film]


def _means(spots: Sequence[Spot], place: SpotPlace, modes: frozenset[GaugeMode]) -> tuple[float, ...]:
    found = ((spot.mean, spot.modes) for spot in _paint(spots, place))
    return tuple(sorted(mean for mean, own in found if mean is not None and own <= modes))
