"""What is on record about the paint of each panel, as the engine wants it: readings, polishing, resprays, film."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from itertools import groupby
from operator import attrgetter
from typing import NamedTuple

from crm.care.paint_change import POLISHES, PaintBreak, PassSet, event_of, event_of_layer
from crm.care.paint_terms import CutWeight, Finish, GaugeMode, Past, SpotPlace
from crm.care.panels import panel_of, whole_panel
from crm.care.polish_rules import PanelRecord
from crm.care.surfaces import NOTHING, Surface, Surfaces
from crm.care.terms import Paint, Process, ProductClass
from crm.care.thickness import PanelReadings, Reading, Spot
from crm.models import Car, CarEvent, Layer
from crm.selectors.done import Done, done_to

_POLISHES = frozenset(process.value for process in POLISHES)
_FILMS = tuple(kind.value for kind in ProductClass if event_of_layer(kind) is not None)
_BREAKING_EVENTS = {
    kind.value: brk
    for kind in (CarEvent.Kind.RESPRAY, CarEvent.Kind.PANEL_REPLACED, CarEvent.Kind.FILM_REMOVED)
    if (brk := event_of(Process(kind.value))) is not None
}


@dataclass(frozen=True)
class Measured:
    """A spot as it was measured on one visit, and on which surface."""

    pk: int
    visit_id: int
    surface: Surface
    spot: Spot
    finish: Finish | None
    """What the paint was found to be; None where nobody said."""

    @property
    def place(self) -> tuple[Surface, str, SpotPlace]:
        """What makes it the same spot the next time."""
        return self.surface, self.spot.label, self.spot.place


class _Work(NamedTuple):
    """Polishing of surfaces; `step` is 0 where it was done elsewhere."""

    surfaces: Surfaces
    fact: PassSet
    step: int = 0


class _Break(NamedTuple):
    """What befell the paint of surfaces."""

    surfaces: Surfaces
    fact: PaintBreak


class PaintFacts:
    """The facts of one car's paint, read once and told panel by panel. Days are those of `zone`."""

    def __init__(
        self,
        car: Car,
        *,
        done: Iterable[Done],
        layers: Iterable[Layer],
        events: Iterable[CarEvent],
        zone: tzinfo,
    ) -> None:
        self.car, self.zone = car, zone
        rows = list(done)
        self.measured = measured_of((row for row in rows if row.what == "gauge"), zone)
        steps = [row for row in rows if row.what == "step"]
        self._passes = [*_passes(steps, zone), *_passes_elsewhere(events)]
        self._breaks = [*_breaks(steps, zone), *_films(layers, zone), *_breaks_elsewhere(events)]

    def touched(self) -> Surfaces:
        """Surfaces that were measured, polished, painted or covered."""
        found = Surfaces.of(item.surface for item in self.measured)
        for surfaces in (
            *(item.surfaces for item in self._passes),
            *(item.surfaces for item in self._breaks),
        ):
            found |= surfaces
        return found

    def spots(self, panel: Surface) -> list[Measured]:
        """Every spot that was ever measured on a panel, the oldest first."""
        return [item for item in self.measured if panel_of(item.surface) is panel]

    def passes(self, panel: Surface, *, leave_out: frozenset[int] = frozenset()) -> tuple[PassSet, ...]:
        """The polishing of a panel; `leave_out` are steps that are not to count."""
        on = whole_panel(panel)
        return tuple(item.fact for item in self._passes if item.surfaces & on and item.step not in leave_out)

    def breaks(self, panel: Surface) -> tuple[PaintBreak, ...]:
        """What made earlier readings of a panel say nothing about later ones."""
        on = whole_panel(panel)
        return tuple(item.fact for item in self._breaks if item.surfaces & on)

    def record(self, panel: Surface, *, leave_out: frozenset[int] = frozenset()) -> PanelRecord:
        """What is known of the paint of a panel.

        Its readings are those of every spot when it was last measured: one that was thin does not become thicker
        because the next visit measured others.
        """
        spots, breaks = self.spots(panel), self.breaks(panel)
        newest = {item.place: item.spot for item in spots}
        past = Past(self.car.paint_past)
        bare = PanelRecord(past, breaks=breaks)
        return PanelRecord(
            past=past,
            paint=Paint(self.car.paint),
            finish=_finish(spots, bare.renewed),
            passes=self.passes(panel, leave_out=leave_out),
            breaks=breaks,
            readings=PanelReadings(tuple(newest.values())) if newest else None,
        )


