"""The car file: everything about one car on one page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from crm.care.bodies import Body
from crm.care.chart import Chart
from crm.care.chassis import chassis_note
from crm.care.distance import distance_words
from crm.care.names import CIRCUMSTANCE_NAMES, PROCESS_NAMES
from crm.care.surfaces import Surfaces
from crm.care.terms import Circumstance, Process
from crm.care.words import describe
from crm.models import (
    Car,
    CarEvent,
    Ending,
    Keeping,
    Layer,
    LeftForNextTime,
    Plate,
    Role,
    Studio,
    Units,
    Visit,
)
from crm.selectors.car_answer import Answer, answer_of
from crm.selectors.car_chart import Shown, chart_of
from crm.selectors.car_lanes import Seen, ZoneLane, seen_in_words, zone_lanes
from crm.selectors.car_rows import CarRows, Held, car_rows
from crm.selectors.done import Done
from crm.selectors.held import Standing, told_apart
from crm.selectors.panel_paint import CarPaint, car_paint, corrected_in_words, panels_measured
from crm.selectors.studio import seasons_of, tables_of

FIRST_VISITS = 20


@dataclass(frozen=True)
class Laid:
    """A layer as the history tells it."""

    layer: Layer
    where: str


@dataclass(frozen=True)
class PastVisit:
    """A visit as the history tells it."""

    visit: Visit
    steps: tuple[str, ...]
    layers: tuple[Laid, ...]
    grades: tuple[tuple[str, Seen], ...]
    measured: str
    """The panels on which the paint was measured."""
    corrections: tuple[tuple[str, str], ...]
    """Where a correction was looked at, and what it achieved."""
    late: bool
    odometer: str
    """What it showed, in the studio's unit."""

    @property
    def on(self) -> datetime:
        """When the car came, or was meant to."""
        return self.visit.arrived_at or self.visit.planned_in


@dataclass(frozen=True)
class Ended:
    """Surfaces that stopped being protected by a layer, and why."""

    ending: Ending
    layer: Layer
    where: str
    under: str
    """The product that came in its place, where that is why."""


@dataclass(frozen=True)
class Elsewhere:
    """Something that happened to the car away from the bench, or was said to have."""

    event: CarEvent
    where: str


@dataclass(frozen=True)
class CarFile:
    """The page the studio lives on."""

    car: Car
    round_going: bool
    """Whether a winter round is going anywhere in the studio."""
    plate: Plate | None
    later_plates: tuple[Plate, ...]
    """Those that go onto the car on a day to come."""
    former_plates: tuple[Plate, ...]
    chassis_note: str
    keeper: Held | None
    others: tuple[Held, ...]
    """Payers and drivers of today."""
    later_people: tuple[Held, ...]
    """Whose part begins on a day to come."""
    former_people: tuple[Held, ...]
    answer: Answer
    chart: Chart
    shown: Shown
    lanes: tuple[ZoneLane, ...]
    paint: CarPaint
    left: tuple[LeftForNextTime, ...]
    endings: tuple[Ended, ...]
    """Those since the earliest of the visits that are told."""
    more_endings: int
    events: tuple[Elsewhere, ...]
    open_visits: tuple[Visit, ...]
    history: tuple[PastVisit, ...]
    more_visits: int
    keeping: Keeping | None
    distance: str
    """What it is driven in a year, in the studio's unit; empty where nobody knows."""
    circumstances: tuple[str, ...]


@dataclass(frozen=True)
class Moment:
    """When the file is read, and by whose settings."""

    studio: Studio
    now: datetime
    today: date


