"""The aftercare sheet of a visit, put together from the record as it stands."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta

from crm.care.advice import Circumstances, OnCar, Setting, compose
from crm.care.advice import Sheet as Advised
from crm.care.bodies import Body, painted_panels
from crm.care.forecast import around
from crm.care.surfaces import PANELS, Surfaces, by_zone
from crm.care.terms import Circumstance, Paint, Parking, Process, ProductClass, Wash, WashPlan
from crm.care.washplan import DueWash, wash_visits
from crm.care.words import CLASS_NAMES, describe
from crm.models import Car, Forecast, Keeping, Layer, Studio, Visit
from crm.selectors.coats import layers_of, live_surfaces
from crm.selectors.held import keeper_of, plate_of
from crm.selectors.sheet import Advice, AdviceLine, LaidLine, SheetContent, WashVisit
from crm.selectors.studio import local_day, seasons_of

A_YEAR = timedelta(days=365)
COATINGS = (
    ProductClass.LIGHT_COATING,
    ProductClass.COATING_ENTHUSIAST,
    ProductClass.COATING_PROFESSIONAL,
    ProductClass.COATING_MULTI,
)
OF_PARKING = {
    Parking.OUTDOORS: Circumstance.NO_GARAGE,
    Parking.TREES_OR_INDUSTRY: Circumstance.TREES,
    Parking.NEAR_SEA: Circumstance.COAST,
}
HIGH_KM, LOW_KM = 30_000, 5_000


def keeping_on(car: Car, day: date) -> Keeping | None:
    """How the car is kept on a day."""
    return Keeping.objects.filter(car=car, since__lte=day).order_by("-since").first()


def circumstances_of(car: Car, keeping: Keeping | None, studio: Studio) -> Circumstances:
    """How the owner lives with the car, as far as advice depends on it."""
    flags = {Circumstance(flag) for flag in car.circumstances}
    if not studio.home_washing:
        flags.add(Circumstance.NO_HOME_WASHING)
    if keeping is None:
        return Circumstances(flags=frozenset(flags), paint=Paint(car.paint))
    if keeping.parking in OF_PARKING:
        flags.add(OF_PARKING[Parking(keeping.parking)])
        flags.add(Circumstance.NO_GARAGE)
    if keeping.km_a_year is not None and keeping.km_a_year > HIGH_KM:
        flags.add(Circumstance.HIGH_MILEAGE)
    if keeping.km_a_year is not None and keeping.km_a_year < LOW_KM:
        flags.add(Circumstance.LOW_MILEAGE)
    if keeping.salted_roads:
        flags.add(Circumstance.SALTED_ROADS)
    if keeping.stored:
        flags.add(Circumstance.STORED)
    return Circumstances(
        flags=frozenset(flags),
        wash_summer=Wash(keeping.wash_summer) if keeping.wash_summer else None,
        wash_winter=Wash(keeping.wash_winter) if keeping.wash_winter else None,
        paint=Paint(car.paint),
        salted_roads=keeping.salted_roads,
    )


def sheet_content(visit: Visit, *, studio: Studio, now: datetime) -> tuple[SheetContent, str]:
    """What the sheet of this visit would say if the car were handed over now, and the version of its texts."""
    car, today = visit.car, local_day(studio, now)
    layers = [layer for layer in layers_of(car) if live_surfaces(layer)]
    until = until_words(Forecast.objects.filter(car=car), today=today)
    advised = compose(
        layers=[line for layer in layers for line in _on_car(layer, car, until)],
        fresh=[line for layer in layers if layer.visit_id == visit.pk for line in _setting(layer)],
        circumstances=circumstances_of(car, keeping_on(car, today), studio),
        today=today,
        now=now,
        salt=seasons_of(studio).salt,
        processes=[Process(step.process) for step in visit.steps.all()],
    )
    plate = plate_of(car, today)
    keeper = keeper_of(car, today)
    content = SheetContent(
        studio_name=studio.name,
        studio_address=studio.postal_address,
        studio_phone=studio.phone,
        time_zone=studio.time_zone,
        paper=studio.paper,
        car_words=car.known_as,
        plate=plate.mark if plate else "",
        keeper_name=keeper.name if keeper else "",
        handed_over_at=now,
        layers=tuple(_laid(layer, car, until) for layer in layers),
        advice=advice_of(advised),
        wash_visits=tuple(
            WashVisit(on=due.due, words=due.words) for due in planned_washes(car, layers, studio, after=today)
        ),
        promise=visit.promise,
        promise_months=visit.promise_months,
        signature=studio.signature,
    )
    return content, advised.version


def until_words(forecasts: Iterable[Forecast], *, today: date) -> dict[tuple[int, str], str]:
    """The words "until around February 2027" by layer and zone; nothing where no forecast can be made.

    Where the likely time has passed they are "likely thin by now".

    An owner reads one time for the paint: that of the zone that is likely to be thin first.
    """
    live = [row for row in forecasts if row.live]
    first_on_paint: dict[int, date] = {}
    for row in live:
        if row.likely and row.live <= PANELS:
            first_on_paint[row.layer_id] = min(row.likely, first_on_paint.get(row.layer_id, row.likely))
    found = {}
    for row in live:
        likely = first_on_paint.get(row.layer_id, row.likely) if row.live <= PANELS else row.likely
        found[row.layer_id, row.zone] = _until(likely, today)
    return found


def _until(likely: date | None, today: date) -> str:
    if likely is None:
        return ""
    return f"until {around(likely)}" if likely > today else "likely thin by now"


def planned_washes(car: Car, layers: Sequence[Layer], studio: Studio, *, after: date) -> tuple[DueWash, ...]:
    """The maintenance washes that the car's plan foresees in the year after a day."""
    if car.wash_plan == WashPlan.NONE or car.plan_anchor is None:
        return ()
    coated = [layer.laid_at for layer in layers if ProductClass(layer.product.product_class) in COATINGS]
    due = wash_visits(
        WashPlan(car.wash_plan),
        anchor=car.plan_anchor,
        coated_on=local_day(studio, max(coated)) if coated else None,
        until=after + A_YEAR,
        circumstances=frozenset(Circumstance(flag) for flag in car.circumstances),
        salt=seasons_of(studio).salt,
    )
    return tuple(visit for visit in due if visit.due > after)


