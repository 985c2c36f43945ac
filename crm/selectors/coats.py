"""What lies on a car, and the stored facts as the engine's dataclasses."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.db.models import Prefetch

from crm.care.cure import OwnHours
from crm.care.forecast import Coat, Habit, Idle, Lump
from crm.care.layering import FreshPaint
from crm.care.life import Life as LifeMonths
from crm.care.removal import Lying
from crm.care.surfaces import EXTERIOR, NOTHING, Surfaces, Zone
from crm.care.terms import Air, Parking, Prep, Process, ProductClass, Wash
from crm.models import Car, CarEvent, Ending, Keeping, Layer, Life, Product, Step, Studio

PAINT_EVENTS = (CarEvent.Kind.RESPRAY, CarEvent.Kind.PANEL_REPLACED)
WEARING_EVENTS = (CarEvent.Kind.TUNNEL_WASH, CarEvent.Kind.TOUCH_FREE_WASH, CarEvent.Kind.STRIP_WASH)
SET_ONE, SET_TWO = (Zone.WHEELS, Zone.BARRELS), (Zone.WHEELS_TWO, Zone.BARRELS_TWO)


def layers_of(car: Car) -> list[Layer]:
    """Every layer ever laid on a car, newest first, with product and standing endings."""
    return layers_of_cars([car])[car.pk]


def layers_of_cars(cars: Iterable[Car]) -> dict[int, list[Layer]]:
    """The same for several cars at once, in two queries; by the car's row."""
    found: dict[int, list[Layer]] = {car.pk: [] for car in cars}
    standing = Ending.objects.filter(taken_back_at__isnull=True).order_by("at", "pk")
    layers = Layer.objects.filter(car__in=list(found)).select_related("product")
    for layer in layers.prefetch_related(Prefetch("endings", standing)):
        found[layer.car_id].append(layer)
    return found


def live_surfaces(layer: Layer, *, at: datetime | None = None) -> Surfaces:
    """Surfaces that a layer still protects: laid minus ended (by a moment, where one is given)."""
    live = layer.surfaces
    for ending in layer.endings.all():
        if ending.taken_back_at is None and (at is None or ending.at <= at):
            live -= ending.surfaces
    return live


def lying(layers: Iterable[Layer], *, at: datetime | None = None) -> tuple[Lying, ...]:
    """The layers that still protect something, as the layering and removal rules want them."""
    found = []
    for layer in layers:
        if at is not None and layer.laid_at > at:
            continue
        live = live_surfaces(layer, at=at)
        if live:
            found.append(
                Lying(
                    key=layer.pk,
                    product_class=ProductClass(layer.product.product_class),
                    product_key=layer.product_id,
                    name=layer.product.name,
                    surfaces=live,
                    laid_at=layer.laid_at,
                    cured_at=layer.cured_at,
                    topper_from=layer.topper_from,
                    batch=layer.batch,
                    maker=layer.product.family,
                )
            )
    return tuple(found)


@dataclass(frozen=True)
class OwnLife:
    """The studio's own months of a product, and whether they were learned from its own cars."""

    months: LifeMonths
    learned: bool


@dataclass(frozen=True)
class CarFacts:
    """What the engine needs to know of a car besides its layers."""

    habits: tuple[Habit, ...]
    steps: tuple[Step, ...] = ()
    events: tuple[CarEvent, ...] = ()
    lives: dict[int, OwnLife] = field(default_factory=dict)


def car_facts(car: Car, layers: Sequence[Layer]) -> CarFacts:
    """Facts of one car, in four queries."""
    return facts_of_cars({car.pk: layers})[car.pk]


def facts_of_cars(layers: Mapping[int, Sequence[Layer]]) -> dict[int, CarFacts]:
    """Facts of several cars, by row with the layers of each, in the same four queries."""
    cars = list(layers)
    keepings, steps, events = (defaultdict[int, list[Any]](list) for _ in range(3))
    for keeping in Keeping.objects.filter(car__in=cars).order_by("since"):
        keepings[keeping.car_id].append(keeping)
    for step in Step.objects.filter(visit__car__in=cars).select_related("visit"):
        steps[step.visit.car_id].append(step)
    for event in CarEvent.objects.filter(car__in=cars):
        events[event.car_id].append(event)
    lives = lives_of({layer.product_id for of_car in layers.values() for layer in of_car})
    return {
        car: CarFacts(habits_of(keepings[car]), tuple(steps[car]), tuple(events[car]), lives) for car in cars
    }


def habits_of(keepings: Iterable[Keeping]) -> tuple[Habit, ...]:
    """How a car is kept, oldest first, as the engine wants it."""
    return tuple(
        Habit(
            since=keeping.since,
            parking=Parking(keeping.parking) if keeping.parking else None,
            km_a_year=keeping.km_a_year,
            salted_roads=keeping.salted_roads,
            wash_summer=Wash(keeping.wash_summer) if keeping.wash_summer else None,
            wash_winter=Wash(keeping.wash_winter) if keeping.wash_winter else None,
            on_plan=keeping.on_plan,
            stored=keeping.stored,
        )
        for keeping in keepings
    )


