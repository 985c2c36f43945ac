"""What lies on the places of cars that salt harms, from the stored forecasts, as the winter plan wants it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, tzinfo
from typing import NamedTuple

from crm.care.forecast import Window
from crm.care.surfaces import NOTHING, Surfaces, Zone, by_zone
from crm.care.terms import ProductClass
from crm.care.winter_curves import Floats, Span, worn_by
from crm.care.winter_worth import Cover, Lying
from crm.models import Car, Forecast


class Row(NamedTuple):
    """A stored forecast of a layer on a zone."""

    live: Surfaces
    laid: Surfaces
    lying: Lying


def rows_of(cars: Iterable[int], span: Span, zone: tzinfo) -> dict[int, dict[Zone, list[Row]]]:
    """The forecasts of cars by car and zone, the newest layer first, in one query."""
    found: dict[int, dict[Zone, list[Row]]] = defaultdict(lambda: defaultdict(list))
    stored = Forecast.objects.filter(car__in=list(cars)).order_by("-layer__laid_at", "pk")
    columns = (
        "car", "zone", "live", "low", "likely", "high",
        "layer__surfaces", "layer__laid_at", "layer__product__product_class",
    )  # fmt: skip
    curves: dict[tuple[Window, date], Floats] = {}
    for car, place, live, low, likely, high, laid, laid_at, product_class in stored.values_list(*columns):
        laid_on, worn = laid_at.astimezone(zone).date(), None
        if low is not None:
            window = Window(low, likely, high)
            # One layer has the same window on many a zone.
            worn = curves.get((window, laid_on))
            if worn is None:
                worn = curves[window, laid_on] = worn_by(window, laid_on, span)
        lying = Lying(ProductClass(product_class), laid_on, worn, likely)
        found[car][Zone(place)].append(Row(live, laid, lying))
    return found


def cover_of(car: Car, rows: Mapping[Zone, list[Row]], places: Iterable[Zone]) -> tuple[Cover, ...]:
    """What lies on each of these places of a car; a place under several sets of layers comes in parts."""
    has = by_zone(car.surfaces)
    return tuple(
        cover for zone in places if zone in has for cover in _covers(zone, has[zone], rows.get(zone, []))
    )


def _covers(zone: Zone, surfaces: Surfaces, rows: list[Row]) -> Iterator[Cover]:
    parts: dict[tuple[int, ...], Surfaces] = {}
    for surface in surfaces:
        over = tuple(place for place, row in enumerate(rows) if surface in row.live)
        parts[over] = parts.get(over, NOTHING) | Surfaces.of([surface])
    for over, part in parts.items():
        yield Cover(
            zone,
            tuple(rows[place].lying for place in over),
            share=len(part) / len(surfaces),
            had_one=any(row.laid & part for row in rows),
        )
