"""Writing one stay down as the crew would: booked, taken in, graded, worked on, handed over."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal

from crm.care.terms import EndReason, Moment, Process
from crm.models import Car, Visit
from crm.selectors.coats import layers_of, live_surfaces
from crm.selectors.visit_page import SPOTS
from crm.services import bench, visits
from crm.services.demo.diary import Diary, send
from crm.services.demo.gauging import look_at, measure
from crm.services.demo.jobs import Coat, Work
from crm.services.demo.story import Scene, Stay
from crm.services.forecasts import reforecast_car
from crm.services.hand_over import hand_over
from crm.services.polishing import Polishing

State = Visit.State
_MINUTES_A_STEP, _MINUTES_A_LOOK = 25, 15
_CLEANING = {
    Process.WHEELS_CLEANED,
    Process.PRE_WASH_MILD,
    Process.PRE_WASH_STRONG,
    Process.CONTACT_WASH,
    Process.STRIP_WASH,
    Process.IRON_REMOVER,
    Process.TAR_REMOVER,
    Process.MINERAL_REMOVER,
}


@dataclass(frozen=True)
class _Times:
    """When things happen in a stay."""

    arrived: datetime
    before: datetime
    steps: datetime
    laying: datetime
    ready: datetime
    out: datetime


def times_of(stay: Stay, scene: Scene) -> _Times:
    """The usual day: keys at 08:40, layers at 14:30, out in the afternoon or after the nights that it takes."""
    at = scene.days.at
    later = (1 if stay.nights >= 2 else 0) if stay.laid_after is None else stay.laid_after
    out_on = stay.on + timedelta(days=stay.nights)
    return _Times(
        arrived=at(stay.on, *stay.arrives),
        before=at(stay.on, 9, 5),
        steps=at(stay.on, 9, 20),
        laying=at(stay.on + timedelta(days=later), *stay.lays),
        ready=at(out_on, 16, 10),
        out=at(out_on, 16, 40),
    )


def write_stay(stay: Stay, car: Car, scene: Scene, diary: Diary, conditions: random.Random) -> None:
    """Let the stay happen, as far as it has come by now."""
    times = times_of(stay, scene)
    visit = visits.book(
        car=car,
        branch=scene.crew.branch,
        purpose=stay.purpose,
        at=times.arrived,
        out=times.out,
        by=scene.crew.desk,
    )
    _agree(visit, stay, scene)
    if stay.state == State.BOOKED:
        return
    _arrive(visit, stay, times, scene)
    looked = _looked_at(visit, stay.work, times.before, scene, conditions)
    _record(visit, replace(stay, work=looked), times, scene, conditions)
    if stay.state == State.IN_BAY:
        return
    visits.make_ready(visit=visit, at=min(times.ready, scene.days.now), by=scene.crew.lead)
    if times.out >= diary.post_since:
        reforecast_car(car, studio=scene.crew.studio, now=min(times.ready, scene.days.now))
    for text, where in stay.left:
        visits.leave_for_next_time(
            visit=visit, text=text, surfaces=where & car.surfaces, at=times.ready, by=scene.crew.lead
        )
    if stay.state == State.HANDED_OVER:
        _give_back(visit, stay, times, scene, diary)


def _agree(visit: Visit, stay: Stay, scene: Scene) -> None:
    if not (stay.scope or stay.promise or stay.hours):
        return
    agreed = visits.Agreed(
        scope=stay.scope,
        left_out=stay.left_out,
        promise=stay.promise,
        promise_months=stay.promise_months,
        hours=None if stay.hours is None else Decimal(str(stay.hours)),
        bay_min_c=Decimal(12) if stay.nights else None,
    )
    visits.agree(visit=visit, agreed=agreed, by=scene.crew.desk)


def _arrive(visit: Visit, stay: Stay, times: _Times, scene: Scene) -> None:
    arrival = visits.Arrival(
        at=times.arrived,
        odometer_km=stay.odometer_km,
        note=stay.arrival,
        acknowledged=bool(stay.arrival),
    )
    visits.arrive(visit=visit, arrival=arrival, by=scene.crew.desk)


def _record(visit: Visit, stay: Stay, times: _Times, scene: Scene, conditions: random.Random) -> None:
    """Everything at the car, in the order of the day, as far as it has come by now."""
    work, later = stay.work, timedelta(hours=30) if stay.typed_late else timedelta(0)
    first = next(
        (place for place, done in enumerate(work.done) if done.process not in _CLEANING), len(work.done)
    )
    cleaned = times.steps + timedelta(minutes=first * _MINUTES_A_STEP)
    _grade(visit, work.before, Moment.BEFORE_DECON, times.before, scene)
    for place, done in enumerate(work.done):
        if place == first:
            _look_again(visit, stay, cleaned, scene)
        at = times.steps + timedelta(minutes=place * _MINUTES_A_STEP + (place >= first) * _MINUTES_A_LOOK)
        if at > scene.days.now:
            return
        bench.record_step(
            visit=visit,
            process=done.process,
            surfaces=done.on,
            at=at,
            note=done.note,
            polishing=Polishing(weight=done.weight, over_warnings=done.reason),
            by=scene.crew.lead if done.reason else scene.crew.bench,
            now=at + later,
            follow=False,
        )
    if first == len(work.done):
        _look_again(visit, stay, cleaned, scene)
    _look_after(visit, stay, times, scene)
    for place, coat in enumerate(work.coats):
        at = times.laying + timedelta(minutes=place * _MINUTES_A_STEP)
        if at > scene.days.now:
            return
        layer = _new_layer(coat, at, scene, conditions, nights=stay.nights)
        bench.record_layer(visit=visit, layer=layer, by=scene.crew.lead, now=at + later, follow=False)


def _look_again(visit: Visit, stay: Stay, at: datetime, scene: Scene) -> None:
    """Clean and decontaminated, before clay or polish: the only honest look at what is left of a layer."""
    _grade(visit, stay.work.after, Moment.AFTER_DECON, at, scene)
    if at <= scene.days.now:
        _end_worn(visit, stay, at, scene)
    gauged_at = at + timedelta(minutes=5)
    if gauged_at <= scene.days.now:
        measure(visit, stay.work.gauged, at=gauged_at, now=gauged_at, by=scene.crew.bench)


def _looked_at(visit: Visit, work: Work, at: datetime, scene: Scene, conditions: random.Random) -> Work:
    """The work with the grades of the spots that somebody looks at; decontamination often makes them better."""
    nature, studio = scene.nature, scene.crew.studio
    spots = {spot: SPOTS[spot][1] & visit.car.surfaces for spot in work.looked}
    after = {spot: nature.water(visit.car, on, at=at, studio=studio) for spot, on in spots.items() if on}
    before = {spot: max(grade - conditions.choice((0, 1, 1, 2)), 0) for spot, grade in after.items()}
    return work.graded(before, after) if after else work


def _look_after(visit: Visit, stay: Stay, times: _Times, scene: Scene) -> None:
    """Polished and wiped: the same spots again, and what went of the marks."""
    at = times.steps + timedelta(minutes=len(stay.work.done) * _MINUTES_A_STEP + _MINUTES_A_LOOK)
    if at <= scene.days.now:
        measure(visit, stay.work.gauged_after, at=at, now=at, by=scene.crew.bench)
        look_at(visit, stay.work.corrected, at=at, now=at, by=scene.crew.lead)


def _grade(visit: Visit, grades: Mapping[str, int], moment: Moment, at: datetime, scene: Scene) -> None:
    if at > scene.days.now:
        return
    for spot, grade in grades.items():
        on = SPOTS[spot][1] & visit.car.surfaces
        bench.record_grade(
            visit=visit,
            surfaces=on,
            grade=grade,
            moment=moment,
            at=at,
            by=scene.crew.bench,
            now=at,
            follow=False,
        )


def _end_worn(visit: Visit, stay: Stay, at: datetime, scene: Scene) -> None:
    for name, where in stay.work.worn:
        for layer in layers_of(visit.car):
            gone = live_surfaces(layer) & where
            if layer.product.name == name and gone:
                bench.end_layer(
                    layer=layer,
                    surfaces=gone,
                    at=at,
                    why=EndReason.WORN,
                    note="finished: water clings after decontamination",
                    by=scene.crew.lead,
                    now=at,
                )


def _new_layer(
    coat: Coat, at: datetime, scene: Scene, conditions: random.Random, *, nights: int
) -> bench.NewLayer:
    """The layer with its conditions: a heated bay, so mild and never very damp (common practice, no source)."""
    air = Decimal(conditions.randrange(155, 205)) / 10
    humidity = Decimal(conditions.randrange(45, 64))
    coldest = Decimal(conditions.randrange(115, 145)) / 10
    read = coat.air
    return bench.NewLayer(
        product=scene.shelf[coat.product],
        surfaces=coat.on,
        at=at,
        coats=coat.coats,
        coat_gap_minutes=coat.gap,
        batch=f"{coat.product[0]}{at:%y}{(at.month + 2) // 3}",
        prep=coat.prep,
        panel_wiped=coat.wiped,
        air_c=Decimal(read.air_c) if read else air,
        surface_c=Decimal(read.surface_c) if read else air - Decimal("1.5"),
        humidity=Decimal(read.humidity) if read else humidity,
        bay_min_c=Decimal(read.bay_min_c) if read else coldest if nights else None,
        flash_seconds=coat.flash,
        lamp=coat.lamp,
        note=coat.note,
        over_warnings=coat.reason,
    )


def _give_back(visit: Visit, stay: Stay, times: _Times, scene: Scene, diary: Diary) -> None:
    """Before the studio wrote to owners a visit was simply closed; since then it has a sheet and post."""
    if times.out < diary.post_since:
        visits.close_old_visit(visit=visit, at=times.out, by=scene.crew.desk)
        return
    hand_over(visit=visit, by=scene.crew.desk, at=times.out, now=times.out, reason=stay.promise_reason)
    send(times.out + timedelta(minutes=1), scene.crew)


def with_odometers(stays: tuple[Stay, ...], *, km: int | None, km_a_year: int) -> tuple[Stay, ...]:
    """The stays in order of time, each with what the clock showed."""
    ordered = sorted(stays, key=lambda stay: stay.on)
    if km is None or not ordered:
        return tuple(ordered)
    first = ordered[0].on
    return tuple(
        stay
        if stay.odometer_km is not None
        else replace(stay, odometer_km=km + (stay.on - first).days * km_a_year // 365)
        for stay in ordered
    )
