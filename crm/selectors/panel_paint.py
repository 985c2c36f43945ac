"""The paint of a car, panel by panel in walking order: what was measured, what it says, what it can still stand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, tzinfo

from crm.care.bodies import Body
from crm.care.correction import CorrectionEstimate
from crm.care.paint_budget import PaintBudget, paint_budget
from crm.care.paint_change import PaintBreak, spot_history
from crm.care.paint_terms import FINISH_NAMES, MODE_NAMES, PLACE_NAMES, GaugeMode, Light, SpotPlace, Stages
from crm.care.panels import panel_of, panels_in_order, whole_panel
from crm.care.polish_rules import PanelRecord
from crm.care.surfaces import NOTHING, Surface, Surfaces, mirrored
from crm.care.tables import Tables
from crm.care.thickness import PanelReadings, um
from crm.care.thickness_bands import LETTER_WORDS, LETTERS, NOT_A_MEASURE, Judged, judged
from crm.care.words import describe, surface_name
from crm.selectors.car_rows import CarRows
from crm.selectors.done import Done
from crm.selectors.paint import Measured, PaintFacts


@dataclass(frozen=True)
class SpotPast:
    """One spot through the years."""

    label: str
    where: str
    """Where on the panel, where it is not its flat."""
    values: str
    """The readings of the last time, as they were read."""
    line: str


@dataclass(frozen=True)
class PanelPaint:
    """One panel that was measured."""

    panel: Surface
    name: str
    lowest: str
    median: str
    highest: str
    n: int
    modes: str
    days: str
    """When the spots behind the figures were measured; empty where none counts any more."""
    letter: str
    band: str
    says: Judged
    finish: str
    void: str
    """Why earlier readings no longer count."""
    other_side: str
    spots: tuple[SpotPast, ...]
    budget: PaintBudget
    stands: str
    generous: str
    """The generous count, where it is another."""

    @property
    def notes(self) -> tuple[str, ...]:
        """What else belongs to the estimate; the caution that stands over all of them is not repeated."""
        return tuple(note for note in self.budget.notes if note != NOT_A_MEASURE)


@dataclass(frozen=True)
class NotMeasured:
    """Panels on record that were never measured on this paint, and stand alike."""

    where: str
    stands: str
    budget: PaintBudget


@dataclass(frozen=True)
class CarPaint:
    """The paint of a car as far as it is on record."""

    panels: tuple[PanelPaint, ...]
    not_measured: tuple[NotMeasured, ...]
    caution: str = NOT_A_MEASURE

    @property
    def letters(self) -> tuple[tuple[str, str], ...]:
        """What the letters say."""
        return tuple(LETTER_WORDS.items())

    @property
    def by_panel(self) -> dict[Surface, PanelPaint]:
        """The measured panels."""
        return {item.panel: item for item in self.panels}


def car_paint(rows: CarRows, *, today: date, tables: Tables, zone: tzinfo) -> CarPaint:
    """The panels that were measured, and those that were only polished, painted or covered, in walking order."""
    facts = PaintFacts(rows.car, done=rows.done, layers=rows.layers, events=rows.events, zone=zone)
    touched = {panel_of(surface) for surface in facts.touched()}
    body = Body(rows.car.body)
    order = [panel for panel in panels_in_order(body) if panel in touched]
    records = {panel: facts.record(panel) for panel in order}
    measured, bare = [], []
    for panel, record in records.items():
        budget = paint_budget(record, today=today, figures=tables.thickness)
        if record.readings is not None:
            measured.append(_panel(panel, facts, record, budget, (body, tables)))
        else:
            bare.append((panel, budget))
    by_panel = {item.panel: item for item in measured}
    return CarPaint(tuple(_beside(item, by_panel) for item in measured), _not_measured(bare, body))


def band_in_words(said: Judged) -> tuple[str, str]:
    """The letter and the name of a band; both empty where none applies."""
    return (LETTERS[said.band.heaviest], said.band.name) if said.band else ("", "")


def panels_measured(done: Iterable[Done]) -> Surfaces:
    """The whole panels on which readings were taken."""
    return _whole(panel_of(surface) for row in done if row.what == "gauge" for surface in row.surfaces)


def corrected_in_words(row: Done) -> str:
    """What a correction achieved, with all that qualifies it."""
    known = row.more or {}
    wiped, stages = known["wiped"], known["stages"]
    estimate = CorrectionEstimate(
        low=float(known["low"]),
        high=float(known["high"]),
        lights=frozenset(Light(word) for word in known["lights"].split()),
        method=known["method"],
        wiped=None if wiped is None else bool(wiped),
        stages=Stages(stages) if stages else None,
    )
    return f"{estimate.words}: {estimate.method}"


def _panel(
    panel: Surface, facts: PaintFacts, record: PanelRecord, budget: PaintBudget, by: tuple[Body, Tables]
) -> PanelPaint:
    body, tables = by
    name = surface_name(panel, body)
    readings = record.readings_of_this_paint or PanelReadings(())
    says = judged(readings, tables.thickness)
    letter, band = band_in_words(says)
    stands, generous = budget.words(name), budget.generous_words(name)
    return PanelPaint(
        panel=panel,
        name=name,
        lowest=_um(readings.minimum),
        median=_um(readings.median),
        highest=_um(readings.maximum),
        n=readings.n,
        modes="; ".join(MODE_NAMES[mode] for mode in sorted(readings.modes)),
        days=_days(readings),
        letter=letter,
        band=band or ("not measurable" if readings.not_measurable else ""),
        says=says,
        finish=FINISH_NAMES[record.finish] if record.finish else "",
        void=_void(record),
        other_side="",
        spots=_spots(facts, panel, tables),
        budget=budget,
        stands=stands,
        generous=generous if generous != stands else "",
    )


def _um(value: float | None) -> str:
    return "" if value is None else um(value)


def _days(readings: PanelReadings) -> str:
    days = sorted({spot.at.date() for spot in readings.spots})
    said = [f"{day.day} {day:%b %Y}" for day in days]
    return said[0] if len(said) == 1 else f"{said[0]} to {said[-1]}" if said else ""


def _void(record: PanelRecord) -> str:
    readings, now = record.readings, record.readings_of_this_paint
    if readings is None or (now is not None and len(now.spots) == len(readings.spots)):
        return ""
    last: PaintBreak = max(record.breaks, key=lambda brk: brk.on)
    return f"Readings from before it was {last.words} no longer count."


def _spots(facts: PaintFacts, panel: Surface, tables: Tables) -> tuple[SpotPast, ...]:
    by_place: dict[tuple[Surface, str, SpotPlace], list[Measured]] = {}
    for item in facts.spots(panel):
        by_place.setdefault(item.place, []).append(item)
    passes, breaks = facts.passes(panel), facts.breaks(panel)
    return tuple(
        SpotPast(
            label=label,
            where=where_on_panel(surface, place),
            values=values_in_words(items[-1]),
            line=spot_history(
                [item.spot for item in items], passes=passes, breaks=breaks, figures=tables.thickness
            ).replace("->", "→"),
        )
        for (surface, label, place), items in sorted(by_place.items(), key=lambda pair: _order(pair[0]))
    )


def _order(place: tuple[Surface, str, SpotPlace]) -> tuple[bool, int, int, str]:
    surface, label, where = place
    return where is not SpotPlace.FLAT, surface, int(label) if label.isdecimal() else 999, label


def where_on_panel(surface: Surface, place: SpotPlace) -> str:
    """Where a spot lies, where it is not on the flat of the panel itself."""
    said = ["lower third"] if panel_of(surface) is not surface else []
    said += [PLACE_NAMES[place]] if place is not SpotPlace.FLAT else []
    return ", ".join(said)


def values_in_words(item: Measured) -> str:
    """The readings of a spot as they were read: "91.5, 92, 92.4 µm"."""
    values = [um(reading.um) for reading in item.spot.readings if reading.um is not None]
    return f"{', '.join(values)} µm" if values else MODE_NAMES[GaugeMode.NOT_MEASURABLE]


def _beside(item: PanelPaint, by_panel: dict[Surface, PanelPaint]) -> PanelPaint:
    twin = next(iter(mirrored(Surfaces.of([item.panel]))))
    other = by_panel.get(twin) if twin is not item.panel else None
    if other is None or not other.lowest or not item.lowest:
        return item
    return replace(item, other_side=f"lowest {other.lowest}, median {other.median} µm")


def _not_measured(bare: Sequence[tuple[Surface, PaintBudget]], body: Body) -> tuple[NotMeasured, ...]:
    alike: dict[tuple[object, ...], list[tuple[Surface, PaintBudget]]] = {}
    for panel, budget in bare:
        key = (budget.careful, budget.generous, budget.reasons, budget.notes, budget.cut_before)
        alike.setdefault(key, []).append((panel, budget))
    return tuple(
        NotMeasured(
            where=describe(_whole(panel for panel, _ in group), body),
            stands=group[0][1].words("panel"),
            budget=group[0][1],
        )
        for group in alike.values()
    )


def _whole(panels: Iterable[Surface]) -> Surfaces:
    found = NOTHING
    for panel in panels:
        found |= whole_panel(panel)
    return found