def lives_of(products: Iterable[int]) -> dict[int, OwnLife]:
    """The studio's own life of each product by its newest figures; one without months is its class's own again."""
    newest = {
        row.product_id: row for row in Life.objects.filter(product__in=list(products)).order_by("since", "pk")
    }
    own = {product: (row, months_of(row)) for product, row in newest.items()}
    return {
        product: OwnLife(months, learned=row.source == Life.Source.LEARNED)
        for product, (row, months) in own.items()
        if months is not None
    }


def months_of(row: Life) -> LifeMonths | None:
    """The three months of a set of figures; None where they are the class's own."""
    if row.low is None or row.likely is None or row.high is None:
        return None
    return LifeMonths(float(row.low), float(row.likely), float(row.high))


def newest_life(product: Product) -> Life | None:
    """The product's newest dated figures."""
    return product.lives.order_by("-since", "-pk").first()


def own_hours(life: Life | None) -> OwnHours:
    """The cure hours among a product's dated figures; none where the studio wrote nothing down."""
    if life is None:
        return OwnHours()
    return OwnHours(
        dry_h=life.dry_hours, wash_h=life.wash_hours, topper_h=life.topper_hours, full_h=life.cure_hours
    )


def coat_of(layer: Layer, zone: Zone, facts: CarFacts, studio: Studio) -> Coat:
    """A layer on one zone as the engine wants it."""
    laid_on = layer.laid_at.astimezone(studio.zone).date()
    own = facts.lives.get(layer.product_id)
    return Coat(
        product_class=ProductClass(layer.product.product_class),
        zone=zone,
        laid_on=laid_on,
        life=own.months if own else None,
        learned=own is not None and own.learned,
        prep=Prep(layer.prep) if layer.prep else None,
        air=Air(layer.air) if layer.air else None,
        got_wet_early=got_wet_early(layer, facts.events, studio),
        idle=idle_times(zone, facts.events),
    )


def got_wet_early(layer: Layer, events: Iterable[CarEvent], studio: Studio) -> bool:
    """Whether water reached a layer before it might, by its own record or by an event of the car."""
    if layer.got_wet_at and layer.got_wet_at < layer.dry_until:
        return True
    laid_on = layer.laid_at.astimezone(studio.zone).date()
    dry_on = layer.dry_until.astimezone(studio.zone).date()
    return any(
        event.kind == CarEvent.Kind.GOT_WET
        and laid_on <= event.on <= dry_on
        and (not event.surfaces or event.surfaces & layer.surfaces)
        for event in events
    )


def idle_times(zone: Zone, events: Iterable[CarEvent]) -> tuple[Idle, ...]:
    """When a wheel set was not on the car. With no record of changes it is taken to be always on."""
    if zone not in (*SET_ONE, *SET_TWO):
        return ()
    mine = CarEvent.Kind.WHEELS_ONE_ON if zone in SET_ONE else CarEvent.Kind.WHEELS_TWO_ON
    changes = sorted(
        (event.on, event.kind == mine)
        for event in events
        if event.kind in (CarEvent.Kind.WHEELS_ONE_ON, CarEvent.Kind.WHEELS_TWO_ON)
    )
    found: list[Idle] = []
    off_since: date | None = None
    for on, is_mine in changes:
        if not is_mine and off_since is None:
            off_since = on
        elif is_mine and off_since is not None:
            found.append(Idle(off_since, on))
            off_since = None
    if off_since is not None:
        found.append(Idle(off_since, None))
    return tuple(found)


def lumps_on(layer: Layer, live: Surfaces, facts: CarFacts, studio: Studio) -> tuple[Lump, ...]:
    """What took a share of a layer's life at once: steps and events after it, on its live surfaces."""
    laid_on = layer.laid_at.astimezone(studio.zone).date()
    lumps = [
        Lump(step.at.astimezone(studio.zone).date(), Process(step.process))
        for step in facts.steps
        if step.at > layer.laid_at and step.surfaces & live
    ]
    lumps += [
        Lump(event.on, Process(event.kind))
        for event in facts.events
        if event.kind in WEARING_EVENTS and event.on > laid_on and (event.surfaces or EXTERIOR) & live
    ]
    return tuple(sorted(lumps, key=lambda lump: (lump.on, lump.process)))


def fresh_paint(events: Iterable[CarEvent]) -> tuple[FreshPaint, ...]:
    """Panels painted elsewhere, newest first."""
    return tuple(
        FreshPaint(surfaces=event.surfaces, on=event.on, baked=event.baked)
        for event in sorted(events, key=lambda event: event.on, reverse=True)
        if event.kind in PAINT_EVENTS and event.surfaces != NOTHING
    )
