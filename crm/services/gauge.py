"""What the paint gauge showed, and what a correction achieved by eye."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from crm.care.correction import CorrectionEstimate, NotAnEstimate
from crm.care.paint_terms import Finish, GaugeMode, Light, SpotPlace, Stages
from crm.care.surfaces import PAINT, Surface, Surfaces
from crm.care.thickness import NotAThickness, Reading
from crm.models import CorrectionNote, GaugeReading, GaugeSpot, User, Visit
from crm.services.errors import Refused
from crm.services.recording import check_open, on_this_car
from crm.services.rights import Right, require
from crm.services.storing import store
from crm.services.visits import is_late

MOST_READINGS = 9


@dataclass(frozen=True, kw_only=True)
class NewSpot:
    """A spot as it is written down: the values as read, µm, all of one mode; none where nothing is measurable.

    `finish` is what the paint was found to be by whoever stands there; None: nobody said.
    """

    surface: Surface
    label: str
    values: tuple[Decimal, ...]
    mode: GaugeMode
    at: datetime
    place: SpotPlace = SpotPlace.FLAT
    film: bool = False
    gauge: str = ""
    finish: Finish | None = None


@dataclass(frozen=True, kw_only=True)
class NewCorrection:
    """What a correction took away, as a share of the marks from 0 to 1, by eye."""

    surfaces: Surfaces
    low: Decimal
    high: Decimal
    lights: frozenset[Light]
    method: str
    at: datetime
    wiped: bool | None = None
    stages: Stages | None = None

    @property
    def estimate(self) -> CorrectionEstimate:
        """The same for the engine. Raises NotAnEstimate."""
        return CorrectionEstimate(
            low=float(self.low),
            high=float(self.high),
            lights=self.lights,
            method=self.method.strip(),
            wiped=self.wiped,
            stages=self.stages,
        )


@transaction.atomic
def record_spot(*, visit: Visit, spot: NewSpot, by: User | None, now: datetime) -> GaugeSpot:
    """Write down a spot with its readings.

    Raises Refused where the surface is no paint of this car, or the readings cannot be.
    """
    require(by, Right.RECORD)
    check_open(visit, spot.at, now)
    on = on_this_car(visit, Surfaces.of([spot.surface]))
    if not on & PAINT:
        raise Refused("The gauge is for paint: choose a painted panel.", field="panel")
    if not spot.label.strip():
        raise Refused("Give the spot a number, so that it is found again next time.", field="label")
    rows = _readings(spot)
    row = GaugeSpot(
        visit=visit,
        surfaces=on,
        label=spot.label.strip(),
        place=spot.place,
        film=spot.film,
        gauge=spot.gauge.strip(),
        finish=spot.finish,
        at=spot.at,
    )
    row.by, row.written_at, row.late = by, now, is_late(spot.at, now)
    store(row)
    for reading in rows:
        reading.spot = row
    GaugeReading.objects.bulk_create(rows)
    return row


def _readings(spot: NewSpot) -> list[GaugeReading]:
    values: tuple[Decimal | None, ...] = spot.values
    if not values and spot.mode is GaugeMode.NOT_MEASURABLE:
        values = (None,)
    if not values:
        raise Refused(
            "Write down what the gauge shows. On plastic, carbon or glass-fibre choose “not measurable”.",
            field="values",
        )
    if len(values) > MOST_READINGS:
        raise Refused(f"A spot has up to {MOST_READINGS} readings. Begin another spot.", field="values")
    rows = []
    for position, value in enumerate(values, start=1):
        kept = None if value is None else value.quantize(Decimal("0.1"))
        try:
            Reading(None if kept is None else float(kept), spot.mode)
        except NotAThickness as error:
            raise Refused(str(error), field="values") from error
        rows.append(GaugeReading(position=position, um=kept, mode=spot.mode))
    return rows


@transaction.atomic
def record_correction(
    *, visit: Visit, correction: NewCorrection, by: User | None, now: datetime
) -> CorrectionNote:
    """Write down what a correction achieved. Raises Refused where it is no estimate that can be kept."""
    require(by, Right.RECORD)
    check_open(visit, correction.at, now)
    on = on_this_car(visit, correction.surfaces)
    if not on & PAINT:
        raise Refused("Choose the painted panels that were corrected.", field="surfaces")
    try:
        estimate = correction.estimate
    except NotAnEstimate as error:
        raise Refused(str(error), field=_about(correction)) from error
    row = CorrectionNote(
        visit=visit,
        surfaces=on & PAINT,
        low=correction.low.quantize(Decimal("0.01")),
        high=correction.high.quantize(Decimal("0.01")),
        lights=" ".join(light for light in Light if light in estimate.lights),
        method=estimate.method,
        wiped=estimate.wiped,
        stages=estimate.stages,
        at=correction.at,
    )
    row.by, row.written_at, row.late = by, now, is_late(correction.at, now)
    store(row)
    return row


def _about(correction: NewCorrection) -> str:
    """The field that a sentence of the engine is about: the shares are checked first, then the lights."""
    if not 0 <= correction.low <= correction.high < 1:
        return "high"
    return "method" if correction.lights else "lights"
