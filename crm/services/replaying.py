"""Applying again what came later, after something earlier was taken back or written down late."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, time
from operator import attrgetter
from typing import Any

from crm.care.removal import ends, superseded
from crm.care.surfaces import NOTHING, Surfaces
from crm.care.terms import EndReason, Process, ProductClass
from crm.models import Car, CarEvent, Ending, Layer, Step, User
from crm.selectors.coats import WEARING_EVENTS, layers_of, lying
from crm.selectors.studio import the_studio
from crm.services.storing import store

ENDING_EVENTS = tuple(
    kind
    for kind in CarEvent.Kind
    if kind.value in {process.value for process in Process} and kind not in WEARING_EVENTS
)
"""Events elsewhere that are a process which takes layers off."""


@dataclass(frozen=True)
class _Fact:
    """A process, a layer or an event that may end layers: when it was, when it was written, and the row."""

    at: datetime
    written_at: datetime
    cause: str
    row: Any


def apply_later(car: Car, *, since: datetime, by: User | None, now: datetime) -> int:
    """End what later facts would have ended, had the record always been as it is now. Returns how many.

    Calling it twice changes nothing. An ending that a person took back is not made again.
    """
    made = 0
    for fact in sorted(_facts(car, since), key=attrgetter("at", "written_at")):
        for layer_id, surfaces, why in _endings_by(car, fact):
            on = surfaces - _taken_back(layer_id, fact)
            if on == NOTHING:
                continue
            ending = Ending(layer_id=layer_id, surfaces=on, at=fact.at, why=why, by=by, written_at=now)
            setattr(ending, fact.cause, fact.row)
            store(ending)
            made += 1
    return made


def _facts(car: Car, since: datetime) -> Iterator[_Fact]:
    for step in Step.objects.filter(visit__car=car, at__gte=since):
        yield _Fact(step.at, step.written_at, "step", step)
    for layer in Layer.objects.filter(car=car, laid_at__gte=since).select_related("product"):
        yield _Fact(layer.laid_at, layer.written_at, "next_layer", layer)
    zone = the_studio().zone
    for event in CarEvent.objects.filter(car=car, kind__in=ENDING_EVENTS):
        at = min(datetime.combine(event.on, time(12), zone), event.written_at)
        if at >= since:
            yield _Fact(at, event.written_at, "event", event)


def _endings_by(car: Car, fact: _Fact) -> list[tuple[int, Surfaces, EndReason]]:
    beneath = [
        layer for layer in layers_of(car) if (layer.laid_at, layer.written_at) < (fact.at, fact.written_at)
    ]
    below = lying(beneath, at=fact.at)
    if fact.cause == "next_layer":
        found = superseded(
            ProductClass(fact.row.product.product_class), fact.row.surfaces, lying=below, key=fact.row.pk
        )
    else:
        process = Process(fact.row.process if fact.cause == "step" else fact.row.kind)
        found = ends(process, fact.row.surfaces, below)
    return [(ending.key, ending.surfaces, ending.reason) for ending in found]


def _taken_back(layer_id: int, fact: _Fact) -> Surfaces:
    rows = Ending.objects.filter(layer_id=layer_id, taken_back_at__isnull=False, **{fact.cause: fact.row})
    found = NOTHING
    for row in rows:
        found |= row.surfaces
    return found
