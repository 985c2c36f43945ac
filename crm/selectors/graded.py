"""What the water grades of cars tell of their layers: rows into the engine's facts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import tzinfo

from crm.care.layer_stories import Ended, Graded, Laid, Story, stories
from crm.care.terms import EndReason, Moment, WaterGrade
from crm.models import Grade, Layer


def told_of_layers(layers: Mapping[int, Sequence[Layer]], zone: tzinfo) -> dict[int, Mapping[int, Story]]:
    """By car and layer: what grades tell of it, where the layer on top is taken to be the one that is seen.

    All layers of each car have to be there, those that have ended too. One query.
    """
    graded = graded_of(layers, zone)
    return {
        car: stories((laid_of(layer, zone) for layer in laid), graded[car], top_holds=True)
        for car, laid in layers.items()
    }


def graded_of(cars: Iterable[int], zone: tzinfo) -> dict[int, list[Graded]]:
    """The grades after decontamination of cars (rows), in the order of time."""
    found: dict[int, list[Graded]] = defaultdict(list)
    rows = Grade.objects.filter(visit__car__in=list(cars), moment=Moment.AFTER_DECON).order_by("at", "pk")
    for car, at, surfaces, grade in rows.values_list("visit__car", "at", "surfaces", "grade"):
        found[car].append(Graded(at, at.astimezone(zone).date(), surfaces, WaterGrade(grade)))
    return found


def laid_of(layer: Layer, zone: tzinfo) -> Laid:
    """A layer with its endings; only those that stand may have been read with it."""
    endings = tuple(
        Ended(ending.at, ending.at.astimezone(zone).date(), ending.surfaces, EndReason(ending.why))
        for ending in layer.endings.all()
    )
    return Laid(layer.pk, layer.laid_at, layer.laid_at.astimezone(zone).date(), layer.surfaces, endings)
