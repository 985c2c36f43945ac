"""What is shown of each car that is due back, in a fixed number of queries for a page of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time

from django.db.models import Q

from crm.care.bodies import Body
from crm.care.forecast import Window, around, condition
from crm.care.surfaces import NOTHING, Zone
from crm.care.terms import Circumstance, Condition
from crm.care.words import ZONE_NAMES, describe
from crm.models import Car, Forecast, Keeping, Matter, Message, Studio, Visit
from crm.selectors.due import SHORT_LIVED
from crm.selectors.due_reach import Reached, reached_by_car
from crm.selectors.held import plates_on
from crm.selectors.on_it import OnIt, on_it, window_of
from crm.selectors.studio import local_day

WAITS = (
    Message.State.WAITING,
    Message.State.HELD,
    Message.State.SENDING,
    Message.State.UNCERTAIN,
    Message.State.FAILED,
)
_ALSO = 2


@dataclass(frozen=True)
class Posted:
    """A message about a car that has not left, or of which nobody knows whether it has."""

    pk: int
    kind: str
    state: str
    state_words: str


@dataclass(frozen=True)
class Booked:
    """The next visit."""

    pk: int
    on: date
    words: str


@dataclass(frozen=True)
class DueRow:
    """One car: the layer that lapses first, what else is on it, and how its keeper can be reached."""

    ref: str
    plate: str
    car: str
    due_on: date
    product: str
    where: str
    first: str
    """The zone that goes first, where that is not all of the layer."""
    window: Window
    condition: Condition
    also: tuple[str, ...]
    rest: tuple[str, ...]
    """What else is on the car, beyond the first few."""
    salted: bool | None
    reach: Reached
    booked: Booked | None
    posted: tuple[Posted, ...]

    @property
    def thin_from(self) -> str:
        return around(self.window.low)

    @property
    def likely(self) -> str:
        return around(self.window.likely)

    @property
    def up_to(self) -> str:
        return around(self.window.high)


@dataclass(frozen=True)
class _Known:
    studio: Studio
    today: date
    plates: dict[int, str]
    layers: dict[int, list[Forecast]]
    keepings: dict[int, Keeping]
    reached: dict[int, Reached]
    booked: dict[int, Booked]
    posted: dict[int, tuple[Posted, ...]]


def due_rows(forecasts: Sequence[int], *, studio: Studio, today: date, now: datetime) -> list[DueRow]:
    """The rows for these forecasts, in their order."""
    firsts = Forecast.objects.select_related("car", "layer__product").in_bulk(list(forecasts))
    cars = [row.car_id for row in firsts.values()]
    known = _Known(
        studio=studio,
        today=today,
        plates=_plates(cars, today),
        layers=_layers(cars),
        keepings={
            row.car_id: row
            for row in Keeping.objects.filter(car__in=cars, since__lte=today).order_by("since")
        },
        reached=dict(reached_by_car(cars, studio=studio, today=today, now=now)),
        booked=_booked(cars, studio, today),
        posted=_posted(cars),
    )
    shown = (firsts[pk] for pk in forecasts if pk in firsts)
    return [
        _row(first, window, first.due_on, known)
        for first in shown
        if (window := window_of(first)) is not None and first.due_on is not None
    ]


def _row(first: Forecast, window: Window, due_on: date, known: _Known) -> DueRow:
    car, layer = first.car, first.layer
    body = Body(car.body)
    of_car = known.layers.get(car.pk, [])
    of_layer = NOTHING
    for row in of_car:
        if row.layer_id == layer.pk:
            of_layer |= row.live
    others = [
        item
        for item in on_it(of_car, today=known.today)
        if item.layer.pk != layer.pk and item.layer.product.product_class not in SHORT_LIVED
    ]
    return DueRow(
        ref=car.ref,
        plate=known.plates.get(car.pk, ""),
        car=car.known_as,
        due_on=due_on,
        product=layer.product.name,
        where=describe(of_layer or first.live, body),
        first=ZONE_NAMES[Zone(first.zone)] if of_layer - first.live else "",
        window=window,
        condition=condition(
            window, today=known.today, cured_on=local_day(known.studio, layer.cured_at), ended=False
        ),
        also=tuple(_also(item) for item in others[:_ALSO]),
        rest=tuple(_also(item) for item in others[_ALSO:]),
        salted=_salted(car, known.keepings.get(car.pk)),
        reach=known.reached[car.pk],
        booked=known.booked.get(car.pk),
        posted=known.posted.get(car.pk, ()),
    )


def _also(item: OnIt) -> str:
    name = item.layer.product.name
    return f"{name} until {around(item.window.likely)}" if item.window else name


def _salted(car: Car, keeping: Keeping | None) -> bool | None:
    if Circumstance.SALTED_ROADS in car.circumstances:
        return True
    return keeping.salted_roads if keeping else None


def _plates(cars: Sequence[int], today: date) -> dict[int, str]:
    return dict(plates_on(today).filter(car__in=cars).values_list("car_id", "mark"))


def _layers(cars: Sequence[int]) -> dict[int, list[Forecast]]:
    rows = Forecast.objects.filter(car__in=cars, live__gt=0).order_by("due_on", "pk")
    found: dict[int, list[Forecast]] = {}
    for row in rows.select_related("layer__product").defer("reasons", "inputs"):
        found.setdefault(row.car_id, []).append(row)
    return found


def _booked(cars: Sequence[int], studio: Studio, today: date) -> dict[int, Booked]:
    """The next visit of each car; one that stands in the bay counts, a booking that has passed does not."""
    here = Q(state__in=(Visit.State.IN_BAY, Visit.State.READY))
    to_come = Q(
        state=Visit.State.BOOKED, planned_in__gte=datetime.combine(today, time.min, tzinfo=studio.zone)
    )
    found: dict[int, Booked] = {}
    for visit in Visit.objects.filter(here | to_come, car__in=cars).order_by("planned_in", "pk"):
        on = local_day(studio, visit.planned_in)
        words = (
            visit.get_state_display() if visit.state != Visit.State.BOOKED else visit.get_purpose_display()
        )
        found.setdefault(visit.car_id, Booked(visit.pk, on, words))
    return found


def _posted(cars: Sequence[int]) -> dict[int, tuple[Posted, ...]]:
    matters = Matter.objects.filter(car__in=cars, message__state__in=WAITS, dropped_because="")
    found: dict[int, dict[int, Posted]] = {}
    for matter in matters.select_related("message").order_by("message__not_before", "message"):
        message = matter.message
        found.setdefault(matter.car_id, {})[message.pk] = Posted(
            message.pk, message.get_kind_display(), message.state, message.get_state_display()
        )
    return {car: tuple(messages.values()) for car, messages in found.items()}
