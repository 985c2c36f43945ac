"""People: everything about one of them, and those who share a name."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, F, OuterRef, Prefetch, Q

from crm.care.telephone import NotANumber, to_e164
from crm.models import Consent, Contact, Message, Pause, Person, Plate, Role
from crm.selectors.held import Standing, plates_on, roles_on, told_apart

MOST_NAMESAKES = 6
MOST_MESSAGES = 10


@dataclass(frozen=True)
class PersonFile:
    """What the studio knows of a person."""

    person: Person
    contacts: tuple[Contact, ...]
    roles: tuple[Role, ...]
    """Those of today; each car with the plates of today at hand, here and below."""
    later_roles: tuple[Role, ...]
    """Those that begin on a day to come."""
    former_roles: tuple[Role, ...]
    consents: tuple[Consent, ...]
    """The newest first."""
    pauses: tuple[Pause, ...]
    messages: tuple[Message, ...]
    paused: bool


def person_file(person: Person, *, today: date) -> PersonFile:
    """The file of a person, in six queries."""
    pauses = tuple(person.pauses.all())
    roles = told_apart(_roles([person.pk], today), day=today)
    return PersonFile(
        person=person,
        contacts=tuple(person.contacts.all()),
        roles=tuple(roles[Standing.NOW]),
        later_roles=tuple(roles[Standing.LATER]),
        former_roles=tuple(roles[Standing.FORMER]),
        consents=tuple(person.consents.select_related("by")),
        pauses=pauses,
        messages=tuple(person.messages.order_by("-created_at", "-pk")[:MOST_MESSAGES]),
        paused=any(
            pause.since <= today and (pause.until is None or pause.until >= today) for pause in pauses
        ),
    )


_NUL = "\0"
"""Nobody on file has it in a name or an address, and PostgreSQL takes no text that does."""


@dataclass(frozen=True)
class Namesakes:
    """People on file with exactly one name: so many that one can choose among them, and how many more there are."""

    people: tuple[tuple[Person, str], ...] = ()
    """Each with words that tell them apart: their cars of today.

    Whoever is reached by a number or an address that was given comes first, then those with a car.
    """
    more: int = 0


NOBODY = Namesakes()


def namesakes(name: str, *, today: date, region: str, given: Sequence[str] = ()) -> Namesakes:
    """People with exactly this name. `given`: a number or an address of theirs as it was typed, numbers of a region."""
    spaced = " ".join(name.split())
    if not spaced or _NUL in spaced:
        return NOBODY
    same = Person.objects.filter(name__iexact=spaced)
    reached = Contact.objects.filter(_is_one_of(given, region), person=OuterRef("pk"))
    has_a_car = roles_on(today).filter(person=OuterRef("pk"))
    sorted_out = same.annotate(reached=Exists(reached), has_a_car=Exists(has_a_car))
    people = list(sorted_out.order_by("-reached", "-has_a_car", "pk")[:MOST_NAMESAKES])
    more = same.count() - MOST_NAMESAKES if len(people) == MOST_NAMESAKES else 0
    cars: dict[int, list[str]] = {person.pk: [] for person in people}
    roles = _roles([person.pk for person in people], today)
    for role in told_apart(roles, day=today)[Standing.NOW]:
        cars[role.person_id].append(_car_words(role))
    told = ((person, ", ".join(dict.fromkeys(cars[person.pk])) or "no car now") for person in people)
    return Namesakes(tuple(told), max(0, more))


def _is_one_of(given: Sequence[str], region: str) -> Q:
    found = Q(pk__in=())
    for text in filter(None, map(str.strip, given)):
        if _NUL in text:
            continue
        found |= Q(value__iexact=text)
        with suppress(NotANumber):
            found |= Q(value=to_e164(text, region))
    return found


def _roles(people: Sequence[int], today: date) -> list[Role]:
    carried = Prefetch("car__plates", plates_on(today).reverse(), to_attr="current_plates")
    return list(
        Role.objects.filter(person__in=people)
        .select_related("car")
        .prefetch_related(carried)
        .order_by(F("until").desc(nulls_first=True), "pk")
    )


def _car_words(role: Role) -> str:
    plates: list[Plate] = getattr(role.car, "current_plates", [])
    return f"{role.car.known_as} {plates[0].mark}" if plates else role.car.known_as