def car_file(ref: str, *, at: Moment, shown: Shown = Shown.TWO, visits: int = FIRST_VISITS) -> CarFile | None:
    """The file of the car with this reference, with so many of its visits; None where there is no such car."""
    rows = car_rows(ref, today=at.today)
    if rows is None:
        return None
    car = rows.car
    people = _by_standing(rows.people)
    keepers = [held for held in people[Standing.NOW] if held.role.part == Role.Part.KEEPER]
    plates = told_apart(rows.plates, day=at.today)
    past = [visit for visit in rows.visits if visit.arrived_at or visit.state == Visit.State.CANCELLED]
    told = past[:visits]
    endings = _endings_since(told[-1].planned_in if len(past) > visits else None, rows)
    return CarFile(
        car=car,
        round_going=rows.round_going,
        plate=next(iter(plates[Standing.NOW]), None),
        later_plates=tuple(plates[Standing.LATER]),
        former_plates=tuple(plates[Standing.FORMER]),
        chassis_note=(chassis_note(car.chassis) or "") if car.chassis else "",
        keeper=next(iter(keepers), None),
        others=tuple(held for held in people[Standing.NOW] if held.role.part != Role.Part.KEEPER),
        later_people=tuple(people[Standing.LATER]),
        former_people=tuple(people[Standing.FORMER]),
        answer=answer_of(rows, studio=at.studio, now=at.now, today=at.today),
        chart=chart_of(rows, today=at.today, salt=seasons_of(at.studio).salt, shown=shown),
        shown=shown,
        lanes=zone_lanes(rows, now=at.now, today=at.today, in_miles=at.studio.units == Units.MILES),
        paint=car_paint(rows, today=at.today, tables=tables_of(at.studio), zone=at.studio.zone),
        left=tuple(rows.left),
        endings=tuple(_ended(rows, endings)),
        more_endings=len(rows.endings) - len(endings),
        events=tuple(
            Elsewhere(event, _where(event.surfaces, car))
            for event in sorted(
                [*rows.events, *rows.events_taken_back], key=lambda event: (event.on, event.pk), reverse=True
            )
        ),
        open_visits=tuple(visit for visit in reversed(rows.visits) if visit.state in OPEN),
        history=tuple(_past_visits(rows, told, at.studio)),
        more_visits=max(0, len(past) - visits),
        keeping=rows.keepings[0] if rows.keepings else None,
        distance=_distance(rows.keepings[0].km_a_year if rows.keepings else None, at.studio),
        circumstances=tuple(CIRCUMSTANCE_NAMES[Circumstance(value)] for value in car.circumstances),
    )


OPEN = (Visit.State.BOOKED, Visit.State.IN_BAY, Visit.State.READY)


def _by_standing(people: Sequence[Held]) -> dict[Standing, list[Held]]:
    """People by how their part stands to today; those whose part begins later in the order in which it does."""
    groups: dict[Standing, list[Held]] = {each: [] for each in Standing}
    for held in people:
        groups[held.standing].append(held)
    groups[Standing.LATER].sort(key=lambda held: (held.role.since or date.max, held.role.pk))
    return groups


def _where(surfaces: Surfaces, car: Car) -> str:
    return describe(surfaces, Body(car.body)) if surfaces else ""


def _endings_since(moment: datetime | None, rows: CarRows) -> list[Ending]:
    """The endings from a moment on, the newest first; all of them where none is given."""
    return [ending for ending in reversed(rows.endings) if moment is None or ending.at >= moment]


def _ended(rows: CarRows, endings: Sequence[Ending]) -> list[Ended]:
    layers = {layer.pk: layer for layer in rows.layers}
    names = {layer.pk: layer.product.name for layer in rows.layers}
    return [
        Ended(
            ending,
            layers[ending.layer_id],
            _where(ending.surfaces, rows.car),
            names.get(ending.next_layer_id or 0, ""),
        )
        for ending in endings
    ]


def _distance(km: int | None, studio: Studio) -> str:
    return "" if km is None else distance_words(km, in_miles=studio.units == Units.MILES)


def _past_visits(rows: CarRows, visits: Sequence[Visit], studio: Studio) -> list[PastVisit]:
    done: dict[int, list[Done]] = {visit.pk: [] for visit in visits}
    for row in rows.done:
        if row.visit_id in done:
            done[row.visit_id].append(row)
    layers: dict[int, list[Layer]] = {visit.pk: [] for visit in visits}
    for layer in reversed(rows.layers):
        if layer.visit_id in layers:
            layers[layer.visit_id].append(layer)
    return [_past_visit(visit, done[visit.pk], layers[visit.pk], (rows.car, studio)) for visit in visits]


def _past_visit(
    visit: Visit, done: Sequence[Done], layers: Sequence[Layer], of: tuple[Car, Studio]
) -> PastVisit:
    car, studio = of
    steps = dict.fromkeys(PROCESS_NAMES[Process(row.code)] for row in done if row.what == "step")
    return PastVisit(
        visit=visit,
        steps=tuple(steps),
        layers=tuple(Laid(layer, _where(layer.surfaces, car)) for layer in layers),
        grades=tuple((_where(row.surfaces, car), seen_in_words(row)) for row in done if row.what == "grade"),
        measured=_where(panels_measured(done), car),
        corrections=tuple(
            (_where(row.surfaces, car), corrected_in_words(row)) for row in done if row.what == "correction"
        ),
        late=any(row.late for row in done) or any(layer.late for layer in layers),
        odometer=_distance(visit.odometer_km, studio),
    )
