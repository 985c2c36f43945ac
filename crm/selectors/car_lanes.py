"""The layers that are on a car now, zone by zone: what was promised, what is expected, and what was seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.utils.timezone import get_current_timezone, localdate

from crm.care.advice_sheet import Telling
from crm.care.bodies import Body
from crm.care.distance import in_the_unit
from crm.care.forecast import Window, around, condition, window_words
from crm.care.names import GRADE_WORDS, MOMENT_NAMES
from crm.care.surfaces import ZONES, Surfaces, Zone, by_zone
from crm.care.terms import Condition, Moment, WaterGrade
from crm.care.words import ZONE_NAMES, describe
from crm.models import Forecast, Layer, Visit
from crm.selectors.car_rows import CarRows
from crm.selectors.done import Done
from crm.selectors.on_it import figures_window_of, window_of


@dataclass(frozen=True)
class Seen:
    """A water grade of a layer's surfaces since it was laid, in words."""

    on: date
    words: str
    proof: bool
    """Only a grade after decontamination says something about the layer."""


@dataclass(frozen=True)
class OnZone:
    """A layer in one zone."""

    layer: Layer
    surfaces: Surfaces
    where: str
    """Which surfaces of the zone, where it is not all that the car has."""
    condition: Condition
    window: Window | None
    reasons: tuple[str, ...]
    by_figures: str
    """The window of the figures alone in words, where a grade has moved it."""
    promised: str
    promised_on: date | None
    seen: tuple[Seen, ...]
    clocks: tuple[tuple[str, str], ...]
    """What is still to be waited for, and its end in words."""

    @property
    def expected(self) -> str:
        """The window as one says it."""
        return f"likely until {around(self.window.likely)}" if self.window else "no forecast"

    @property
    def between(self) -> str:
        """The edges of the window."""
        return f"between {around(self.window.low)} and {around(self.window.high)}" if self.window else ""


@dataclass(frozen=True)
class ZoneLane:
    """What is on one zone, the newest layer, which lies on top, first."""

    zone: Zone
    words: str
    rows: tuple[OnZone, ...]
    bare: str
    """Surfaces of the zone that carry nothing while others do."""


def zone_lanes(rows: CarRows, *, now: datetime, today: date, in_miles: bool) -> tuple[ZoneLane, ...]:
    """The zones that carry a layer, in walking order. `in_miles`: the unit in which the studio tells distances."""
    body = Body(rows.car.body)
    reading = _Reading(rows, now, today, in_miles, {visit.pk: visit for visit in rows.visits})
    found: dict[Zone, list[OnZone]] = {}
    for layer in rows.layers:
        for zone, live in by_zone(rows.live(layer)).items():
            found.setdefault(zone, []).append(_on_zone(reading, layer, zone, live))
    return tuple(
        ZoneLane(zone, ZONE_NAMES[zone], tuple(found[zone]), _bare(zone, found[zone], rows, body))
        for zone in Zone
        if zone in found
    )


@dataclass(frozen=True)
class _Reading:
    rows: CarRows
    now: datetime
    today: date
    in_miles: bool
    visits: dict[int, Visit]


def _on_zone(reading: _Reading, layer: Layer, zone: Zone, live: Surfaces) -> OnZone:
    rows = reading.rows
    row = next((row for row in rows.forecasts[layer.pk] if row.zone == zone.value), None)
    window = window_of(row) if row else None
    stands = condition(window, today=reading.today, cured_on=localdate(layer.cured_at), ended=False)
    visit = reading.visits.get(layer.visit_id or 0)
    return OnZone(
        layer=layer,
        surfaces=live,
        where=_where(live, zone, rows),
        condition=stands,
        window=window,
        reasons=_reasons(row, reading) if row else (),
        by_figures=window_words(alone) if row and (alone := figures_window_of(row)) else "",
        promised=visit.promise if visit else "",
        promised_on=localdate(visit.handed_over_at) if visit and visit.handed_over_at else None,
        seen=_seen(rows.done, live, since=layer.laid_at),
        clocks=_clocks(layer, reading.now) if stands is Condition.SETTING else (),
    )


def _reasons(row: Forecast, reading: _Reading) -> tuple[str, ...]:
    return tuple(in_the_unit(reason["words"], in_miles=reading.in_miles) for reason in row.reasons)


def _where(surfaces: Surfaces, zone: Zone, rows: CarRows) -> str:
    whole = ZONES[zone] & rows.car.surfaces
    return "" if surfaces == whole else describe(surfaces, Body(rows.car.body))


def _bare(zone: Zone, on_zone: Sequence[OnZone], rows: CarRows, body: Body) -> str:
    bare = ZONES[zone] & rows.car.surfaces
    for item in on_zone:
        bare -= item.surfaces
    return describe(bare, body) if bare else ""


def _seen(done: Sequence[Done], surfaces: Surfaces, *, since: datetime) -> tuple[Seen, ...]:
    """The newest proof and, where it is newer, the newest grade that is none."""
    grades = [row for row in done if row.what == "grade" and row.at > since and row.surfaces & surfaces]
    proofs = [row for row in grades if row.code == Moment.AFTER_DECON.value]
    dirty = [row for row in grades if row.code != Moment.AFTER_DECON.value]
    chosen = proofs[-1:]
    if dirty and (not chosen or dirty[-1].at > chosen[0].at):
        chosen = [*chosen, dirty[-1]]
    return tuple(seen_in_words(row) for row in chosen)


def seen_in_words(row: Done) -> Seen:
    """A water grade in words."""
    grade = WaterGrade(row.grade or 0)
    proof = row.code == Moment.AFTER_DECON.value
    words = f"grade {grade.value} {MOMENT_NAMES[Moment(row.code)]}: {GRADE_WORDS[grade]}"
    return Seen(localdate(row.at), words if proof else f"{words}; not proof", proof)


def _clocks(layer: Layer, now: datetime) -> tuple[tuple[str, str], ...]:
    telling = Telling(now, get_current_timezone())
    waits = (
        ("no driving before", layer.drive_from),
        ("keep dry until", layer.dry_until),
        ("no wash before", layer.wash_from),
        ("no topper before", layer.topper_from),
        ("not fully set before", layer.cured_at),
    )
    return tuple(
        (words, telling.until(moment)) for words, moment in waits if moment is not None and moment > now
    )
