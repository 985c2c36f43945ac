"""When a car on a wash plan is due, and how often its owner washes in between.

Visits are single days counted from an anchor, for publishing as single events: a monthly recurrence
rule would lose the visit of a month that is too short. The first visit after a new coating comes four to
six weeks after it went on.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from importlib.resources import files
from typing import Any

from crm.care.months import add_months, month_series
from crm.care.seasons import Season
from crm.care.terms import Circumstance, WashPlan

_BUSY = frozenset({Circumstance.HIGH_MILEAGE, Circumstance.COAST, Circumstance.SALTED_ROADS})


@dataclass(frozen=True, slots=True, order=True)
class DueWash:
    """One visit: the day it is due, and what it is."""

    due: date
    words: str


def wash_visits(
    plan: WashPlan,
    *,
    anchor: date,
    coated_on: date | None,
    until: date,
    circumstances: frozenset[Circumstance],
    salt: Season,
) -> tuple[DueWash, ...]:
    """Every visit after the anchor and up to and including `until`, in order.

    `anchor` is the day from which the plan counts (its start or the last visit), `coated_on` the day of
    the newest coating. A plan visit within four weeks of the first look at a coating, or before that
    look, falls away. A car laid up has no visit while salt lies. Intervals: common practice, no source.
    """
    first = _first_look(coated_on, anchor, until)
    regular = _regular(_effective(plan, circumstances), anchor, until, circumstances, salt)
    kept = [
        visit
        for visit in regular
        if not (Circumstance.STORED in circumstances and salt.contains(visit.due))
        and not (
            first and coated_on and coated_on <= visit.due <= first.due + _weeks(_first()["earliest_weeks"])
        )
    ]
    return tuple(sorted([*kept, *([first] if first else [])]))


def owner_wash_words(plan: WashPlan, circumstances: frozenset[Circumstance]) -> str:
    """How often the owner washes between visits, in words; "not at all" for one who cannot."""
    if Circumstance.CANNOT_WASH in circumstances:
        return "not at all: the studio does it"
    return str(_plan(plan)["owner"])


def _first_look(coated_on: date | None, anchor: date, until: date) -> DueWash | None:
    if coated_on is None:
        return None
    due = coated_on + _weeks(_first()["after_weeks"])
    return DueWash(due, _first()["words"]) if anchor < due <= until else None


def _effective(plan: WashPlan, circumstances: frozenset[Circumstance]) -> WashPlan:
    """An owner who cannot wash needs the closer visits, whatever else the plan says of the car."""
    if plan is WashPlan.ENTHUSIAST and Circumstance.CANNOT_WASH in circumstances:
        return WashPlan.NO_TIME
    return plan


def _regular(
    plan: WashPlan, anchor: date, until: date, circumstances: frozenset[Circumstance], salt: Season
) -> Iterator[DueWash]:
    row = _plan(plan)
    if row.get("seasonal"):
        yield from _by_season(row, anchor, until, salt)
    elif "every_months" in row:
        yield from _by_months(row, anchor, until, circumstances, salt)
    elif "every_weeks" in row:
        yield from _by_weeks(row, anchor, until, circumstances, salt)


def _by_months(
    row: dict[str, Any], anchor: date, until: date, circumstances: frozenset[Circumstance], salt: Season
) -> Iterator[DueWash]:
    months: int = row["every_months"]
    if "busy_months" in row and circumstances & _BUSY:
        months = row["busy_months"]
    if Circumstance.SHARED_TUNNEL_USER in circumstances:
        months = max(1, months // _data()["shared_tunnel_user"]["divisor"])
    due = [day for day in month_series(anchor, months, until) if day > anchor]
    if "autumn_words" not in row:
        yield from (DueWash(day, row["words"]) for day in due)
        return
    autumns = [day for day in _before_salt(anchor, until, salt) if day > anchor]
    yield from (DueWash(day, row["autumn_words"]) for day in autumns)
    near = _weeks(_data()["autumn"]["weeks_before_salt"])
    for day in due:
        if all(abs(day - autumn) >= near for autumn in autumns):
            yield DueWash(day, row["words"])


def _by_weeks(
    row: dict[str, Any], anchor: date, until: date, circumstances: frozenset[Circumstance], salt: Season
) -> Iterator[DueWash]:
    """Each step starts at the visit before it; a step that begins on a salted day is the shorter one."""
    shared = _data()["shared_tunnel_user"]
    on_salt = Circumstance.SALTED_ROADS in circumstances
    day, next_deep = anchor, 1
    while True:
        weeks = row["salted_weeks"] if on_salt and salt.contains(day) else row["every_weeks"]
        if Circumstance.SHARED_TUNNEL_USER in circumstances:
            weeks = max(shared["shortest_weeks"], weeks // shared["divisor"])
        day += _weeks(weeks)
        if day > until:
            return
        deep = "yearly_words" in row and day >= add_months(anchor, 12 * next_deep)
        next_deep += deep
        yield DueWash(day, row["yearly_words"] if deep else row["words"])


def _by_season(row: dict[str, Any], anchor: date, until: date, salt: Season) -> Iterator[DueWash]:
    """After the salt, in the middle of the open months, and before the salt."""
    for closing in _before_salt(anchor, add_months(until, 12), salt):
        opening = _day_after_salt(closing, salt)
        middle = opening + (closing - opening) / 2
        for day, words in (
            (opening, row["opening_words"]),
            (middle, row["middle_words"]),
            (closing, row["closing_words"]),
        ):
            if anchor < day <= until:
                yield DueWash(day, words)


def _before_salt(anchor: date, until: date, salt: Season) -> list[date]:
    """The autumn days between anchor and `until`, some weeks before each opening of the salt season."""
    lead = _weeks(_data()["autumn"]["weeks_before_salt"])
    openings = [salt.start.in_year(year) for year in range(anchor.year, until.year + 2)]
    return [opening - lead for opening in openings if anchor <= opening - lead <= until]


def _day_after_salt(closing: date, salt: Season) -> date:
    """The first day outside the salt season before this autumn day."""
    return salt.boundaries(add_months(closing, -12), closing)[-1]


def _weeks(count: int) -> timedelta:
    return timedelta(weeks=count)


def _first() -> dict[str, Any]:
    first: dict[str, Any] = _data()["first_visit"]
    return first


def _plan(plan: WashPlan) -> dict[str, Any]:
    row: dict[str, Any] = _data()["plan"][plan.value]
    return row


@cache
def _data() -> dict[str, Any]:
    return tomllib.loads(files("crm.care").joinpath("data/washplan.toml").read_text("utf-8"))
