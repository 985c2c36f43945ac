"""The facts of a car's coat chart."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from enum import StrEnum

from django.utils.timezone import localdate

from crm.care.bodies import Body
from crm.care.chart import Band, Chart, GradeDot, VisitPost, coat_chart, two_years, whole_record
from crm.care.months import add_months
from crm.care.names import END_WORDS
from crm.care.seasons import Season
from crm.care.surfaces import ZONES, Surfaces, Zone, by_zone
from crm.care.terms import EndReason, Moment
from crm.care.words import describe
from crm.models import Forecast, Layer, Visit
from crm.selectors.car_rows import CarRows
from crm.selectors.on_it import figures_window_of, window_of


class Shown(StrEnum):
    """How much of the time the chart shows."""

    TWO = "two"
    ALL = "all"


def chart_of(rows: CarRows, *, today: date, salt: Season, shown: Shown) -> Chart:
    """The coat chart of a car: only what stands in the stretch of time that it shows."""
    near = two_years(today)
    since = near.first if shown is Shown.TWO else date.min
    bands, posts, dots = list(_bands(rows, since)), list(_posts(rows, since)), list(_dots(rows, since))
    span = near if shown is Shown.TWO else whole_record(bands, posts, dots, today=today)
    return coat_chart(bands=bands, posts=posts, dots=dots, today=today, span=span, salt=salt)


def _bands(rows: CarRows, since: date) -> Iterator[Band]:
    """A band for what is left of a layer in a zone, and one for each ending there from a day on."""
    for layer in rows.layers:
        forecasts = {row.zone: row for row in rows.forecasts[layer.pk]}
        for zone, live in by_zone(rows.live(layer)).items():
            yield _band(rows, layer, zone, live, forecasts)
        for ending in rows.standing[layer.pk]:
            ended_on = max(localdate(ending.at), localdate(layer.laid_at))
            if ended_on < since:
                continue
            why = END_WORDS[EndReason(ending.why)]
            for zone, gone in by_zone(ending.surfaces & layer.surfaces).items():
                yield _band(rows, layer, zone, gone, forecasts, (ended_on, why))


def _band(
    rows: CarRows,
    layer: Layer,
    zone: Zone,
    surfaces: Surfaces,
    forecasts: dict[str, Forecast],
    ended: tuple[date, str] | None = None,
) -> Band:
    laid_on = localdate(layer.laid_at)
    row = forecasts.get(zone.value)
    whole = ZONES[zone] & rows.car.surfaces
    return Band(
        zone=zone,
        name=layer.product.name,
        where="" if surfaces == whole else describe(surfaces, Body(rows.car.body)),
        laid_on=laid_on,
        set_on=max(localdate(layer.cured_at), laid_on),
        window=window_of(row) if row else None,
        ended_on=ended[0] if ended else None,
        ended_why=ended[1] if ended else "",
        by_figures=figures_window_of(row) if row and not ended else None,
        promised_until=_promised_until(rows, layer) if not ended else None,
    )


def _promised_until(rows: CarRows, layer: Layer) -> date | None:
    """The end of what was promised for a visit's layers: so many months from the day it was handed over."""
    visit = next((visit for visit in rows.visits if visit.pk == layer.visit_id), None)
    if visit is None or visit.promise_months is None or visit.handed_over_at is None:
        return None
    return add_months(localdate(visit.handed_over_at), visit.promise_months)


def _posts(rows: CarRows, since: date) -> Iterator[VisitPost]:
    for visit in rows.visits:
        if visit.arrived_at is None or visit.state == Visit.State.CANCELLED:
            continue
        if (came_on := localdate(visit.arrived_at)) >= since:
            yield VisitPost(came_on, visit.get_purpose_display())


def _dots(rows: CarRows, since: date) -> Iterator[GradeDot]:
    for row in rows.done:
        if row.what == "grade" and row.grade is not None and localdate(row.at) >= since:
            for zone in by_zone(row.surfaces):
                yield GradeDot(zone, localdate(row.at), row.grade, row.code == Moment.AFTER_DECON.value)
