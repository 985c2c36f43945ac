"""Spots and panels for the tests of paint thickness."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime

from crm.care.paint_terms import GaugeMode, SpotPlace
from crm.care.thickness import PanelReadings, Reading, Spot

PLASTIC = Reading(None, GaugeMode.NOT_MEASURABLE)


def moment(day: date, hour: int = 9) -> datetime:
    """An hour of a day."""
    return datetime(day.year, day.month, day.day, hour, tzinfo=UTC)


def spot(
    *values: float,
    on: date = date(2025, 5, 3),
    hour: int = 9,
    label: str = "1",
    mode: GaugeMode = GaugeMode.MAGNETIC,
    place: SpotPlace = SpotPlace.FLAT,
    film: bool = False,
    gauge: str = "",
) -> Spot:
    """A spot with these readings; none at all is a place where nothing can be measured."""
    readings = tuple(Reading(value, mode) for value in values) or (PLASTIC,) * 3
    return Spot(label, moment(on, hour), readings, place, film, gauge)


def panel(*lowest: float, on: date = date(2025, 5, 3), edge: float | None = None) -> PanelReadings:
    """A panel with a whole spot of each of these thicknesses, and one edge if it is given."""
    return with_edge([spot(um, um, um, on=on, label=str(n)) for n, um in enumerate(lowest, 1)], edge, on)


def with_edge(spots: Sequence[Spot], edge: float | None, on: date) -> PanelReadings:
    """The spots of a panel with an edge beside them."""
    edges = [] if edge is None else [spot(edge, edge, edge, on=on, label="e", place=SpotPlace.EDGE)]
    return PanelReadings((*spots, *edges))
