"""The many cars of an ordinary studio: daily cars with a winter coat, coated cars, washes by plan, one-offs."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

from crm.care.terms import Circumstance, Parking, Wash, WashPlan
from crm.models import Visit
from crm.services.demo import jobs, stock
from crm.services.demo.cast import Cast
from crm.services.demo.days import Days
from crm.services.demo.jobs import Work
from crm.services.demo.story import Owner, Stay, Story, daily
from crm.services.registry import HowKept, NewCar

Purpose = Visit.Purpose
RECENT = timedelta(days=5)
"""The crowd keeps clear of the last days, which have stories of their own."""
_BODY_GRADES = ("bonnet", "upper_sides")
_LOOKS = ((28, 70, 0.5), (75, 130, 0.4))
"""How many days after a winter coat somebody may look at it, and how often that is."""


def stories(days: Days, chance: random.Random) -> list[Story]:
    """Every car of the crowd."""
    cast = Cast(chance, newest_year=days.today.year - 1)
    plan = ((_winter_car, 16), (_coated_car, 11), (_one_off, 13), (_planned_car, 6), (_waxed_car, 6))
    return [make(cast, days, chance) for make, count in plan for _ in range(count)]


Make = Callable[[Cast, Days, random.Random], Story]


def _winter_car(cast: Cast, days: Days, chance: random.Random) -> Story:
    """A daily car that comes each autumn for its winter coat, some winters to have it looked at, and some springs."""
    since = days.today - timedelta(days=chance.randrange(420, 1400))
    stays = [
        Stay(on=days.free(day), purpose=Purpose.WINTER, work=_graded(_winter_work(chance), chance), hours=6)
        for day in _each(days, 10, chance, since)
    ]
    stays += [
        Stay(on=days.free(day), purpose=Purpose.SPRING, work=_graded(jobs.spring(), chance), hours=4.5)
        for day in _each(days, 4, chance, since)
        if chance.random() < 0.45
    ]
    stays += [
        Stay(on=days.free(day), purpose=Purpose.WASH, work=_graded(jobs.winter_look(), chance), hours=2.5)
        for coat in stays
        for soonest, latest, share in _LOOKS
        if (day := coat.on + timedelta(days=chance.randrange(soonest, latest))) <= days.today - RECENT
        and coat.purpose == Purpose.WINTER
        and chance.random() < share
    ]
    return _story(cast, chance, stays or [_first(days, since)])


def _winter_work(chance: random.Random) -> Work:
    product = stock.SEALANT if chance.random() < 0.7 else stock.WINTER_WAX
    return jobs.winter_coat(product, coats=chance.choice((1, 1, 2)))


def _coated_car(cast: Cast, days: Days, chance: random.Random) -> Story:
    """A car that was coated once and comes back for toppers before winter and a look in spring."""
    on = days.free(days.today - timedelta(days=chance.randrange(150, 1300)))
    product = chance.choice((stock.COATING, stock.COATING, stock.LIGHT_COATING))
    stays = [
        Stay(
            on=on,
            purpose=Purpose.COATING,
            work=jobs.coating(product, coats=2 if product == stock.COATING else 1),
            nights=2,
            hours=24,
            scope="one-step correction, coating on paint, wheel faces and screen",
        )
    ]
    since = on + timedelta(days=90)
    stays += [
        Stay(
            on=days.free(day),
            purpose=Purpose.WINTER,
            work=_graded(jobs.top_up(), chance),
            hours=3.5,
        )
        for day in _each(days, 10, chance, since)
    ]
    if chance.random() < 0.4:
        stays += [
            Stay(on=days.free(day), purpose=Purpose.INSPECTION, work=jobs.wash(), hours=1.5)
            for day in _each(days, 5, chance, since)
        ]
    return _story(cast, chance, stays)


def _one_off(cast: Cast, days: Days, chance: random.Random) -> Story:
    """A car that was here once, for whatever it was."""
    on = days.free(days.today - timedelta(days=chance.randrange(60, 1440)))
    work, purpose = chance.choice(
        (
            (jobs.hand_wax(), Purpose.DETAIL),
            (jobs.winter_coat(), Purpose.WINTER),
            (jobs.cabin(leather=False), Purpose.DETAIL),
            (jobs.both(jobs.wash(), jobs.cabin(leather=True)), Purpose.DETAIL),
            (jobs.coating(stock.LIGHT_COATING, coats=1), Purpose.COATING),
        )
    )
    nights = 1 if purpose == Purpose.COATING else 0
    return _story(cast, chance, [Stay(on=on, purpose=purpose, work=work, nights=nights)])


def _planned_car(cast: Cast, days: Days, chance: random.Random) -> Story:
    """A car on a wash plan: sealed once a year, washed every three months or so."""
    months = chance.randrange(9, 16)
    first = days.free(days.today - timedelta(days=months * 30))
    stays = [Stay(on=first, purpose=Purpose.DETAIL, work=jobs.winter_coat(coats=2), hours=6.5)]
    late = chance.randrange(70, 105)
    day = first + timedelta(days=92)
    while day < days.today - timedelta(days=late):
        work = _graded(jobs.wash(topper=chance.random() < 0.5), chance)
        stays.append(Stay(on=days.free(day), purpose=Purpose.WASH, work=work, hours=2))
        day += timedelta(days=92)
    plan = chance.choice((WashPlan.SEALED_DAILY, WashPlan.SEALED_DAILY, WashPlan.NO_TIME))
    return _story(cast, chance, stays, plan=plan, anchor=first)


def _waxed_car(cast: Cast, days: Days, chance: random.Random) -> Story:
    """A garaged car that is waxed by hand in the good season."""
    since = days.today - timedelta(days=chance.randrange(500, 1300))
    stays = [
        Stay(on=days.free(day), purpose=Purpose.DETAIL, work=jobs.hand_wax(), hours=4)
        for day in _each(days, 6, chance, since)
    ]
    kept = HowKept(
        since=since,
        parking=Parking.GARAGE,
        km_a_year=4_000,
        salted_roads=False,
        wash_summer=Wash.HAND_NEUTRAL,
        wash_winter=Wash.HARDLY_EVER,
    )
    return _story(cast, chance, stays or [_first(days, since)], kept=kept)


def _each(days: Days, month: int, chance: random.Random, since: date) -> list[date]:
    """A day within four weeks after the fifth of that month, in every year of the story."""
    found = days.seasons(month, 5, since=since, until=days.today - RECENT)
    shifted = (day + timedelta(days=chance.randrange(0, 29)) for day in found)
    return [day for day in shifted if day <= days.today - RECENT]


def _first(days: Days, since: date) -> Stay:
    return Stay(on=days.free(since), purpose=Purpose.DETAIL, work=jobs.winter_coat())


def _graded(work: Work, chance: random.Random) -> Work:
    """Mostly somebody looks at the water on two spots."""
    return work if chance.random() < 0.3 else replace(work, looked=_BODY_GRADES)


def _story(
    cast: Cast,
    chance: random.Random,
    stays: list[Stay],
    *,
    kept: HowKept | None = None,
    plan: WashPlan = WashPlan.NONE,
    anchor: date | None = None,
) -> Story:
    since = min(stay.on for stay in stays)
    car = cast.car()
    circumstances = chance.sample(
        (Circumstance.CHILDREN, Circumstance.DOGS, Circumstance.NO_TAP_WINTER, Circumstance.HARD_WATER),
        chance.choice((0, 0, 1, 2)),
    )
    return Story(
        car=NewCar(
            mark=car.mark,
            make=car.make,
            model=car.model,
            year=min(car.year or since.year, since.year),
            colour=car.colour,
            body=car.body,
            paint=car.paint,
            circumstances=[flag.value for flag in circumstances],
            wash_plan=plan,
            plan_anchor=anchor,
        ),
        owner=_owner(cast, chance),
        since=since,
        kept=(kept or _kept(chance, since),),
        stays=tuple(stays),
        km=chance.randrange(4_000, 90_000),
    )


def _owner(cast: Cast, chance: random.Random) -> Owner:
    return cast.owner(
        letters=chance.choices((True, False, None), (14, 2, 3))[0],
        email=chance.random() < 0.92,
        phone=chance.random() < 0.9,
    )


def _kept(chance: random.Random, since: date) -> HowKept:
    """How it is kept; with some cars nobody has said."""
    km = chance.choice((6_000, 9_000, 12_000, 16_000, 22_000, 31_000))
    parking = chance.choice((Parking.OUTDOORS, Parking.OUTDOORS, Parking.GARAGE, Parking.NEAR_SEA, None))
    kept = daily(since, km if chance.random() < 0.85 else None, parking=parking)
    return replace(kept, wash_winter=chance.choice((Wash.TOUCH_FREE, Wash.HAND_NEUTRAL, Wash.LANCE_OWN_MITT)))
