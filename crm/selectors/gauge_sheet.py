"""What the bay sheet says of paint thickness and correction: the spots of this visit, and those to measure next."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from crm.care.bodies import Body
from crm.care.correction import CorrectionEstimate
from crm.care.paint_budget import paint_budget
from crm.care.paint_change import Change, Verdict, change
from crm.care.paint_terms import GaugeMode, SpotPlace, Stages
from crm.care.panels import panel_of, panels_in_order
from crm.care.surfaces import Surface
from crm.care.tables import Tables
from crm.care.thickness import PanelReadings, um
from crm.care.thickness_bands import Judged, judged
from crm.care.words import describe, surface_name
from crm.models import CorrectionNote, GaugeSpot, Studio, Visit
from crm.selectors.paint import Measured, PaintFacts, paint_facts
from crm.selectors.panel_paint import band_in_words, values_in_words, where_on_panel
from crm.selectors.studio import tables_of
from crm.selectors.visit_page import Line

SPOTS_OF_A_PANEL = 3
"""At check-in (common practice, no source); more before a cut, and on bonnet and roof."""


@dataclass(frozen=True)
class MeasuredPanel:
    """A panel that was measured on this visit: its spots, and what they say together with earlier ones."""

    panel: Surface
    name: str
    spots: str
    """The newest mean of every spot, in a line."""
    changes: tuple[str, ...]
    """What is more than noise since the time before."""
    lines: tuple[Line, ...]
    letter: str
    band: str
    says: Judged
    stands: str


@dataclass(frozen=True)
class PanelToMeasure:
    """A panel to choose: what was read on it before, if anything."""

    key: str
    name: str
    count: int
    """Spots on this visit."""
    before: str


@dataclass(frozen=True)
class GaugeSheet:
    """Both sections of the bay sheet."""

    measured: tuple[MeasuredPanel, ...]
    panels: tuple[PanelToMeasure, ...]
    corrections: tuple[Line, ...]


@dataclass(frozen=True)
class LastTime:
    """A spot of a panel when it was last measured, to be found again."""

    label: str
    where: str
    on: datetime
    values: str
    mean: str


@dataclass(frozen=True)
class SpotToMeasure:
    """What a form for the next spot of a panel begins with."""

    panel: Surface
    name: str
    label: str
    lower: bool
    place: SpotPlace
    mode: GaugeMode
    gauge: str
    again: LastTime | None
    """The spot to find again, as it was read the last time."""
    others: tuple[LastTime, ...]
    """The other spots that the panel has."""


def gauge_sheet(visit: Visit, *, studio: Studio, now: datetime) -> GaugeSheet:
    """The readings and corrections of a visit, in a number of queries that does not grow with the record."""
    facts = paint_facts(visit.car, zone=studio.zone, until=now)
    rows = {row.pk: row for row in GaugeSpot.objects.filter(visit=visit).select_related("by")}
    body, tables = Body(visit.car.body), tables_of(studio)
    order = panels_in_order(body)
    mine = {panel_of(item.surface) for item in facts.measured if item.pk in rows}
    return GaugeSheet(
        measured=tuple(
            _measured(panel, facts, rows, (body, tables, now)) for panel in order if panel in mine
        ),
        panels=tuple(_to_choose(panel, facts, visit, body) for panel in order),
        corrections=tuple(
            _correction_line(row, body, tables)
            for row in CorrectionNote.objects.filter(visit=visit).select_related("by")
        ),
    )


def spot_to_measure(visit: Visit, panel: Surface, *, facts: PaintFacts) -> SpotToMeasure:
    """The spot of a panel that is next: one that was measured before and not yet on this visit, or a new number."""
    spots = facts.spots(panel)
    newest = {item.place: item for item in spots}
    done = {item.place for item in spots if item.visit_id == visit.pk}
    again = next((item for place, item in newest.items() if place not in done), None)
    last = spots[-1] if spots else None
    return SpotToMeasure(
        panel=panel,
        name=surface_name(panel, Body(visit.car.body)),
        label=again.spot.label if again else _new_label(spots),
        lower=again is not None and again.surface is not panel,
        place=again.spot.place if again else SpotPlace.FLAT,
        mode=_mode(last, panel, visit),
        gauge=max(facts.measured, key=lambda item: item.spot.at).spot.gauge if facts.measured else "",
        again=_last_time(again) if again else None,
        others=tuple(_last_time(item) for item in newest.values() if item is not again),
    )


def _last_time(item: Measured) -> LastTime:
    return LastTime(
        label=item.spot.label,
        where=where_on_panel(item.surface, item.spot.place),
        on=item.spot.at,
        values=values_in_words(item),
        mean="" if item.spot.mean is None else um(item.spot.mean),
    )


def panel_after(visit: Visit, panel: Surface, *, facts: PaintFacts) -> Surface:
    """Where to go on: the same panel while spots are missing on it, then the next of the walk round the car."""
    order = panels_in_order(Body(visit.car.body))
    spots = facts.spots(panel)
    mine = {item.place for item in spots if item.visit_id == visit.pk}
    plastic = bool(spots) and not spots[-1].spot.values
    wanted = 1 if plastic else max(SPOTS_OF_A_PANEL, len({item.place for item in spots}))
    return panel if len(mine) < wanted else order[(order.index(panel) + 1) % len(order)]


def _new_label(spots: Sequence[Measured]) -> str:
    taken = [int(item.spot.label) for item in spots if item.spot.label.isdecimal()]
    return str(max(taken, default=0) + 1)


def _mode(last: Measured | None, panel: Surface, visit: Visit) -> GaugeMode:
    if last is not None:
        return last.spot.readings[0].mode
    if panel in visit.car.plastic:
        return GaugeMode.NOT_MEASURABLE
    return GaugeMode.EDDY if panel in visit.car.aluminium else GaugeMode.MAGNETIC


def _measured(
    panel: Surface, facts: PaintFacts, rows: dict[int, GaugeSpot], by: tuple[Body, Tables, datetime]
) -> MeasuredPanel:
    body, tables, now = by
    record, name = facts.record(panel), surface_name(panel, body)
    says = judged(record.readings_of_this_paint or PanelReadings(()), tables.thickness)
    letter, band = band_in_words(says)
    budget = paint_budget(record, today=now.astimezone(facts.zone).date(), figures=tables.thickness)
    mine = [item for item in facts.spots(panel) if item.pk in rows]
    since = {item.pk: _since(item, facts, tables) for item in mine}
    newest = {item.place: item for item in mine}.values()
    told = (Verdict.THINNER, Verdict.THICKER)
    changes = [
        f"Spot {item.spot.label}: {found.words}"
        for item in newest
        if (found := since[item.pk]) is not None and found.verdict in told
    ]
    return MeasuredPanel(
        panel=panel,
        name=name,
        spots=_in_a_line(newest),
        changes=tuple(changes),
        lines=tuple(_line(rows[item.pk], item, since[item.pk]) for item in mine),
        letter=letter,
        band=band,
        says=says,
        stands=budget.words(name),
    )


def _in_a_line(spots: Iterable[Measured]) -> str:
    """The means by their numbers: "1: 131, 2: 126, e (edge): 71 µm"; empty where nothing was measurable."""
    said = [
        f"{item.spot.label}{' (edge)' * (item.spot.place is SpotPlace.EDGE)}: {um(item.spot.mean)}"
        for item in spots
        if item.spot.mean is not None
    ]
    return f"{', '.join(said)} µm" if said else ""


def _since(item: Measured, facts: PaintFacts, tables: Tables) -> Change | None:
    """What became of a spot since it was measured before; None where it never was."""
    panel = panel_of(item.surface)
    earlier = [
        other
        for other in facts.spots(panel)
        if other.place == item.place and (other.spot.at, other.pk) < (item.spot.at, item.pk)
    ]
    if not earlier:
        return None
    return change(earlier[-1].spot, item.spot, breaks=facts.breaks(panel), figures=tables.thickness)


def _line(row: GaugeSpot, item: Measured, since: Change | None) -> Line:
    mean = item.spot.mean
    where = where_on_panel(item.surface, item.spot.place)
    film, change_since = "film lies on it" if row.film else "", since.words if since else ""
    notes = [values_in_words(item), film, row.gauge, change_since, item.spot.remark]
    return Line(
        pk=row.pk,
        what=f"{row}: {um(mean)} µm" if mean is not None else str(row),
        where=where,
        at=row.at,
        by=row.by,
        late=row.late,
        written_at=row.written_at,
        notes=tuple(note for note in notes if note),
    )


def _to_choose(panel: Surface, facts: PaintFacts, visit: Visit, body: Body) -> PanelToMeasure:
    spots = facts.spots(panel)
    before = [item for item in spots if item.visit_id != visit.pk]
    return PanelToMeasure(
        key=panel.key,
        name=surface_name(panel, body),
        count=sum(item.visit_id == visit.pk for item in spots),
        before=f"{before[-1].spot.at:%b %Y}" if before else "",
    )


def _correction_line(row: CorrectionNote, body: Body, tables: Tables) -> Line:
    estimate = CorrectionEstimate(
        low=float(row.low),
        high=float(row.high),
        lights=row.seen_under,
        method=row.method,
        wiped=row.wiped,
        stages=Stages(row.stages) if row.stages else None,
    )
    doubt = estimate.doubt(tables.thickness)
    return Line(
        pk=row.pk,
        what=estimate.words,
        where=describe(row.surfaces, body),
        at=row.at,
        by=row.by,
        late=row.late,
        written_at=row.written_at,
        notes=(row.method, doubt) if doubt else (row.method,),
    )
