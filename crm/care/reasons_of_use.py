"""Reasons that lie in how a car is kept: parking, distance, washing, the seasons and a plan."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from functools import lru_cache
from typing import NamedTuple

from crm.care.figures import Triple
from crm.care.months import MONTH_NAMES
from crm.care.seasons import Season, Seasons
from crm.care.surfaces import Zone
from crm.care.tables import Tables
from crm.care.terms import Parking, ProductClass, Wash
from crm.care.wear import HOT, SALT, Speeds, Use, free_rate, speeds_of

_PARKED = {
    Parking.GARAGE: "garaged at night",
    Parking.CARPORT: "under a carport or underground at night",
    Parking.OUTDOORS: "outdoors at night",
    Parking.TREES_OR_INDUSTRY: "parked under trees, by a railway or industry",
    Parking.NEAR_SEA: "parked near the sea",
}
_WASHED = {
    Wash.HAND_NEUTRAL: "washed by hand with neutral shampoo",
    Wash.LANCE_OWN_MITT: "washed in a lance bay with an own mitt",
    Wash.LANCE_BRUSH: "washed with a lance-bay brush or by the roadside",
    Wash.TOUCH_FREE: "washed in a touch-free machine",
    Wash.TUNNEL: "washed in a brush or cloth tunnel",
    Wash.HARDLY_EVER: "hardly ever washed",
}
_WIDER = "is not known: the window is wider"


class Reason(NamedTuple):
    """One line behind a forecast: a code that stays the same, and the words for a person."""

    code: str
    words: str


def number(factor: float) -> str:
    """A factor as one writes it: two decimals at the most, none that say nothing."""
    return f"{factor:.2f}".rstrip("0").rstrip(".")


def month_of(day: date) -> str:
    """The month of a day: May 2026."""
    return f"{MONTH_NAMES[day.month - 1]} {day.year}"


@lru_cache(maxsize=16384)
def use_reasons(
    product_class: ProductClass,
    zone: Zone,
    use: Use,
    seasons: Seasons,
    states: frozenset[int],
    tables: Tables,
) -> tuple[Reason, ...]:
    """Reasons for every factor of a use that is not 1 in the states of the year that occur, but distance."""
    speeds = speeds_of(product_class, zone, use, tables)
    found = [*_zone_reason(zone, speeds, tables), *_parking_reason(use, speeds)]
    found += _washing(use, speeds, states)
    found += _seasons(speeds, seasons, states)
    if speeds.plan != 1:
        found.append(_paced("plan", "on a maintenance plan", speeds.plan))
    found += _limits(speeds, states, tables)
    return tuple(found)


@lru_cache(maxsize=16384)
def distance_reason(km: int | None, speed: float, unknown: bool) -> tuple[Reason, ...]:
    """The reason that lies in the distance a year; none where it is ordinary."""
    if unknown:
        return (Reason("distance_unknown", f"how far it is driven {_WIDER}"),)
    return (_paced("distance", f"{km:,} km a year", speed),) if km is not None and speed != 1 else ()


def _paced(code: str, what: str, factor: float) -> Reason:
    return Reason(code, f"{what}: wears {number(factor)} times as fast")


def _zone_reason(zone: Zone, speeds: Speeds, tables: Tables) -> Iterator[Reason]:
    if speeds.zone != 1:
        yield _paced("zone", tables.zones[tables.twin(zone)].because, speeds.zone)


def _parking_reason(use: Use, speeds: Speeds) -> Iterator[Reason]:
    if use.stored:
        factor = speeds.parking[1] * speeds.distance[1]
        yield _paced("stored", "laid up, with no washing and no salt", factor)
    elif use.parking is not None and speeds.parking[1] != 1:
        yield _paced("parking", _PARKED[use.parking], speeds.parking[1])
    elif _open(speeds.parking):
        yield Reason("parking_unknown", f"where it spends its nights {_WIDER}")


def _washing(use: Use, speeds: Speeds, states: frozenset[int]) -> Iterator[Reason]:
    occurring = []
    if any(not state & SALT for state in states):
        occurring.append(("outside the salted months", use.summer, speeds.summer))
    if any(state & SALT for state in states):
        occurring.append(("in the salted months", use.winter, speeds.winter))
    if len({wash for _, wash, _ in occurring}) == 1:
        yield from _wash("", *occurring[0][1:])
    else:
        for when, wash, speed in occurring:
            yield from _wash(f" {when}", wash, speed)


def _wash(when: str, wash: Wash | None, speed: Triple) -> Iterator[Reason]:
    if wash is not None and speed[1] != 1:
        yield _paced("wash", f"{_WASHED[wash]}{when}", speed[1])
    elif _open(speed):
        yield Reason("wash_unknown", f"how it is washed{when} {_WIDER}")


def _seasons(speeds: Speeds, seasons: Seasons, states: frozenset[int]) -> Iterator[Reason]:
    if any(state & SALT for state in states):
        if _open(speeds.salt):
            yield Reason("salt_unknown", f"whether it is driven on salted roads {_WIDER}")
        if speeds.salt[1] != 1:
            yield _in_months("salt", "salted roads", seasons.salt, speeds.salt[1])
    if speeds.heat[1] != 1 and any(state & HOT for state in states):
        yield _in_months("heat", "summer heat", seasons.hot, speeds.heat[1])


def _in_months(code: str, what: str, season: Season, factor: float) -> Reason:
    start = MONTH_NAMES[season.start.month - 1]
    return Reason(code, f"{what} from {start}: {number(factor)} times in those months")


def _limits(speeds: Speeds, states: frozenset[int], tables: Tables) -> list[Reason]:
    rates = [free_rate(speeds, 1, state) for state in states]
    slowest, fastest = tables.wear.slowest, tables.wear.fastest
    found = []
    if max(rates) > fastest:
        found.append(
            Reason("fastest", f"all together reckoned at no more than {number(fastest)} times as fast")
        )
    if min(rates) < slowest:
        found.append(
            Reason("slowest", f"all together reckoned at no less than {number(slowest)} times as fast")
        )
    return found


def _open(speed: Triple) -> bool:
    """Whether the clocks differ, which they do only where an answer is unknown."""
    return speed[0] != speed[2]