def paint_facts(car: Car, *, zone: tzinfo, until: datetime) -> PaintFacts:
    """The facts of a car's paint up to a moment, in three queries. What was told of its day counts."""
    films = Layer.objects.filter(car=car, product__product_class__in=_FILMS, laid_at__lte=until)
    return PaintFacts(
        car,
        done=[row for row in done_to(car) if row.at <= until],
        layers=films.select_related("product"),
        events=CarEvent.objects.filter(car=car, on__lte=until.astimezone(zone).date()),
        zone=zone,
    )


def measured_of(readings: Iterable[Done], zone: tzinfo) -> list[Measured]:
    """Readings, one a row, as spots: in the order of time."""
    ordered = sorted(readings, key=lambda row: (row.at, row.pk))
    return [_measured(list(rows), zone) for _, rows in groupby(ordered, key=attrgetter("pk"))]


def _measured(rows: Sequence[Done], zone: tzinfo) -> Measured:
    first = rows[0]
    known = first.more or {}
    ordered = sorted(rows, key=lambda row: (row.more or {}).get("position", 0))
    readings = tuple(_reading((row.more or {}).get("um"), row.code) for row in ordered)
    spot = Spot(
        label=known["label"],
        at=first.at.astimezone(zone),
        readings=readings,
        place=SpotPlace(known["place"]),
        film=bool(known["film"]),
        gauge=known["gauge"],
    )
    finish = Finish(known["finish"]) if known["finish"] else None
    return Measured(first.pk, first.visit_id, next(iter(first.surfaces)), spot, finish)


def _reading(um: object, mode: str) -> Reading:
    return Reading(None if um is None else float(str(um)), GaugeMode(mode))


def _finish(spots: Sequence[Measured], renewed: PaintBreak | None) -> Finish | None:
    """What the paint that is there now was found to be."""
    said = [item for item in spots if item.finish and (renewed is None or _after(item.spot.at, renewed))]
    return said[-1].finish if said else None


def _after(moment: datetime, brk: PaintBreak) -> bool:
    return moment >= brk.at if brk.at is not None else moment.date() > brk.on


def _passes(steps: Iterable[Done], zone: tzinfo) -> list[_Work]:
    found = []
    for row in steps:
        if row.code in _POLISHES:
            at, weight = row.at.astimezone(zone), (row.more or {}).get("weight")
            work = PassSet(at.date(), Process(row.code), CutWeight(weight) if weight else None, at)
            found.append(_Work(row.surfaces, work, row.pk))
    return found


def _passes_elsewhere(events: Iterable[CarEvent]) -> list[_Work]:
    """Polishing that somebody told of. How hard, nobody knows: it is reckoned as the one step that is usual."""
    return [
        _Work(event.surfaces, PassSet(event.on, Process.ONE_STEP_POLISH))
        for event in events
        if event.kind == CarEvent.Kind.POLISHED_ELSEWHERE
    ]


def _breaks(steps: Iterable[Done], zone: tzinfo) -> list[_Break]:
    found = []
    for row in steps:
        event = event_of(Process(row.code))
        if event is not None:
            at = row.at.astimezone(zone)
            found.append(_Break(row.surfaces, PaintBreak(at.date(), event, at)))
    return found


def _films(layers: Iterable[Layer], zone: tzinfo) -> list[_Break]:
    found = []
    for layer in layers:
        event = event_of_layer(ProductClass(layer.product.product_class))
        if event is not None:
            at = layer.laid_at.astimezone(zone)
            found.append(_Break(layer.surfaces, PaintBreak(at.date(), event, at)))
    return found


def _breaks_elsewhere(events: Iterable[CarEvent]) -> list[_Break]:
    return [
        _Break(event.surfaces, PaintBreak(event.on, _BREAKING_EVENTS[event.kind], baked=event.baked))
        for event in events
        if event.kind in _BREAKING_EVENTS and event.surfaces != NOTHING
    ]
