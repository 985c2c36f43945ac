"""The sentences of the winter round: why a car is asked, and why there is no room for it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from crm.care.forecast import around
from crm.care.months import MONTH_NAMES
from crm.care.names import CLASS_NAMES
from crm.care.winter_curves import Span, half_worn
from crm.care.winter_figures import WORK_NAMES, Package, WinterFigures
from crm.care.winter_worth import Cover, Lying
from crm.care.words import ZONE_NAMES

_NUMBERS = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
)  # fmt: skip


def day_words(day: date) -> str:
    """A day: 14 April 2026."""
    return f"{day.day} {MONTH_NAMES[day.month - 1]} {day.year}"


def week_words(monday: date) -> str:
    """A week by its Monday: the week of 5 October."""
    return f"the week of {monday.day} {MONTH_NAMES[monday.month - 1]}"


def hours_words(hours: float) -> str:
    """Hours of work: six hours, three and a half hours, half an hour, 6.2 hours."""
    whole, half = int(hours), hours % 1
    if hours == 0.5:
        return "half an hour"
    if half not in (0, 0.5) or whole >= len(_NUMBERS):
        return f"{hours:g} hours"
    return f"{_NUMBERS[whole]}{' and a half' if half else ''} hour{'' if hours == 1 else 's'}"


def nights_words(nights: float) -> str:
    """Nights in the bay; the half of a mid-point is said as what it is."""
    if nights <= 0:
        return ""
    if nights < 1:
        return "perhaps a night in the bay"
    return "a night in the bay" if nights == 1 else f"{nights:g} nights in the bay"


def days_words(days: float) -> str:
    """Unprotected salted days, as whole ones."""
    return f"{days:.0f} unprotected day{'' if round(days) == 1 else 's'}"


def call_words(
    *,
    because: Sequence[str],
    package: Package,
    monday: date,
) -> str:
    """Why a car is asked and what for, in one sentence."""
    work = ", ".join(part for part in (hours_words(package.hours), nights_words(package.nights)) if part)
    return "; ".join([*because, f"{WORK_NAMES[package.work]}, {work}, in {week_words(monday)}"])


def promise_words(due: date, on: date) -> str:
    """The first of all reasons."""
    return f"the inspection it was promised {'was' if due < on else 'is'} due by {day_words(due)}"


def salt_words(salted_roads: bool | None, km_a_year: int | None, figures: WinterFigures) -> list[str]:
    """How a car meets the salt."""
    roads = "driven on salted roads" if salted_roads else "whether it meets salt is not known"
    far = [f"{km_a_year:,} km a year"] if km_a_year is not None and km_a_year >= figures.far_km else []
    return [roads, *far]


def cover_words(one: Cover, span: Span, on: date) -> str:
    """What is wrong with a place: its layer is thin by when, or nothing protects it."""
    place = ZONE_NAMES[one.zone]
    if one.share < 1:
        place = f"a part of the {place}" if one.layers else f"a part of its {place}"
    elif one.layers:
        place = f"the {place}"
    else:
        place = f"its {place}"
    if not one.layers:
        return f"nothing protects {place}"
    layer = min(one.layers, key=_chance_of_being_gone)
    if layer.worn is None:
        return f"nobody knows how long what lies on {place} lasts"
    name = CLASS_NAMES[layer.product_class].partition(",")[0]
    return f"its {name} of {day_words(layer.laid_on)} on {place} {_thin(layer, span, on)}"


def no_room_words(week: str, hours: float, density: float, marginal: float | None) -> str:
    """Why a car is left out for want of room: days avoided for an hour of work, beside the last car in its week."""
    if marginal is not None and marginal > density:
        return (
            f"no room left: the last car in {week} avoids {marginal:.1f} unprotected days for each hour of work,"
            f" this one {density:.1f}"
        )
    return f"no room left: {hours_words(hours)} no longer fit into {week}, its best, or into another"


def _thin(layer: Lying, span: Span, on: date) -> str:
    likely = layer.likely
    if likely is None and layer.worn is not None:
        likely = half_worn(layer.worn, span)
        if likely is not None and likely.toordinal() == span.first:
            return "is likely thin before the salted months begin"
    if likely is None:
        return "may be thin before the salted months are over"
    if likely <= on:
        return f"has likely been thin since {around(likely)}"
    return f"is likely thin by {around(likely)}"


def _chance_of_being_gone(layer: Lying) -> float:
    return 0.5 if layer.worn is None else float(layer.worn.mean())
