"""How fast a layer wears: the rate of each of the three clocks, and what laying and single events are worth.

    rate = zone x parking x distance x wash x season x plan, held between two limits

The pessimistic, the likely and the kind clock differ only where an answer is unknown. The figures and the
idea are common practice without a source; their sizes are estimates that a studio changes.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any, NamedTuple, TypeAlias

from crm.care.coats import Habit
from crm.care.factors import Influence, WearFactors
from crm.care.figures import Triple
from crm.care.life import place_of
from crm.care.surfaces import Zone
from crm.care.tables import Tables
from crm.care.terms import Air, Parking, Prep, Process, ProductClass, Wash

HOT, SALT = 1, 2
"""Bits of the state of the year; 0 is neither, 3 is both (a studio may set seasons that overlap)."""
STATES = (0, HOT, SALT, HOT | SALT)

Rates: TypeAlias = tuple[float, float, float, float]
"""Reference days of wear a day, by state of the year."""

_SAME: Triple = (1.0, 1.0, 1.0)
_NONE: Triple = (0.0, 0.0, 0.0)
_HABIT_OF = {Process.TUNNEL_WASH: Wash.TUNNEL, Process.TOUCH_FREE_WASH: Wash.TOUCH_FREE}


class Use(NamedTuple):
    """What of a habit decides the rate. `band` is the distance band, counted from 0."""

    parking: Parking | None
    band: int | None
    salted: bool | None
    summer: Wash | None
    winter: Wash | None
    on_plan: bool
    stored: bool


UNKNOWN_USE = Use(None, None, None, None, None, on_plan=False, stored=False)


def use_of(habit: Habit, tables: Tables) -> Use:
    """The facts of a habit that decide the rate."""
    if habit.stored:
        return Use(None, None, None, None, None, habit.on_plan, stored=True)
    km = habit.km_a_year
    band = None if km is None else bisect_left(tables.wear.distance_limits, km)
    return Use(
        habit.parking,
        band,
        habit.salted_roads,
        habit.wash_summer,
        habit.wash_winter,
        habit.on_plan,
        stored=False,
    )


class Speeds(NamedTuple):
    """Every factor of the rate, for the three clocks; `salt` and `heat` are those of their seasons."""

    zone: float
    parking: Triple
    distance: Triple
    summer: Triple
    winter: Triple
    salt: Triple
    heat: Triple
    plan: float


class _Ground(NamedTuple):
    """What a class meets in a zone, whatever the use: 1 or None where something does not reach it."""

    zone: float
    parking: bool
    distance: bool
    washes: Mapping[Wash | None, Triple] | None
    salt: float
    heat: float
    plan: float


@lru_cache(maxsize=1024)
def _ground(product_class: ProductClass, zone: Zone, tables: Tables) -> _Ground:
    wear, there = tables.wear, tables.zones[tables.twin(zone)]
    family, acts = tables.lives[product_class].family, there.acts
    return _Ground(
        zone=1.0 if place_of(product_class, zone, tables).special else there.wear,
        parking=Influence.PARKING in acts,
        distance=Influence.DISTANCE in acts,
        washes=wear.wash[family] if Influence.WASH in acts else None,
        salt=wear.salt[family] * there.salt if Influence.SALT in acts else 1.0,
        heat=wear.hot[family] if Influence.HEAT in acts else 1.0,
        plan=wear.plan if Influence.PLAN in acts else 1.0,
    )


def _speeds(product_class: ProductClass, zone: Zone, use: Use, tables: Tables) -> Speeds:
    wear, there = tables.wear, _ground(product_class, zone, tables)
    parking = _times(wear.stored_parking) if use.stored else wear.parking[use.parking]
    distance = _distance(use, wear)
    return Speeds(
        zone=there.zone,
        parking=parking if there.parking else _SAME,
        distance=distance if there.distance else _SAME,
        summer=there.washes[use.summer] if there.washes and not use.stored else _SAME,
        winter=there.washes[use.winter] if there.washes and not use.stored else _SAME,
        salt=_seasonal(there.salt, _salted(use, wear)),
        heat=_seasonal(there.heat, _heated(use, wear)),
        plan=there.plan if use.on_plan else 1.0,
    )


def free_rates(speeds: Speeds, clock: int, harder: Callable[..., Any] = max) -> Rates:
    """The rates of a clock before they are held between the limits. Where seasons overlap, the harder one counts.

    Speeds whose factors are arrays, with numpy's `maximum` for `harder`, give arrays.
    """
    zone, parking, distance, summer, winter, salted, heated, plan = speeds
    salt, heat = salted[clock], heated[clock]
    always = zone * parking[clock] * distance[clock]
    dry, wet = always * summer[clock], always * winter[clock]
    return (
        dry * plan,
        dry * harder(heat, 1.0) * plan,
        wet * harder(salt, 1.0) * plan,
        wet * harder(salt, heat) * plan,
    )


class Pace(NamedTuple):
    """How a class wears in a zone under a use: every factor, and the rates of the three clocks by state of the year."""

    speeds: Speeds
    rates: tuple[Rates, Rates, Rates]


@lru_cache(maxsize=32768)
def pace_of(product_class: ProductClass, zone: Zone, use: Use, tables: Tables) -> Pace:
    """The factors and the rates of a class in a zone under a use."""
    speeds = _speeds(product_class, zone, use, tables)
    least, most = tables.wear.slowest, tables.wear.fastest

    def held(clock: int) -> Rates:
        rates = free_rates(speeds, clock)
        if least <= min(rates) and max(rates) <= most:
            return rates
        none, hot, salt, both = (min(max(rate, least), most) for rate in rates)
        return none, hot, salt, both

    return Pace(speeds, (held(0), held(1), held(2)))


def speeds_of(product_class: ProductClass, zone: Zone, use: Use, tables: Tables) -> Speeds:
    """The factors for a class in a zone under a use. What does not reach the zone is 1."""
    return pace_of(product_class, zone, use, tables).speeds


def rates_of(product_class: ProductClass, zone: Zone, use: Use, tables: Tables) -> tuple[Rates, Rates, Rates]:
    """The rates of the pessimistic, likely and kind clock, each by state of the year."""
    return pace_of(product_class, zone, use, tables).rates


@lru_cache(maxsize=1024)
def quality_of(
    product_class: ProductClass, air: Air | None, prep: Prep | None, got_wet_early: bool, tables: Tables
) -> Triple:
    """One-time factor on the life, for the low, likely and high date, from 0 to 1."""
    wear = tables.wear
    by_prep, by_air = wear.prep[tables.lives[product_class].family][prep], wear.air[air]
    wet = wear.got_wet_early if got_wet_early else 1.0
    low, likely, high = (laid * prepared * wet for laid, prepared in zip(by_air, by_prep, strict=True))
    return low, likely, high


def lump_of(
    process: Process, product_class: ProductClass, zone: Zone, use: Use, in_salt: bool, tables: Tables
) -> Triple:
    """Share of the full life that one event takes, for the low, likely and high date.

    A machine wash that is the habit of that season anyway is already in the rate. Where the habit is not
    known it may be, so the kind clock leaves it out.
    """
    wear = tables.wear
    if process in wear.ends:
        return _SAME
    share = wear.lumps[tables.lives[product_class].family].get(process, 0.0)
    machine = _HABIT_OF.get(process)
    if machine is None:
        return share, share, share
    if Influence.WASH not in tables.zones[tables.twin(zone)].acts:
        return 0.0, 0.0, 0.0
    habit = use.winter if in_salt else use.summer
    if use.stored:
        return share, share, share
    return (share, share, 0.0) if habit is None else _times(share, 0.0 if habit is machine else 1.0)


def _distance(use: Use, wear: WearFactors) -> Triple:
    if use.stored:
        return _times(wear.stored_distance)
    return wear.distance_unknown if use.band is None else _times(wear.distance[use.band])


def _salted(use: Use, wear: WearFactors) -> Triple:
    """Share of the salt effect to count."""
    if use.stored or use.salted is False:
        return _NONE
    return _SAME if use.salted else wear.salted_unknown


def _heated(use: Use, wear: WearFactors) -> Triple:
    """Share of the heat effect to count: it reaches what spends its nights, and so its days, outdoors."""
    if use.stored or use.parking in wear.under_a_roof:
        return _NONE
    return wear.heat_unknown if use.parking is None else _SAME


def _seasonal(factor: float, shares: Triple) -> Triple:
    pessimistic, likely, kind = shares
    more = factor - 1
    return 1 + more * pessimistic, 1 + more * likely, 1 + more * kind


def _times(factor: float, by: float = 1.0) -> Triple:
    return factor * by, factor * by, factor * by
