"""What is on a car today, layer by layer, and in one line."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.timezone import localdate

from crm.care.bodies import Body
from crm.care.forecast import Window, condition
from crm.care.names import CONDITION_NAMES
from crm.care.surfaces import NOTHING, PANELS, Surfaces
from crm.care.terms import Condition
from crm.care.words import describe
from crm.models import Car, Forecast, Layer

NOTHING_KNOWN = "nothing on record"
_WORST_LAST = (Condition.HOLDING, Condition.SETTING, Condition.THINNING, Condition.DUE_A_LOOK)
_IN_A_LINE = 2


@dataclass(frozen=True)
class OnIt:
    """A live layer of a car: where it still is and how it stands at its worst."""

    layer: Layer
    live: Surfaces
    condition: Condition
    window: Window | None
    """The window of the zone that stands worst, and of those the earliest."""


def window_of(row: Forecast) -> Window | None:
    """The three dates of a stored forecast."""
    if row.low is None or row.likely is None or row.high is None:
        return None
    return Window(row.low, row.likely, row.high)


def figures_window_of(row: Forecast) -> Window | None:
    """The window of the figures alone, where a grade has moved the forecast away from it."""
    if row.figures_low is None or row.figures_likely is None or row.figures_high is None:
        return None
    return Window(row.figures_low, row.figures_likely, row.figures_high)


def worst(conditions: Iterable[Condition]) -> Condition:
    """The condition that a whole layer is said to be in."""
    return max(conditions, key=_WORST_LAST.index)


def on_it(rows: Iterable[Forecast], *, today: date) -> list[OnIt]:
    """The live layers behind stored forecasts, the one with the most painted panels first, then the newest.

    Each row needs its layer and product at hand; the day that a layer set is read in the active time zone.
    """
    by_layer: dict[int, list[Forecast]] = {}
    for row in rows:
        if row.live:
            by_layer.setdefault(row.layer_id, []).append(row)
    found = [_standing(zones, today) for zones in by_layer.values()]
    return sorted(
        found, key=lambda item: (-len(item.live & PANELS), -item.layer.laid_at.timestamp(), item.layer.pk)
    )


def _standing(zones: Sequence[Forecast], today: date) -> OnIt:
    layer = zones[0].layer
    live = NOTHING
    for row in zones:
        live |= row.live
    cured_on = localdate(layer.cured_at)
    stands = [
        (condition(window := window_of(row), today=today, cured_on=cured_on, ended=False), window)
        for row in zones
    ]
    whole = worst(stand for stand, _ in stands)
    windows = [window for stand, window in stands if stand is whole and window is not None]
    return OnIt(layer, live, whole, min(windows, key=lambda window: window.likely, default=None))


def on_it_lines(cars: Sequence[Car], *, today: date) -> dict[int, str]:
    """One line for each car, by its number, in one query."""
    rows = (
        Forecast.objects.filter(car__in=[car.pk for car in cars], live__gt=0)
        .select_related("layer__product")
        .only(
            "car",
            "live",
            "low",
            "likely",
            "high",
            "layer__laid_at",
            "layer__cured_at",
            "layer__product__name",
        )
    )
    by_car: dict[int, list[Forecast]] = {car.pk: [] for car in cars}
    for row in rows:
        by_car[row.car_id].append(row)
    return {car.pk: in_a_line(on_it(by_car[car.pk], today=today), Body(car.body)) for car in cars}


def in_a_line(layers: Sequence[OnIt], body: Body) -> str:
    """The two most telling layers in words: "Gannet paint sealant on all painted panels, holding; and 2 more"."""
    if not layers:
        return NOTHING_KNOWN
    said = [
        f"{item.layer.product.name} on {describe(item.live, body)}, {CONDITION_NAMES[item.condition]}"
        for item in layers[:_IN_A_LINE]
    ]
    if len(layers) > _IN_A_LINE:
        said.append(f"and {len(layers) - _IN_A_LINE} more")
    return "; ".join(said)
