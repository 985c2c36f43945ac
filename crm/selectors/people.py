"""People: everything about one of them, and those who share a name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import F, Prefetch

from crm.models import Consent, Contact, Message, Pause, Person, Plate, Role

MOST_NAMESAKES = 6
MOST_MESSAGES = 10


@dataclass(frozen=True)
class PersonFile:
    """What the studio knows of a person."""

    person: Person
    contacts: tuple[Contact, ...]
    roles: tuple[Role, ...]
    """The current ones first; each car with its current plates at hand."""
    consents: tuple[Consent, ...]
    """The newest first."""
    pauses: tuple[Pause, ...]
    messages: tuple[Message, ...]
    letters: bool | None
    """The newest answer to whether letters by e-mail are wanted; None was never asked."""
    paused: bool


def person_file(person: Person, *, today: date) -> PersonFile:
    """The file of a person, in six queries."""
    consents = tuple(person.consents.select_related("by"))
    answers = [
        consent.given
        for consent in consents
        if consent.purpose == Consent.Purpose.LETTERS and consent.channel == Contact.Kind.EMAIL
    ]
    pauses = tuple(person.pauses.all())
    return PersonFile(
        person=person,
        contacts=tuple(person.contacts.all()),
        roles=tuple(_roles([person.pk])),
        consents=consents,
        pauses=pauses,
        messages=tuple(person.messages.order_by("-created_at", "-pk")[:MOST_MESSAGES]),
        letters=answers[0] if answers else None,
        paused=any(
            pause.since <= today and (pause.until is None or pause.until >= today) for pause in pauses
        ),
    )


def namesakes(name: str) -> list[tuple[Person, str]]:
    """People with exactly this name, each with words that tell them apart: their cars."""
    spaced = " ".join(name.split())
    if not spaced:
        return []
    people = list(Person.objects.filter(name__iexact=spaced).order_by("pk")[:MOST_NAMESAKES])
    cars: dict[int, list[str]] = {person.pk: [] for person in people}
    for role in _roles([person.pk for person in people]):
        if role.until is None:
            cars[role.person_id].append(_car_words(role))
    return [(person, ", ".join(cars[person.pk]) or "no car now") for person in people]


def _roles(people: Sequence[int]) -> list[Role]:
    current = Prefetch("car__plates", Plate.objects.filter(until__isnull=True), to_attr="current_plates")
    return list(
        Role.objects.filter(person__in=people)
        .select_related("car")
        .prefetch_related(current)
        .order_by(F("until").desc(nulls_first=True), "pk")
    )


def _car_words(role: Role) -> str:
    plates: list[Plate] = getattr(role.car, "current_plates", [])
    return f"{role.car.known_as} {plates[0].mark}" if plates else role.car.known_as
