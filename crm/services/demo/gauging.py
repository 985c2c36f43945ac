"""Readings of the paint gauge and corrections in the stories, written down as the crew would."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from crm.care.paint_terms import Finish, GaugeMode, Light, SpotPlace, Stages
from crm.care.surfaces import Surface, Surfaces
from crm.models import User, Visit
from crm.services.gauge import NewCorrection, NewSpot, record_correction, record_spot

_BESIDE = (0.0, -0.4, 0.4)
"""How the three readings of a spot lie about its mean, µm."""


@dataclass(frozen=True, kw_only=True)
class Gauged:
    """One panel as it was measured: the mean of every spot, µm, numbered from 1; none: nothing was measurable."""

    panel: Surface
    spots: tuple[float, ...] = ()
    mode: GaugeMode = GaugeMode.MAGNETIC
    edge: float | None = None
    film: bool = False
    finish: Finish | None = None


@dataclass(frozen=True, kw_only=True)
class Corrected:
    """What a correction achieved, as a share of the marks."""

    on: Surfaces
    low: str
    high: str
    method: str
    stages: Stages
    lights: frozenset[Light] = frozenset({Light.HAND_LAMP, Light.BAY_LIGHTS})


def plastic(*panels: Surface) -> tuple[Gauged, ...]:
    """Panels on which nothing can be measured."""
    return tuple(Gauged(panel=panel) for panel in panels)


def measure(visit: Visit, panels: Sequence[Gauged], *, at: datetime, now: datetime, by: User) -> None:
    """Write the readings of these panels down."""
    for panel in panels:
        spots: list[tuple[str, float | None, SpotPlace]] = [
            (str(number), um, SpotPlace.FLAT) for number, um in enumerate(panel.spots or (None,), start=1)
        ]
        if panel.edge is not None:
            spots.append(("e", panel.edge, SpotPlace.EDGE))
        for label, um, place in spots:
            spot = NewSpot(
                surface=panel.panel,
                label=label,
                values=() if um is None else tuple(Decimal(f"{um + aside:.1f}") for aside in _BESIDE),
                mode=GaugeMode.NOT_MEASURABLE if um is None else panel.mode,
                at=at,
                place=place,
                film=panel.film,
                finish=panel.finish,
            )
            record_spot(visit=visit, spot=spot, by=by, now=now)


def look_at(visit: Visit, found: Sequence[Corrected], *, at: datetime, now: datetime, by: User) -> None:
    """Write down what was seen of the corrections after panel wipe."""
    for seen in found:
        correction = NewCorrection(
            surfaces=seen.on,
            low=Decimal(seen.low),
            high=Decimal(seen.high),
            lights=seen.lights,
            method=seen.method,
            at=at,
            wiped=True,
            stages=seen.stages,
        )
        record_correction(visit=visit, correction=correction, by=by, now=now)