def _on_car(layer: Layer, car: Car, until: dict[tuple[int, str], str]) -> list[OnCar]:
    live = live_surfaces(layer)
    panels = _panel_words(live & PANELS, Body(car.body))
    return [
        OnCar(
            ProductClass(layer.product.product_class),
            zone,
            layer.product.name,
            until.get((layer.pk, zone.value), ""),
            panels,
        )
        for zone in by_zone(live)
    ]


def _panel_words(panels: Surfaces, body: Body) -> str:
    """Painted panels in words, or nothing where they are whole zones of the car and the zones say it."""
    whole = by_zone(painted_panels(body))
    if all(part == whole.get(zone) for zone, part in by_zone(panels).items()):
        return ""
    return describe(panels, body)


def _setting(layer: Layer) -> list[Setting]:
    return [
        Setting(
            product_class=ProductClass(layer.product.product_class),
            zone=zone,
            name=layer.product.name,
            laid_at=layer.laid_at,
            drive_from=layer.drive_from,
            dry_until=layer.dry_until,
            wash_from=layer.wash_from,
            topper_from=layer.topper_from,
            cured_at=layer.cured_at,
        )
        for zone in by_zone(live_surfaces(layer))
    ]


def _laid(layer: Layer, car: Car, until: dict[tuple[int, str], str]) -> LaidLine:
    live = live_surfaces(layer)
    words = [until.get((layer.pk, zone.value), "") for zone in by_zone(live)]
    return LaidLine(
        product=layer.product.name,
        kind=CLASS_NAMES[ProductClass(layer.product.product_class)],
        where=describe(live, Body(car.body)),
        until=words[0] if words else "",
    )


def advice_of(advised: Advised) -> Advice:
    """The composed sheet in the form in which it is stored and printed."""
    return Advice(
        text_version=advised.version,
        headlines=tuple(line.words for line in advised.first),
        donts=tuple(
            AdviceLine(code=dont.code, words=dont.words, why=dont.why, until=dont.until)
            for dont in advised.donts
        ),
        care=tuple(
            AdviceLine(code=line.code, words=line.words, why=line.why, until=line.until)
            for line in advised.care
        ),
        safety=tuple(
            AdviceLine(code=line.code, words=line.words, why=line.why, until=line.until)
            for line in advised.safety
        ),
    )
