"""What changes about people: their names, contacts that fail, what they allow, pauses, and parts that end."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from crm.models import Consent, Contact, Pause, Person, Role, User
from crm.post.stop import open_addresses, shut_addresses
from crm.services.errors import Refused
from crm.services.registry import Answer, index_person, write_down_consent
from crm.services.rights import Right, require
from crm.services.storing import store


@dataclass(frozen=True, kw_only=True)
class PersonFacts:
    """What is known of a person besides how to reach them."""

    name: str
    sort: str = Person.Sort.PRIVATE
    greeting: str = ""
    note: str = ""
    deceased: bool = False
    moved_away: bool = False


@transaction.atomic
def change_person(*, person: Person, facts: PersonFacts, by: User | None) -> Person:
    """Correct what is known of a person; the former values stay in the history."""
    require(by, Right.PEOPLE)
    if not facts.name.strip():
        raise Refused("A person needs a name.", field="name")
    person.name = " ".join(facts.name.split())
    person.sort, person.greeting, person.note = facts.sort, facts.greeting.strip(), facts.note.strip()
    person.deceased, person.moved_away = facts.deceased, facts.moved_away
    store(person)
    index_person(person)
    return person


@transaction.atomic
def mark_dead(*, contact: Contact, because: str, at: datetime, by: User | None) -> Contact:
    """Nobody is reached this way any more. The contact stays on record and is never written to again."""
    require(by, Right.PEOPLE)
    if not because.strip():
        raise Refused("Say how you know that it does not work.", field="because")
    if contact.dead_since is None:
        contact.dead_since, contact.dead_because = at, because.strip()
        store(contact)
    return contact


@transaction.atomic
def mark_working(*, contact: Contact, by: User | None) -> Contact:
    """The contact works after all."""
    require(by, Right.PEOPLE)
    contact.dead_since, contact.dead_because = None, ""
    store(contact)
    return contact


@transaction.atomic
def hear_answer(*, person: Person, answer: Answer, at: datetime, by: User | None) -> Consent:
    """Write down what a person said themselves, and do as they say about letters by e-mail.

    A no shuts their addresses and cancels what waits, as the link in a letter does. A yes opens them again, also
    where they had used that link: nobody but the person themselves can take their no back, so what stands in a
    list that is brought in goes through `write_down_consent`.
    """
    row = write_down_consent(person=person, answer=answer, at=at, by=by)
    asked = person.consents.filter(purpose=Consent.Purpose.LETTERS, channel=Contact.Kind.EMAIL)
    if asked.first() != row:
        return row
    if answer.given:
        open_addresses(person=person, how=answer.how, now=at, by=by)
    else:
        shut_addresses(person=person, how=answer.how, now=at, by=by)
    return row


@transaction.atomic
def pause_letters(
    *, person: Person, why: str, since: date, until: date | None = None, by: User | None
) -> Pause:
    """No letters to this person for a while, or until somebody ends the pause."""
    require(by, Right.PEOPLE)
    if until is not None and until < since:
        raise Refused("A pause cannot end before it begins.", field="until")
    pause = Pause(person=person, why=why, since=since, until=until)
    store(pause)
    return pause


@transaction.atomic
def end_pause(*, pause: Pause, until: date, by: User | None) -> Pause:
    """Letters may go out again from the day after."""
    require(by, Right.PEOPLE)
    if pause.until is not None and pause.until <= until:
        raise Refused("That pause has ended already.")
    pause.until = max(until, pause.since)
    store(pause)
    return pause


@transaction.atomic
def end_role(*, role: Role, until: date, by: User | None) -> Role:
    """A person is no longer keeper, payer or driver of a car. What was to end later may end sooner."""
    require(by, Right.PEOPLE)
    if role.until is not None and role.until <= until:
        raise Refused(f"That ended on {role.until:%-d %B %Y} already.")
    role.until = max(until, role.since) if role.since else until
    store(role)
    return role
