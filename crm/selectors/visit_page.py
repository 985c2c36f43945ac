"""The bay sheet of one visit: what is known of the car, and what was recorded so far."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from crm.care.bodies import Body, surfaces_of_body
from crm.care.names import CLASS_NAMES, MOMENT_NAMES, PREP_NAMES, PROCESS_NAMES
from crm.care.paint_terms import WEIGHT_NAMES, CutWeight
from crm.care.surfaces import NOTHING, Surface, Surfaces, Zone, surfaces_of
from crm.care.terms import Moment, Prep, Process, ProductClass, WaterGrade
from crm.care.words import describe
from crm.models import (
    CorrectionNote,
    Ending,
    Forecast,
    GaugeSpot,
    Grade,
    Layer,
    LeftForNextTime,
    Person,
    Sheet,
    Step,
    User,
    Visit,
)
from crm.selectors.coats import layers_of, live_surfaces
from crm.selectors.held import keeper_of, plate_of
from crm.selectors.sheet_builder import until_words

_TAIL = Surfaces.of([Surface.BOOT_LID, Surface.TAILGATE_LOWER, Surface.REAR_BUMPER])
_SIDE_GLASS = Surfaces.of([Surface.LEFT_GLASS, Surface.RIGHT_GLASS])
SPOTS: dict[str, tuple[str, Surfaces]] = {
    "roof": ("roof", Surfaces.of([Surface.ROOF])),
    "soft_top": ("soft top", surfaces_of(Zone.SOFT_TOP)),
    "bonnet": ("bonnet", Surfaces.of([Surface.BONNET])),
    "upper_sides": ("upper sides", surfaces_of(Zone.UPPER_SIDES)),
    "lower_sides": ("lower sides", surfaces_of(Zone.LOWER_SIDES) - _TAIL),
    "tail": ("tail", _TAIL),
    "wheels": ("wheels", surfaces_of(Zone.WHEELS)),
    "screen": ("screen", surfaces_of(Zone.SCREEN)),
    "side_glass": ("side glass", _SIDE_GLASS),
}
"""Where water is graded, in the order of a glance over the car (common practice, no source)."""


def spots_of(body: Body) -> dict[str, tuple[str, Surfaces]]:
    """The grading spots that a car of this shape has: key to words and surfaces."""
    has = surfaces_of_body(body)
    return {key: (words, on & has) for key, (words, on) in SPOTS.items() if on & has}


@dataclass(frozen=True)
class OnIt:
    """A layer from an earlier visit that protected something when the car came in."""

    product: str
    kind: str
    where: str
    laid_at: datetime
    live: bool
    """Whether any of it is still there after what was done on this visit."""
    until: str


@dataclass(frozen=True)
class Line:
    """One recorded fact: what, where, when, by whom, and what came of it."""

    pk: int
    what: str
    where: str
    at: datetime
    by: User | None
    late: bool
    written_at: datetime
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class LayerLine(Line):
    """One layer of this visit with its clocks."""

    layer: Layer | None = None


@dataclass(frozen=True)
class Spot:
    """How water behaved on one spot: the last grade before and after decontamination."""

    key: str
    words: str
    before: Grade | None
    after: Grade | None

    @property
    def recovered(self) -> bool:
        """Whether the layer showed again once the dirt was off: a better grade, and one that says it still holds.

        From "wets out" to "a clinging film" is dirt gone and no layer found.
        """
        if self.before is None or self.after is None:
            return False
        return self.after.grade > self.before.grade and self.after.grade >= WaterGrade.LAZY


@dataclass(frozen=True)
class VisitPage:
    """Everything the bay sheet shows."""

    visit: Visit
    plate: str
    keeper: Person | None
    on_it: tuple[OnIt, ...]
    waiting: tuple[tuple[LeftForNextTime, str], ...]
    """What earlier visits left for this one, with where it is."""
    left_now: tuple[tuple[LeftForNextTime, str], ...]
    spots: tuple[Spot, ...]
    grades: tuple[Line, ...]
    steps: tuple[Line, ...]
    layers: tuple[LayerLine, ...]
    taken_back: tuple[tuple[str, str], ...]
    """What was taken back on this visit, and why."""
    last_surfaces: Surfaces
    sheet: Sheet | None


def visit_page(visit: Visit, *, today: date) -> VisitPage:
    """The bay sheet, in a number of queries that does not grow with the record."""
    car, body = visit.car, Body(visit.car.body)
    steps = list(visit.steps.select_related("by").prefetch_related("endings__layer__product"))
    grades = list(visit.grades.select_related("by"))
    layers = layers_of(car)
    mine = sorted(
        (layer for layer in layers if layer.visit_id == visit.pk), key=lambda layer: (layer.laid_at, layer.pk)
    )
    left = list(LeftForNextTime.objects.filter(car=car))
    plate = plate_of(car, today)
    return VisitPage(
        visit=visit,
        plate=plate.mark if plate else "",
        keeper=keeper_of(car, today),
        on_it=_on_it(visit, layers, body, today),
        waiting=_left((row for row in left if row.visit_id != visit.pk and row.done_at is None), body),
        left_now=_left((row for row in left if row.visit_id == visit.pk), body),
        spots=_spots(body, grades),
        grades=tuple(_grade_line(grade, body) for grade in grades),
        steps=tuple(_step_line(step, body) for step in steps),
        layers=_layer_lines(mine, body),
        taken_back=_taken_back(visit, body),
        last_surfaces=last_surfaces(steps, mine),
        sheet=Sheet.objects.filter(visit=visit).first(),
    )


def last_surfaces(steps: Iterable[Step], layers: Iterable[Layer]) -> Surfaces:
    """The surfaces of the entry that was written down last on a visit, for "same as last"."""
    rows: list[Step | Layer] = [*steps, *layers]
    newest = max(rows, key=lambda row: row.written_at, default=None)
    return newest.surfaces if newest else NOTHING


def _on_it(visit: Visit, layers: Sequence[Layer], body: Body, today: date) -> tuple[OnIt, ...]:
    until = until_words(Forecast.objects.filter(car=visit.car), today=today)
    came_at = visit.arrived_at or visit.planned_in
    found = []
    for layer in layers:
        came_with = live_surfaces(layer, at=came_at)
        if layer.visit_id == visit.pk or layer.laid_at > came_at or not came_with:
            continue
        live = live_surfaces(layer)
        expected = next((words for (pk, _), words in until.items() if pk == layer.pk and words), "")
        kind = CLASS_NAMES[ProductClass(layer.product.product_class)]
        became = _became(came_with, live, expected, body)
        found.append(
            OnIt(layer.product.name, kind, describe(came_with, body), layer.laid_at, bool(live), became)
        )
    return tuple(found)


def _became(came_with: Surfaces, live: Surfaces, expected: str, body: Body) -> str:
    if not live:
        return "ended since"
    return expected if live == came_with else f"now on {describe(live, body)} {expected}".strip()


def _left(rows: Iterable[LeftForNextTime], body: Body) -> tuple[tuple[LeftForNextTime, str], ...]:
    return tuple((row, describe(row.surfaces, body) if row.surfaces else "") for row in rows)


def _spots(body: Body, grades: Sequence[Grade]) -> tuple[Spot, ...]:
    def last(on: Surfaces, moment: Moment) -> Grade | None:
        found = [grade for grade in grades if grade.moment == moment and on <= grade.surfaces]
        return max(found, key=lambda grade: (grade.at, grade.pk), default=None)

    return tuple(
        Spot(key, words, last(on, Moment.BEFORE_DECON), last(on, Moment.AFTER_DECON))
        for key, (words, on) in spots_of(body).items()
    )


def where_graded(surfaces: Surfaces, body: Body) -> str:
    """The graded spot by its own name, other sets described."""
    for words, on in spots_of(body).values():
        if surfaces == on:
            return words
    return describe(surfaces, body)


def _grade_line(grade: Grade, body: Body) -> Line:
    what = f"{grade.grade}, {MOMENT_NAMES[Moment(grade.moment)]}"
    return _line(grade, what, where_graded(grade.surfaces, body), (grade.note,) if grade.note else ())


def _step_line(step: Step, body: Body) -> Line:
    notes = [step.note] if step.note else []
    notes += [f"done all the same, because: {step.over_warnings}"] if step.over_warnings else []
    notes += [ended_words(ending, body) for ending in step.endings.all() if ending.taken_back_at is None]
    return _line(step, done_words(step), describe(step.surfaces, body), tuple(notes))


def done_words(step: Step) -> str:
    """A process by its name, a cut by how hard it was."""
    if step.weight:
        return WEIGHT_NAMES[CutWeight(step.weight)]
    return PROCESS_NAMES[Process(step.process)]


def ended_words(ending: Ending, body: Body) -> str:
    """What a process ended, in a sentence."""
    return (
        f"{ending.layer.product.name} ended on {describe(ending.surfaces, body)}: {ending.get_why_display()}."
    )


def _line(row: Step | Grade, what: str, where: str, notes: tuple[str, ...]) -> Line:
    return Line(row.pk, what, where, row.at, row.by, row.late, row.written_at, notes)


def _layer_lines(layers: Sequence[Layer], body: Body) -> tuple[LayerLine, ...]:
    people = User.objects.in_bulk([layer.by_id for layer in layers if layer.by_id])
    return tuple(
        LayerLine(
            pk=layer.pk,
            what=layer.product.name,
            where=describe(layer.surfaces, body),
            at=layer.laid_at,
            by=people.get(layer.by_id) if layer.by_id else None,
            late=layer.late,
            written_at=layer.written_at,
            notes=conditions_words(layer),
            layer=layer,
        )
        for layer in layers
    )


def conditions_words(layer: Layer) -> tuple[str, ...]:
    """How a layer was laid, in short phrases; what was not recorded is left out."""
    said = [
        "one coat" if layer.coats == 1 else f"{layer.coats} coats",
        f"{layer.coat_gap_minutes} min apart" if layer.coat_gap_minutes and layer.coats > 1 else "",
        f"batch {layer.batch}" if layer.batch else "",
        PREP_NAMES[Prep(layer.prep)] if layer.prep else "",
        f"air {layer.air_c} °C" if layer.air_c is not None else "",
        f"humidity {layer.humidity:.0f} %" if layer.humidity is not None else "",
        f"panel {layer.surface_c} °C" if layer.surface_c is not None else "",
        f"bay down to {layer.bay_min_c} °C" if layer.bay_min_c is not None else "",
        f"flash {layer.flash_seconds} s" if layer.flash_seconds else "",
        f"lamp: {layer.lamp}" if layer.lamp else "",
        layer.note,
    ]
    return tuple(phrase for phrase in said if phrase)


def _taken_back(visit: Visit, body: Body) -> tuple[tuple[str, str], ...]:
    steps = Step.everything.filter(visit=visit, taken_back_at__isnull=False)
    grades = Grade.everything.filter(visit=visit, taken_back_at__isnull=False)
    layers = Layer.everything.filter(visit=visit, taken_back_at__isnull=False).select_related("product")
    spots = GaugeSpot.everything.filter(visit=visit, taken_back_at__isnull=False)
    corrections = CorrectionNote.everything.filter(visit=visit, taken_back_at__isnull=False)
    rows: list[Step | GaugeSpot | CorrectionNote] = [*steps, *spots, *corrections]
    found = [
        (row.taken_back_at, f"{row}, {describe(row.surfaces, body)}", row.taken_back_because) for row in rows
    ]
    found += [
        (row.taken_back_at, f"{row}, {where_graded(row.surfaces, body)}", row.taken_back_because)
        for row in grades
    ]
    found += [
        (row.taken_back_at, f"{row.product}, {describe(row.surfaces, body)}", row.taken_back_because)
        for row in layers
    ]
    return tuple((what, because) for _, what, because in sorted(found, key=lambda row: str(row[0])))
