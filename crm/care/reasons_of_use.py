"""Reasons that lie in how a car is kept: parking, distance, washing, the seasons and a plan."""

from __future__ import annotations

from datetime import date
from functools import lru_cache
from typing import NamedTuple

from crm.care.figures import Triple
from crm.care.months import MONTH_NAMES
from crm.care.seasons import Seasons
from crm.care.surfaces import Zone
from crm.care.tables import Tables
from crm.care.terms import Parking, ProductClass, Wash
from crm.care.wear import HOT, SALT, Speeds, Use, free_rates, speeds_of

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


@lru_cache(maxsize=16)
def _occurring(states: frozenset[int]) -> tuple[bool, bool, bool]:
    """Whether there are days outside the salted months, in them, and in the hot ones."""
    return (
        any(not state & SALT for state in states),
        any(state & SALT for state in states),
        any(state & HOT for state in states),
    )


def number(factor: float) -> str:
    """A factor as one writes it: two decimals at the most, none that say nothing."""
    return f"{factor:.2f}".rstrip("0").rstrip(".")


def month_of(day: date) -> str:
    """The month of a day: May 2026."""
    return f"{MONTH_NAMES[day.month - 1]} {day.year}"


@lru_cache(maxsize=32768)
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
    dry, salted, hot = _occurring(states)
    found: list[Reason] = []
    if speeds.zone != 1:
        found.append(_paced("zone", tables.zones[tables.twin(zone)].because, speeds.zone))
    if use.stored:
        found.append(_laid_up(speeds.parking[1] * speeds.distance[1]))
    else:
        found += _parking(use.parking, speeds.parking)
    found += _washing(
        (use.summer, speeds.summer) if dry else None, (use.winter, speeds.winter) if salted else None
    )
    if salted:
        found += _salt(speeds.salt, seasons.salt.start.month)
    if hot:
        found += _heat(speeds.heat[1], seasons.hot.start.month)
    if speeds.plan != 1:
        found.append(_paced("plan", "on a maintenance plan", speeds.plan))
    found += _limits(speeds, states, tables)
    return tuple(found)


@lru_cache(maxsize=32768)
def distance_reason(km: int | None, speed: float, unknown: bool) -> tuple[Reason, ...]:
    """The reason that lies in the distance a year; none where it is ordinary."""
    if unknown:
        return (_unknown("distance_unknown", "how far it is driven"),)
    return (_paced("distance", f"{km:,} km a year", speed),) if km is not None and speed != 1 else ()


@lru_cache(maxsize=4096)
def _paced(code: str, what: str, factor: float) -> Reason:
    return Reason(code, f"{what}: wears {number(factor)} times as fast")


@lru_cache(maxsize=64)
def _unknown(code: str, what: str) -> Reason:
    return Reason(code, f"{what} {_WIDER}")


@lru_cache(maxsize=64)
def _laid_up(factor: float) -> Reason:
    return _paced("stored", "laid up, with no washing and no salt", factor)


@lru_cache(maxsize=256)
def _parking(parked: Parking | None, speed: Triple) -> tuple[Reason, ...]:
    if parked is not None and speed[1] != 1:
        return (_paced("parking", _PARKED[parked], speed[1]),)
    return (_unknown("parking_unknown", "where it spends its nights"),) if _open(speed) else ()


@lru_cache(maxsize=4096)
def _washing(
    summer: tuple[Wash | None, Triple] | None, winter: tuple[Wash | None, Triple] | None
) -> tuple[Reason, ...]:
    """How it is washed and how fast that wears, outside the salted months and in them; None where there are none."""
    if summer is None or winter is None or summer[0] == winter[0]:
        return _wash("", *(summer or winter or (None, (1.0, 1.0, 1.0))))
    return _wash(" outside the salted months", *summer) + _wash(" in the salted months", *winter)


def _wash(when: str, wash: Wash | None, speed: Triple) -> tuple[Reason, ...]:
    if wash is not None and speed[1] != 1:
        return (_paced("wash", f"{_WASHED[wash]}{when}", speed[1]),)
    return (_unknown("wash_unknown", f"how it is washed{when}"),) if _open(speed) else ()


@lru_cache(maxsize=256)
def _salt(speed: Triple, month: int) -> tuple[Reason, ...]:
    unknown = (_unknown("salt_unknown", "whether it is driven on salted roads"),) if _open(speed) else ()
    return unknown + _in_months("salt", "salted roads", month, speed[1])


@lru_cache(maxsize=256)
def _heat(factor: float, month: int) -> tuple[Reason, ...]:
    return _in_months("heat", "summer heat", month, factor)


def _in_months(code: str, what: str, month: int, factor: float) -> tuple[Reason, ...]:
    words = f"{what} from {MONTH_NAMES[month - 1]}: {number(factor)} times in those months"
    return (Reason(code, words),) if factor != 1 else ()


def _limits(speeds: Speeds, states: frozenset[int], tables: Tables) -> tuple[Reason, ...]:
    by_state = free_rates(speeds, 1)
    slowest, fastest = tables.wear.slowest, tables.wear.fastest
    if slowest <= min(by_state) and max(by_state) <= fastest:
        return ()
    rates = [by_state[state] for state in states]
    found = []
    if max(rates) > fastest:
        found.append(
            Reason("fastest", f"all together reckoned at no more than {number(fastest)} times as fast")
        )
    if min(rates) < slowest:
        found.append(
            Reason("slowest", f"all together reckoned at no less than {number(slowest)} times as fast")
        )
    return tuple(found)


def _open(speed: Triple) -> bool:
    """Whether the clocks differ, which they do only where an answer is unknown."""
    return speed[0] != speed[2]
