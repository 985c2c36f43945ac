"""What is written down standing next to the car: processes, water grades, layers and their endings."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from crm.care.air import AirVerdict, NotAReading, assess_air
from crm.care.bodies import Body
from crm.care.cure import Clocks, Cure, clocks, coldest_known, cure_in_force
from crm.care.layering import Concern, Laying, Severity, Treated, concerns
from crm.care.removal import ends, superseded
from crm.care.surfaces import Surfaces
from crm.care.terms import EndReason, Moment, Paint, Prep, Process, ProductClass
from crm.models import CarEvent, Ending, Grade, Layer, Product, Step, User, Visit
from crm.selectors.coats import fresh_paint, layers_of, live_surfaces, lying, newest_life, own_hours
from crm.selectors.studio import the_studio
from crm.services.errors import NeedsReason, Refused
from crm.services.forecasts import reforecast_car
from crm.services.polishing import UNWEIGHTED, Polishing, weigh_polish
from crm.services.recording import check_open, on_this_car
from crm.services.replaying import apply_later
from crm.services.rights import Right, may, require
from crm.services.storing import store
from crm.services.visits import is_late


@dataclass(frozen=True, kw_only=True)
class NewLayer:
    """One product on a set of surfaces, as the bench writes it down. None is "not recorded"."""

    product: Product
    surfaces: Surfaces
    at: datetime
    coats: int = 1
    coat_gap_minutes: int | None = None
    batch: str = ""
    prep: Prep | None = None
    panel_wiped: bool | None = None
    air_c: Decimal | None = None
    surface_c: Decimal | None = None
    humidity: Decimal | None = None
    bay_min_c: Decimal | None = None
    flash_seconds: int | None = None
    lamp: str = ""
    note: str = ""
    over_warnings: str = ""


@dataclass(frozen=True)
class Weighed:
    """What the rules say to a layer before it is laid."""

    concerns: tuple[Concern, ...]
    air: AirVerdict

    @property
    def stops(self) -> tuple[str, ...]:
        """Sentences that need a reason for going on."""
        return tuple(concern.words for concern in self.concerns if concern.severity is Severity.STOP) + tuple(
            finding.words for finding in self.air.findings if finding.severity is Severity.STOP
        )

    @property
    def notes(self) -> tuple[str, ...]:
        """Sentences that only want to be read."""
        return tuple(concern.words for concern in self.concerns if concern.severity is Severity.NOTE) + tuple(
            finding.words for finding in self.air.findings if finding.severity is Severity.NOTE
        )


def weigh_layer(*, visit: Visit, layer: NewLayer) -> Weighed:
    """Hold a layer against what lies underneath, the paint, and the air. Writes nothing."""
    car = visit.car
    product_class = ProductClass(layer.product.product_class)
    laying = Laying(
        product_class=product_class,
        product_key=layer.product.pk,
        name=layer.product.name,
        surfaces=layer.surfaces,
        # The rules speak of days: those of the studio.
        at=layer.at.astimezone(the_studio().zone),
        prep=layer.prep,
        panel_wiped=layer.panel_wiped,
        maker=layer.product.family,
        coats=layer.coats,
        coat_gap_h=None if layer.coat_gap_minutes is None else layer.coat_gap_minutes / 60,
    )
    treated = [
        Treated(Process(step.process), step.surfaces) for step in visit.steps.all() if step.at <= layer.at
    ]
    found = concerns(
        laying,
        lying=lying(layers_of(car), at=layer.at),
        paint=Paint(car.paint),
        fresh_paint=fresh_paint(CarEvent.objects.filter(car=car)),
        treated=treated,
        body=Body(car.body),
    )
    return Weighed(found, _weigh_air(layer, product_class))


def _weigh_air(layer: NewLayer, product_class: ProductClass) -> AirVerdict:
    try:
        return assess_air(
            product_class,
            air_c=_number(layer.air_c),
            humidity=None if layer.humidity is None else float(layer.humidity) / 100,
            surface_c=_number(layer.surface_c),
            bay_min_c=_number(layer.bay_min_c),
        )
    except NotAReading as error:
        raise Refused(str(error), field="air_c") from error


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def cure_for(product: Product) -> tuple[Cure, bool]:
    """The cure hours of a product (its own where the studio wrote them down) and whether cold lengthens them."""
    life = newest_life(product)
    cure = cure_in_force(ProductClass(product.product_class), own_hours(life))
    return cure, life.cold_lengthens if life else True


@transaction.atomic
def record_layer(
    *, visit: Visit, layer: NewLayer, by: User | None, now: datetime, follow: bool = True
) -> Layer:
    """Lay a product on surfaces: clocks start, what it replaces ends, forecasts follow.

    Raises Refused where it cannot be, NeedsReason where the rules say stop and no reason is given. Without
    `follow` the caller makes the forecasts itself when it has written everything.
    """
    require(by, Right.RECORD)
    check_open(visit, layer.at, now)
    on = on_this_car(visit, layer.surfaces)
    weighed = weigh_layer(visit=visit, layer=layer)
    if weighed.stops:
        require(by, Right.OVERRIDE)
    if weighed.stops and not layer.over_warnings.strip():
        raise NeedsReason(weighed.stops)
    cure, cold_lengthens = cure_for(layer.product)
    coldest = coldest_known(air_c=_number(layer.air_c), bay_min_c=_number(layer.bay_min_c))
    running = clocks(cure, applied_at=layer.at, coldest_c=coldest, cold_lengthens=cold_lengthens)
    row = _layer_row(visit, layer, on, weighed, running)
    row.by, row.written_at, row.late = by, now, is_late(layer.at, now)
    store(row)
    replaced = superseded(
        ProductClass(layer.product.product_class),
        on,
        lying=lying(layers_of(visit.car), at=layer.at),
        key=row.pk,
    )
    for ending in replaced:
        _end(
            layer_id=ending.key,
            surfaces=ending.surfaces,
            at=layer.at,
            why=EndReason.SUPERSEDED,
            by=by,
            now=now,
            next_layer=row,
        )
    if follow or row.late:
        apply_later(visit.car, since=layer.at, by=by, now=now)
    if follow:
        reforecast_car(visit.car, now=now)
    return row


def _layer_row(visit: Visit, layer: NewLayer, on: Surfaces, weighed: Weighed, running: Clocks) -> Layer:
    return Layer(
        car=visit.car,
        visit=visit,
        product=layer.product,
        surfaces=on,
        coats=layer.coats,
        coat_gap_minutes=layer.coat_gap_minutes,
        batch=layer.batch.strip(),
        laid_at=layer.at,
        prep=layer.prep,
        panel_wiped=layer.panel_wiped,
        air_c=layer.air_c,
        surface_c=layer.surface_c,
        humidity=layer.humidity,
        bay_min_c=layer.bay_min_c,
        flash_seconds=layer.flash_seconds,
        lamp=layer.lamp.strip(),
        air=weighed.air.air,
        drive_from=running.drive_from,
        dry_until=running.dry_until,
        wash_from=running.wash_from,
        topper_from=running.topper_from,
        cured_at=running.cured_at,
        over_warnings=layer.over_warnings.strip() if weighed.stops else "",
        note=layer.note.strip(),
    )


@transaction.atomic
def record_step(
    *,
    visit: Visit,
    process: Process,
    surfaces: Surfaces,
    at: datetime,
    note: str = "",
    polishing: Polishing = UNWEIGHTED,
    by: User | None,
    now: datetime,
    follow: bool = True,
) -> Step:
    """Write down a process on surfaces; what it physically removes ends there.

    Raises NeedsReason where it is a polish that the paint of a panel should not see, and no reason is given.
    """
    require(by, Right.RECORD)
    check_open(visit, at, now)
    on = on_this_car(visit, surfaces)
    stops = weigh_polish(visit=visit, process=process, surfaces=on, at=at)
    if stops and by is not None and not may(by, Right.OVERRIDE):
        raise Refused(f"{' '.join(stops)} Ask the lead, who may go on all the same.")
    if stops and not polishing.over_warnings.strip():
        raise NeedsReason(stops)
    if polishing.weight is not None and process is not Process.CUT:
        raise Refused("Only a cut is medium or heavy.", field="weight")
    step = Step(visit=visit, process=process, surfaces=on, at=at, note=note.strip())
    step.weight = polishing.weight
    step.over_warnings = polishing.over_warnings.strip() if stops else ""
    step.by, step.written_at, step.late = by, now, is_late(at, now)
    store(step)
    for ending in ends(process, on, lying(layers_of(visit.car), at=at)):
        _end(
            layer_id=ending.key, surfaces=ending.surfaces, at=at, why=ending.reason, by=by, now=now, step=step
        )
    if follow:
        reforecast_car(visit.car, now=now)
    return step


@transaction.atomic
def record_grade(
    *,
    visit: Visit,
    surfaces: Surfaces,
    grade: int,
    moment: str,
    at: datetime,
    note: str = "",
    by: User | None,
    now: datetime,
    follow: bool = True,
) -> Grade:
    """Write down how water behaved on surfaces, before or after decontamination.

    After it a grade is proof, and the forecasts of what it reads follow it; not where `follow` is off, as in a
    story that is told to its end before anybody reads the windows.
    """
    require(by, Right.RECORD)
    check_open(visit, at, now)
    row = Grade(
        visit=visit,
        surfaces=on_this_car(visit, surfaces),
        grade=grade,
        moment=moment,
        at=at,
        note=note.strip(),
    )
    row.by, row.written_at, row.late = by, now, is_late(at, now)
    store(row)
    if follow and row.moment == Moment.AFTER_DECON:
        reforecast_car(visit.car, now=now)
    return row


@transaction.atomic
def end_layer(
    *,
    layer: Layer,
    surfaces: Surfaces,
    at: datetime,
    why: EndReason,
    note: str = "",
    by: User | None,
    now: datetime,
) -> Ending:
    """A person says that a layer is finished on surfaces. Arithmetic never does."""
    require(by, Right.RECORD)
    live = live_surfaces(layer) & surfaces
    if not live:
        raise Refused("That layer has already ended on those surfaces.", field="surfaces")
    if at < layer.laid_at:
        raise Refused("A layer cannot end before it was laid.", field="at")
    if at > now:
        raise Refused("That time has not come yet.", field="at")
    ending = _end(layer_id=layer.pk, surfaces=live, at=at, why=why, by=by, now=now, note=note)
    reforecast_car(layer.car, now=now)
    return ending


@transaction.atomic
def take_back_ending(*, ending: Ending, because: str, by: User | None, now: datetime) -> Ending:
    """The ending was a mistake: it stays on record as taken back, and the layer counts again."""
    require(by, Right.RECORD)
    if ending.step is not None and ending.step.visit.state == Visit.State.HANDED_OVER:
        require(by, Right.OVERRIDE)
    if ending.taken_back_at is not None:
        raise Refused("That was taken back already.")
    if not because.strip():
        raise Refused("Say why the ending is taken back.", field="because")
    ending.taken_back_at, ending.taken_back_because = now, because.strip()
    store(ending)
    apply_later(ending.layer.car, since=ending.layer.laid_at, by=by, now=now)
    reforecast_car(ending.layer.car, now=now)
    return ending


@transaction.atomic
def end_by_event(*, event: CarEvent, process: Process, by: User | None, now: datetime, at: datetime) -> int:
    """End what an event elsewhere physically removed. Returns how many layers it touched."""
    found = ends(process, event.surfaces, lying(layers_of(event.car), at=at))
    for ending in found:
        _end(
            layer_id=ending.key,
            surfaces=ending.surfaces,
            at=at,
            why=ending.reason,
            by=by,
            now=now,
            event=event,
        )
    return len(found)


def _end(  # noqa: PLR0913 - one row, column by column
    *,
    layer_id: int,
    surfaces: Surfaces,
    at: datetime,
    why: EndReason,
    by: User | None,
    now: datetime,
    step: Step | None = None,
    event: CarEvent | None = None,
    next_layer: Layer | None = None,
    note: str = "",
) -> Ending:
    ending = Ending(
        layer_id=layer_id,
        surfaces=surfaces,
        at=at,
        why=why,
        step=step,
        event=event,
        next_layer=next_layer,
        note=note.strip(),
        by=by,
        written_at=now,
    )
    store(ending)
    return ending
