"""The layers of a product of which something was seen, with their looks and ends, as the engine of learning wants them.

Read `CARS` cars at a time: the queries are the same however many layers a car has, and a chain's record never stands
in memory at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.db.models import BigIntegerField, Exists, ExpressionWrapper, F, OuterRef

from crm.care.coats import Case
from crm.care.layer_stories import Part, Story, parts_of, stories
from crm.care.seen import Ending as Stood
from crm.care.seen import Watched
from crm.care.surfaces import by_zone
from crm.care.terms import EndReason, Moment
from crm.models import Car, Ending, Grade, Layer, Product, Studio
from crm.selectors.coats import CarFacts, coat_of, facts_of_cars, layers_of_cars, lumps_on
from crm.selectors.graded import graded_of, laid_of

CARS = 1000
"""Cars that are read at a time."""
_WORN = (EndReason.WORN, EndReason.FAILED)


@dataclass(frozen=True)
class WatchedLayer:
    """One layer that was graded, or that a person ended as worn: its places, and how many grades tell nothing of it.

    `covered` grades saw another layer on top; `shared` ones found it whole on top of another one.
    """

    car: Car
    laid_at: datetime
    places: tuple[Watched, ...]
    covered: int
    shared: int


def watched_layers(product: Product, studio: Studio, cars: Sequence[int]) -> Iterator[WatchedLayer]:
    """The layers of a product on these cars (rows) that were graded after decontamination, or ended as worn."""
    for first in range(0, len(cars), CARS):
        chunk = Car.objects.filter(pk__in=cars[first : first + CARS]).order_by("-pk")
        yield from _of_cars(list(chunk), product, studio)


def seen_cars(product: Product, *, most: int) -> list[int]:
    """Cars with something to tell of a product, by row, those taken on last first; many have never been graded."""
    there = F("surfaces").bitand(OuterRef("surfaces"))  # type: ignore[arg-type]
    shared = ExpressionWrapper(there, BigIntegerField())
    graded = Grade.objects.annotate(shared=shared).filter(
        visit__car=OuterRef("car"), moment=Moment.AFTER_DECON, at__gt=OuterRef("laid_at"), shared__gt=0
    )
    worn = Ending.objects.filter(layer=OuterRef("pk"), why__in=_WORN, taken_back_at__isnull=True)
    layers = Layer.objects.filter(product=product).filter(Exists(graded) | Exists(worn))
    return list(layers.order_by("-car").values_list("car", flat=True).distinct()[:most])


def _of_cars(cars: Sequence[Car], product: Product, studio: Studio) -> Iterator[WatchedLayer]:
    layers, zone = layers_of_cars(cars), studio.zone
    graded = graded_of(layers, zone)
    facts = facts_of_cars(layers)
    for car in cars:
        told = stories((laid_of(layer, zone) for layer in layers[car.pk]), graded[car.pk])
        for layer in layers[car.pk]:
            if layer.product_id == product.pk:
                found = _watched(car, layer, told[layer.pk], facts[car.pk], studio)
                if found.places or found.covered or found.shared:
                    yield found


def _watched(car: Car, layer: Layer, story: Story, facts: CarFacts, studio: Studio) -> WatchedLayer:
    laid, places = laid_of(layer, studio.zone), []
    for zone, covered in by_zone(layer.surfaces).items():
        telling = [part for part in parts_of(laid, covered, story) if _tells(part)]
        if telling:
            coat = coat_of(layer, zone, facts, studio)
            for part in telling:
                lumps = lumps_on(layer, part.surfaces, _until(facts, part.last), studio)
                places.append(Watched(Case(coat, facts.habits, lumps), part.looks, part.end))
    return WatchedLayer(car, layer.laid_at, tuple(places), story.covered, story.shared)


def _until(facts: CarFacts, moment: datetime | None) -> CarFacts:
    """The facts without what was done at the car after a moment: clay wears no layer that was looked at before."""
    return replace(facts, steps=tuple(step for step in facts.steps if moment is None or step.at <= moment))


def _tells(part: Part) -> bool:
    return bool(part.looks) or (part.end is not None and part.end.how is Stood.WORN)
