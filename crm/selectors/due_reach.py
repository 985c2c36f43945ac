"""Who keeps a car and what may be written to them, car by car, for a whole list at once."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from crm.models import Contact, Person, Studio
from crm.selectors.held import keepers_on
from crm.selectors.reach import NO_ADDRESS, letter_reach


class Reaching(StrEnum):
    """What may be written to a car's keeper."""

    LETTER = "letter"
    NOTE = "note"
    NOTHING = "nothing"


@dataclass(frozen=True)
class Reached:
    """Who keeps a car and what may be written to them, with the reason where that is not everything."""

    how: Reaching
    person: Person | None
    why: str = ""


def reached_by_car(
    cars: Collection[int], *, studio: Studio, today: date, now: datetime
) -> Mapping[int, Reached]:
    """Who keeps each car and how they may be written to, in eight queries."""
    keepers = dict(keepers_on(today).filter(car__in=cars).values_list("car", "person"))
    people = Person.objects.in_bulk(set(keepers.values()))
    letters = letter_reach(people.values(), now=now, studio=studio)
    addressed = _with_an_address(people)
    by_person = {
        pk: _reached(person, letters[pk].against, has_address=pk in addressed)
        for pk, person in people.items()
    }
    nobody = Reached(Reaching.NOTHING, None, "no keeper is on file")
    return {car: by_person[keepers[car]] if car in keepers else nobody for car in cars}


def _reached(person: Person, against: str, *, has_address: bool) -> Reached:
    if not against:
        return Reached(Reaching.LETTER, person)
    if person.deceased or not has_address:
        return Reached(Reaching.NOTHING, person, against if person.deceased else NO_ADDRESS)
    return Reached(Reaching.NOTE, person, against)


def _with_an_address(people: Iterable[int]) -> set[int]:
    living = Contact.objects.filter(person__in=list(people), kind=Contact.Kind.EMAIL, dead_since__isnull=True)
    return set(living.order_by().values_list("person_id", flat=True))
