"""The visits of the cars of the bench: steps, water grades, layers, how they ended, and what is forecast."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from itertools import count
from random import Random

from crm.care.bodies import Body, surfaces_of_body
from crm.care.cure import clocks, cure_of
from crm.care.surfaces import ZONES, Surfaces, Zone, by_zone
from crm.management.bench.bulk import Rows
from crm.management.bench.expected import Expected
from crm.management.bench.fleet import body_of, way_of
from crm.management.bench.works import SHELF, Bottle, Site, Work
from crm.models import CarEvent, Ending, Forecast, Grade, Layer, Step, Visit

YEARS = 6
LONG_YEARS = 10
_EVERY = 3
"""Cars come every third day: days that recur are what makes forecasts recur."""
_ON_PAINT = (Site.PAINT, Site.ON_TOP)
_DAY_ZERO = date(2000, 1, 1)


@dataclass
class StayRows:
    """The tables that are filled here, whatever is pointed at first."""

    visits: Rows = field(
        default_factory=lambda: Rows(
            Visit,
            "id", "car_id", "branch_id", "purpose", "state", "planned_in", "planned_out", "arrived_at", "ready_at",
            "handed_over_at", "odometer_km",
        )
    )  # fmt: skip
    steps: Rows = field(
        default_factory=lambda: Rows(Step, "id", "visit_id", "process", "surfaces", "at", "written_at")
    )
    grades: Rows = field(
        default_factory=lambda: Rows(
            Grade, "id", "visit_id", "surfaces", "grade", "moment", "at", "written_at"
        )
    )
    layers: Rows = field(
        default_factory=lambda: Rows(
            Layer,
            "id", "car_id", "visit_id", "product_id", "surfaces", "batch", "prep", "air", "laid_at", "drive_from",
            "dry_until", "wash_from", "topper_from", "cured_at", "written_at",
        )
    )  # fmt: skip
    endings: Rows = field(
        default_factory=lambda: Rows(
            Ending, "id", "layer_id", "surfaces", "at", "why", "step_id", "next_layer_id", "written_at"
        )
    )
    forecasts: Rows = field(
        default_factory=lambda: Rows(
            Forecast,
            "id", "layer_id", "car_id", "zone", "live", "low", "likely", "high", "due_on", "reasons", "inputs",
            "made_at",
        )
    )  # fmt: skip
    events: Rows = field(
        default_factory=lambda: Rows(CarEvent, "id", "car_id", "kind", "on", "note", "written_at")
    )

    def flush(self) -> None:
        """Write what is left."""
        for rows in vars(self).values():
            rows.flush()


@dataclass(slots=True)
class _Laid:
    layer: int
    bottle: Bottle
    zones: tuple[tuple[Zone, int], ...]
    live: int
    day: date


class Stays:
    """Writes the visits of one car after another."""

    def __init__(self, *, today: date, branch: int, dice: Random) -> None:
        self.rows = StayRows()
        self._today = today
        self._branch = branch
        self._dice = dice
        self._expected = Expected()
        self._ids = {name: count(1) for name in vars(self.rows)}

    @property
    def reckoned(self) -> int:
        """How many different forecasts the engine was asked for."""
        return self._expected.asked

    def write(self, car: int, visits: Sequence[Work]) -> None:
        """The whole past of a car."""
        laid: list[_Laid] = []
        for work, day in zip(visits, self._days(len(visits)), strict=True):
            self._visit(car, work, day, laid)
        self._forecasts(car, laid)
        if self._dice.random() < 0.05:
            day = self._today - timedelta(days=self._dice.randrange(1500))
            row = (next(self._ids["events"]), car, CarEvent.Kind.OTHER.value, str(day))
            self.rows.events.add(*row, "Towed a boat to the slipway.", f"{day} 18:00:00")

    def _days(self, visits: int) -> list[date]:
        """Different days, the first one longest ago."""
        years = YEARS if visits < YEARS * 12 else LONG_YEARS
        first = (self._today - _DAY_ZERO).days // _EVERY
        places = self._dice.sample(range(first - years * 365 // _EVERY, first), visits)
        return [_DAY_ZERO + timedelta(days=_EVERY * place) for place in sorted(places)]

    def _visit(self, car: int, work: Work, day: date, laid: list[_Laid]) -> None:
        visit = next(self._ids["visits"])
        came, ready, went = (f"{day} {hour:02}:00:00" for hour in (8, 15, 16))
        km = 9000 + car % 9000 + (day - _DAY_ZERO).days * 3
        self.rows.visits.add(
            visit, car, self._branch, work.purpose, "handed_over", came, went, came, ready, went, km
        )
        painted = _painted(body_of(car))
        step = None
        for process in work.steps:
            step = next(self._ids["steps"])
            self.rows.steps.add(step, visit, process.value, painted, f"{day} 09:00:00", came)
        if work.graded:
            self._grade(visit, painted, day)
        if work.polishes:
            for old in laid:
                if old.bottle.site in _ON_PAINT:
                    self._end(old, old.live, day, "polished", step=step)
        for place, (bottle, zones, bits) in enumerate(_laying(work, body_of(car))):
            self._lay(car, visit, _Laid(next(self._ids["layers"]), bottle, zones, bits, day), place, laid)

    def _grade(self, visit: int, surfaces: int, day: date) -> None:
        grade = self._dice.choice((1, 2, 3, 3))
        for moment, hour, found in (("before_decon", 9, grade), ("after_decon", 10, grade + 1)):
            at = f"{day} {hour:02}:30:00"
            self.rows.grades.add(next(self._ids["grades"]), visit, surfaces, found, moment, at, at)

    def _lay(self, car: int, visit: int, new: _Laid, place: int, laid: list[_Laid]) -> None:
        bottle = new.bottle
        waits = _waits(bottle, place, new.day)
        prep = "polished_wiped" if bottle.site is Site.PAINT else "clayed"
        batch = f"{bottle.name[0]}{new.day:%y%m}"
        self.rows.layers.add(
            new.layer, car, visit, SHELF.index(bottle) + 1, new.live, batch, prep, "inside", *waits, waits[0]
        )
        for old in laid:
            if old.bottle.site is bottle.site and old.live & new.live:
                worn = self._dice.random() < 0.4
                why, cause = ("worn", None) if worn else ("superseded", new.layer)
                self._end(old, old.live & new.live, new.day, why, next_layer=cause)
        laid.append(new)

    def _end(
        self,
        old: _Laid,
        gone: int,
        day: date,
        why: str,
        *,
        step: int | None = None,
        next_layer: int | None = None,
    ) -> None:
        if not gone:
            return
        old.live &= ~gone
        at = f"{day} 10:45:00"
        self.rows.endings.add(next(self._ids["endings"]), old.layer, gone, at, why, step, next_layer, at)

    def _forecasts(self, car: int, laid: Sequence[_Laid]) -> None:
        way = way_of(car)
        for layer in laid:
            for zone, bits in layer.zones:
                window = self._expected.of(layer.bottle, zone, layer.day, way)
                live = layer.live & bits
                due = window.low if live else None
                self.rows.forecasts.add(
                    next(self._ids["forecasts"]), layer.layer, car, zone.value, live, window.low, window.likely,
                    window.high, due, window.reasons, window.inputs, f"{layer.day} 16:00:00",
                )  # fmt: skip


@cache
def _painted(body: Body) -> int:
    zones = (Zone.TOPS, Zone.FRONT, Zone.UPPER_SIDES, Zone.LOWER_SIDES)
    return sum((ZONES[zone] & surfaces_of_body(body)).bits for zone in zones)


@cache
def _laying(work: Work, body: Body) -> tuple[tuple[Bottle, tuple[tuple[Zone, int], ...], int], ...]:
    """What a work lays on a body: product, its zones, and all its surfaces."""

    def on(surfaces: Surfaces) -> Surfaces:
        return surfaces & surfaces_of_body(body)

    return tuple(
        (bottle, tuple((zone, part.bits) for zone, part in by_zone(on(surfaces)).items()), on(surfaces).bits)
        for bottle, surfaces in work.laid
    )


@cache
def _waits(bottle: Bottle, place: int, day: date) -> tuple[str | None, ...]:
    """When a layer was laid and when each of its waits is over."""
    laid_at = datetime.combine(day, time(11, 5 * place), UTC)
    ends = clocks(cure_of(bottle.product_class), applied_at=laid_at, coldest_c=None)
    moments = (laid_at, ends.drive_from, ends.dry_until, ends.wash_from, ends.topper_from, ends.cured_at)
    return tuple(f"{moment:%Y-%m-%d %H:%M:%S}" if moment else None for moment in moments)
