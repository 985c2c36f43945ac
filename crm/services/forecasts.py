"""Writing down what is expected of every layer, whenever a fact it rests on has changed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from typing import NamedTuple

from django.db import transaction
from django.utils import timezone

from crm.care.coats import Case
from crm.care.fleet import outlooks
from crm.care.forecast import Outlook, Window, inputs_key
from crm.care.layer_stories import looks_at
from crm.care.surfaces import NOTHING, Surfaces, Zone, by_zone
from crm.models import Car, Forecast, Layer, Studio
from crm.selectors.coats import CarFacts, coat_of, facts_of_cars, layers_of_cars, live_surfaces, lumps_on
from crm.selectors.graded import told_of_layers
from crm.selectors.studio import seasons_of, tables_of, the_studio


class _Wanted(NamedTuple):
    """A layer on a zone, what its forecast rests on, and the digest of that."""

    layer: Layer
    zone: Zone
    live: Surfaces
    case: Case
    inputs: str


def reforecast_car(car: Car, *, studio: Studio | None = None, now: datetime | None = None) -> int:
    """Make the forecasts of one car agree with its facts. Returns how many were written anew.

    A forecast whose inputs are as they were is left alone, so calling this twice changes nothing.
    """
    return reforecast_cars([car], studio=studio, now=now)


@transaction.atomic
def reforecast_cars(cars: Sequence[Car], *, studio: Studio | None = None, now: datetime | None = None) -> int:
    """The same for several cars, with as many queries as for one."""
    studio = studio or the_studio()
    layers = layers_of_cars(cars)
    wanted = {
        (each.layer.pk, each.zone.value): each for each in _wanted(layers, facts_of_cars(layers), studio)
    }
    stored = {(row.layer_id, row.zone): row for row in Forecast.objects.filter(car__in=list(layers))}
    moved = [
        each
        for key, each in wanted.items()
        if (old := stored.get(key)) is None or (old.inputs, old.live) != (each.inputs, each.live)
    ]
    _write(moved, studio, now or timezone.now())
    gone = [row.pk for key, row in stored.items() if key not in wanted]
    Forecast.objects.filter(pk__in=gone).delete()
    return len(moved)


def _wanted(
    layers: Mapping[int, Sequence[Layer]], facts: Mapping[int, CarFacts], studio: Studio
) -> Iterator[_Wanted]:
    seasons, version = seasons_of(studio), tables_of(studio).version
    told = told_of_layers(layers, studio.zone)
    for car, laid in layers.items():
        of = facts[car]
        for layer in laid:
            left = live_surfaces(layer)
            for zone, covered in by_zone(layer.surfaces).items():
                live = covered & left
                case = Case(
                    coat_of(layer, zone, of, studio),
                    of.habits,
                    lumps_on(layer, live or layer.surfaces, of, studio),
                    looks_at(told[car][layer.pk], live or covered),
                )
                yield _Wanted(layer, zone, live, case, inputs_key(case, seasons, version))


def _write(moved: Sequence[_Wanted], studio: Studio, now: datetime) -> None:
    expected = outlooks((each.case for each in moved), seasons=seasons_of(studio), tables=tables_of(studio))
    # One statement for those that are new and those that are there: updating them row by row takes thrice as long.
    Forecast.objects.bulk_create(
        [_row(each, outlook, now) for each, outlook in zip(moved, expected, strict=True)],
        update_conflicts=True,
        unique_fields=["layer", "zone"],
        update_fields=["live", "due_on", "reasons", "inputs", "made_at", *_WINDOW, *_BY_FIGURES],
    )


_WINDOW = ("low", "likely", "high")
_BY_FIGURES = ("figures_low", "figures_likely", "figures_high")


def _row(wanted: _Wanted, expected: Outlook, now: datetime) -> Forecast:
    """The forecast of a layer on one zone, not yet stored. A zone without a live surface is never due."""
    window, live = expected.window, wanted.live
    return Forecast(
        layer=wanted.layer,
        car_id=wanted.layer.car_id,
        zone=wanted.zone.value,
        live=live,
        **_dates(_WINDOW, window),
        **_dates(_BY_FIGURES, expected.by_figures),
        due_on=window.low if window and live != NOTHING else None,
        reasons=[{"code": reason.code, "words": reason.words} for reason in expected.reasons],
        inputs=wanted.inputs,
        made_at=now,
    )


def _dates(columns: Sequence[str], window: Window | None) -> dict[str, date | None]:
    if window is None:
        return dict.fromkeys(columns)
    return dict(zip(columns, (window.low, window.likely, window.high), strict=True))
