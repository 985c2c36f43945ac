"""What a person is to a car on a day, and which plate it carries then: the one place that says what "held" means.

Parts and plates have a day from which they count and a day from which they no longer do. Either may lie ahead.
The first day counts, the day of the end does not: on it the next keeper begins. A missing day is no limit.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from enum import StrEnum
from typing import TypeVar

from django.db.models import F, Q, QuerySet

from crm.models import Car, Person, Plate, Role


class Standing(StrEnum):
    """How a part or a plate stands to a day."""

    LATER = "later"
    NOW = "now"
    FORMER = "former"
    """Over, or called off before it began."""


Dated = TypeVar("Dated", Role, Plate)


def held_on(day: date) -> Q:
    """Parts or plates that count on this day."""
    begun = Q(since__isnull=True) | Q(since__lte=day)
    not_over = Q(until__isnull=True) | Q(until__gt=day)
    return begun & not_over


def held_from(day: date) -> Q:
    """Parts or plates that count on this day or on a later one; what was called off before it began never does."""
    called_off = Q(since__isnull=False, until__lte=F("since"))
    return Q(until__isnull=True) | (Q(until__gt=day) & ~called_off)


def standing(since: date | None, until: date | None, *, day: date) -> Standing:
    """The same question about one part or plate, with the answer where it does not count."""
    if until is not None and (until <= day or (since is not None and until <= since)):
        return Standing.FORMER
    return Standing.LATER if since is not None and since > day else Standing.NOW


def told_apart(rows: Iterable[Dated], *, day: date) -> dict[Standing, list[Dated]]:
    """Parts or plates by how they stand to a day; those that begin later in the order in which they do."""
    groups: dict[Standing, list[Dated]] = {each: [] for each in Standing}
    for row in rows:
        groups[standing(row.since, row.until, day=day)].append(row)
    groups[Standing.LATER].sort(key=lambda row: (row.since or day, row.pk))
    return groups


def roles_on(day: date) -> QuerySet[Role]:
    """Who is what to a car on a day, the newest part last."""
    return Role.objects.filter(held_on(day)).order_by(F("since").asc(nulls_first=True), "pk")


def plates_on(day: date) -> QuerySet[Plate]:
    """The plates that cars carry on a day, the newest last."""
    return Plate.objects.filter(held_on(day)).order_by(F("since").asc(nulls_first=True), "pk")


def keepers_on(day: date) -> QuerySet[Role]:
    """Who keeps a car on a day."""
    return roles_on(day).filter(part=Role.Part.KEEPER)


def keeper_of(car: Car, day: date) -> Person | None:
    """Who keeps the car on a day."""
    role = keepers_on(day).filter(car=car).select_related("person").last()
    return role.person if role else None


def plate_of(car: Car, day: date) -> Plate | None:
    """The plate that the car carries on a day."""
    return plates_on(day).filter(car=car).last()
