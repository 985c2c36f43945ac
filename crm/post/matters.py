"""What there is to write about a car: found when letters are planned, and asked again when one leaves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from crm.care.forecast import around
from crm.care.surfaces import EATEN_BY_SALT, NOTHING, PAINT, Surfaces, by_zone
from crm.models import Forecast, Matter, Message
from crm.selectors.letters import Standing, Windows, bare_by, due_wash

Kind = Message.Kind

FORGOTTEN = timedelta(days=3 * 365)
"""Not seen for so long, a keeper is left in peace (common practice, no source)."""
JUST_SEEN = timedelta(days=42)
"""Seen within six weeks, a car needs no reminder or winter prompt (common practice, no source)."""
JUST_WASHED = timedelta(days=21)
"""A stay so shortly before a planned wash was that wash (own choice)."""
WORTH_A_LETTER = timedelta(days=60)
"""What is likely to go sooner after it was laid is renewed at a wash, not by letter (own choice)."""
MUCH_LONGER = timedelta(days=45)
"""Another layer that outlasts this one by so much still protects what lies under both (own choice)."""


@dataclass(frozen=True, slots=True)
class Want:
    """One thing to write about: what, about which car, the key that makes it once only, and what it says."""

    kind: Kind
    car_id: int
    key: str
    facts: dict[str, Any]
    why: str
    """In words, for the studio."""
    by_itself: bool = True
    """Whether it is reason enough for a letter; otherwise it only joins one that goes anyway."""


def wanted(
    standing: Standing, forecasts: Sequence[Forecast], *, person_id: int, windows: Windows
) -> list[Want]:
    """Everything there is to write to a person about a car on this day."""
    if against_car(standing, person_id=person_id, windows=windows):
        return []
    found = []
    if not _against_so_soon(standing, windows):
        found += [_top_up(standing, row, windows) for row in forecasts if _lapses(row, forecasts, windows)]
    if not _against_winter(standing, forecasts, windows):
        found.append(_winter(standing, forecasts, person_id, windows))
    wash = due_wash(standing.car, forecasts, windows)
    if wash is not None and not _against_wash(standing, wash):
        found.append(_wash_due(standing, wash))
    return found


def against_car(standing: Standing, *, person_id: int, windows: Windows) -> str:
    """Why nothing is written to a person about a car by itself; empty where nothing stands against it."""
    if against := against_keeper(standing, person_id=person_id) or expected_back(standing):
        return against
    if standing.last_seen is None:
        return "the car has never been here"
    if windows.today - standing.last_seen > FORGOTTEN:
        return "the car has not been here for three years"
    return ""


def against_keeper(standing: Standing, *, person_id: int) -> str:
    """Why a car is none of this person's concern, or in nobody's use; empty where it is."""
    car = standing.car
    if car.status != car.Status.ACTIVE:
        return f"the car is {car.get_status_display()}"
    if standing.keeper_id != person_id:
        return "the car has another keeper"
    return "the car is in storage" if standing.stored else ""


def expected_back(standing: Standing) -> str:
    """That the car is booked, in words; empty where it is not. It passes: the visit may not come to be."""
    return f"the car is expected on {standing.booked_on:%-d %B %Y}" if standing.booked_on else ""


def against_matter(
    matter: Matter, standing: Standing, forecasts: Sequence[Forecast], *, person_id: int, windows: Windows
) -> str:
    """Why a planned matter is no longer true; empty where it still is."""
    against = against_car(standing, person_id=person_id, windows=windows)
    if against:
        return against
    match Kind(matter.kind):
        case Kind.TOP_UP:
            return _against_so_soon(standing, windows) or _against_top_up(matter.facts, forecasts, windows)
        case Kind.WINTER:
            return _against_winter(standing, forecasts, windows)
        case Kind.WASH_DUE:
            return _against_planned_wash(matter.facts, standing, forecasts, windows)
        case _:
            return ""


def facts_now(
    matter: Matter, standing: Standing, forecasts: Sequence[Forecast], *, person_id: int, windows: Windows
) -> dict[str, Any]:
    """What a matter that is still true says by the forecasts as they stand now."""
    facts: dict[str, Any] = matter.facts
    match Kind(matter.kind):
        case Kind.TOP_UP:
            row = _row_of(facts, forecasts)
            return facts if row is None else _top_up(standing, row, windows).facts
        case Kind.WINTER:
            return _winter(standing, forecasts, person_id, windows).facts
        case _:
            return facts


def _row_of(facts: Mapping[str, Any], forecasts: Sequence[Forecast]) -> Forecast | None:
    subject = (facts["layer"], facts["zone"])
    return next((row for row in forecasts if (row.layer_id, row.zone) == subject), None)


def _lapses(row: Forecast, forecasts: Sequence[Forecast], windows: Windows) -> bool:
    if row.due_on is None or not windows.oldest <= row.due_on <= windows.mention_by:
        return False
    laid_on = row.layer.laid_at.astimezone(windows.zone).date()
    return (row.likely or row.due_on) - laid_on >= WORTH_A_LETTER and not _covered(row, forecasts)


def _covered(row: Forecast, forecasts: Sequence[Forecast]) -> bool:
    """Whether other layers go on protecting every surface of this one well past its date."""
    left = row.live
    for other in forecasts:
        if row.due_on is None or other.due_on is None or other.layer_id == row.layer_id:
            continue
        if other.due_on >= row.due_on + MUCH_LONGER:
            left -= other.live
    return left == NOTHING


def _top_up(standing: Standing, row: Forecast, windows: Windows) -> Want:
    due = row.due_on or windows.today
    facts = {
        "layer": row.layer_id,
        "zone": row.zone,
        "product": row.layer.product.name,
        "class": row.layer.product.product_class,
        "laid_on": row.layer.laid_at.astimezone(windows.zone).date().isoformat(),
        "low": due.isoformat(),
        "likely": (row.likely or due).isoformat(),
    }
    return Want(
        kind=Kind.TOP_UP,
        car_id=standing.car.pk,
        key=f"top-up:{row.layer_id}:{row.zone}:{due.isoformat()}",
        facts=facts,
        why=f"{row.layer.product.name} may be thin from {around(due)}",
        by_itself=due <= windows.reminder_by,
    )


def _winter(standing: Standing, forecasts: Sequence[Forecast], person_id: int, windows: Windows) -> Want:
    first = thin_first(forecasts, windows)
    if first is None:
        raise ValueError("A car whose layers hold through the salted months is not asked.")
    likely = first.likely or windows.salt_end
    facts = {
        "zones": [zone.value for zone in by_zone(bare_by(forecasts, windows.salt_end))],
        **told_of_thin(first, windows),
        "salt_from": windows.salt_start.isoformat(),
        "salt_until": windows.salt_end.isoformat(),
    }
    return Want(
        kind=Kind.WINTER,
        car_id=standing.car.pk,
        key=f"winter:{person_id}:{standing.car.pk}:{windows.salt_start.year}",
        facts=facts,
        why=f"driven on salted roads, and {first.layer.product.name} is likely to be thin by {around(likely)}",
    )


def thin_first(
    forecasts: Sequence[Forecast], windows: Windows, among: Surfaces = EATEN_BY_SALT
) -> Forecast | None:
    """The layer to tell of before winter: that of the paint where the paint is thin before the salt is gone, else
    what goes first; None where everything among these surfaces is likely to hold.
    """
    bare = bare_by(forecasts, windows.salt_end, among)
    thin = [row for row in forecasts if row.likely and row.live & bare and row.likely <= windows.salt_end]
    return min(thin, key=lambda row: (not row.live & bare & PAINT, row.likely, row.pk), default=None)


def told_of_thin(row: Forecast, windows: Windows) -> dict[str, str]:
    """What is told of such a layer."""
    return {
        "product": row.layer.product.name,
        "laid_on": row.layer.laid_at.astimezone(windows.zone).date().isoformat(),
        "likely": (row.likely or windows.salt_end).isoformat(),
    }


def _wash_due(standing: Standing, on: date) -> Want:
    return Want(
        kind=Kind.WASH_DUE,
        car_id=standing.car.pk,
        key=f"wash-due:{standing.car.pk}:{on.isoformat()}",
        facts={
            "on": on.isoformat(),
            "last_seen": standing.last_seen.isoformat() if standing.last_seen else None,
        },
        why=f"its wash plan foresees a visit {around(on)}",
    )


def _against_top_up(facts: Mapping[str, Any], forecasts: Sequence[Forecast], windows: Windows) -> str:
    row = _row_of(facts, forecasts)
    if row is None or row.due_on is None:
        return "the layer is no longer on the car"
    if row.due_on > windows.mention_by:
        return f"the layer now lasts until {around(row.due_on)} at least"
    if _covered(row, forecasts):
        return "another layer protects these surfaces"
    return ""


def _against_so_soon(standing: Standing, windows: Windows) -> str:
    if standing.last_seen is not None and windows.today - standing.last_seen <= JUST_SEEN:
        return f"the car was here on {standing.last_seen:%-d %B %Y}"
    return ""


def _against_winter(standing: Standing, forecasts: Sequence[Forecast], windows: Windows) -> str:
    if not windows.prompting:
        return "winter prompts are not sent at this time of year"
    if not standing.salted:
        return "the car is not known to be driven on salted roads"
    if against := _against_so_soon(standing, windows):
        return against
    if not bare_by(forecasts, windows.salt_end):
        return "its layers are likely to hold through the salted months"
    return ""


def _against_planned_wash(
    facts: Mapping[str, Any], standing: Standing, forecasts: Sequence[Forecast], windows: Windows
) -> str:
    on = date.fromisoformat(facts["on"])
    if due_wash(standing.car, forecasts, windows) != on:
        return "its wash plan no longer foresees that visit"
    return _against_wash(standing, on)


def _against_wash(standing: Standing, on: date) -> str:
    seen = standing.last_seen
    if seen is not None and seen >= on - JUST_WASHED:
        return f"the car was here on {seen:%-d %B %Y}"
    return ""
