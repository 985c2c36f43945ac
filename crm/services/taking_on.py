"""A car at first contact, with as much of its keeper as was said; and what is put right about it later."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from crm.models import Car, Consent, Contact, Person, Role, User
from crm.services.errors import Refused
from crm.services.forecasts import reforecast_car
from crm.services.people import hear_answer
from crm.services.registry import (
    Answer,
    NewCar,
    add_contact,
    give_role,
    index_car,
    normal_contact,
    same_person,
    stored_chassis,
    take_on_car,
    take_on_person,
)
from crm.services.rights import Right, require
from crm.services.storing import store


@dataclass(frozen=True, kw_only=True)
class NewKeeper:
    """A name, and what else was said: numbers may be missing, and the question may not have been put."""

    name: str
    phone: str = ""
    email: str = ""
    letters: bool | None = None
    """The answer to whether letters are wanted; None where nobody asked."""
    wording: str = ""
    """The question, word for word."""
    person: Person | None = None
    """Somebody on file whom a person at the desk picked as the one who is meant."""


@transaction.atomic
def take_on(*, car: NewCar, keeper: NewKeeper | None, by: User | None, on: date, now: datetime) -> Car:
    """Start the file of a car, and of its keeper where a name was given. Nothing is stored unless all of it is.

    Somebody on file with the same name and one of the same contacts is the same person.
    """
    if not any(
        (car.mark.strip(), car.chassis.strip(), car.make.strip(), car.model.strip(), car.colour.strip())
    ):
        raise Refused(
            "Write down at least one of plate, make, model, colour or chassis number.", field="mark"
        )
    stored_chassis(car.chassis)
    row = take_on_car(car=car, by=by, on=on)
    if keeper is not None:
        person = keeper_on_file(keeper=keeper, by=by, now=now)
        give_role(car=row, person=person, part=Role.Part.KEEPER, since=on, by=by)
    return row


@transaction.atomic
def keeper_on_file(*, keeper: NewKeeper, by: User | None, now: datetime) -> Person:
    """The person with this name and a contact in common, or a new one, with the contacts and the answer given."""
    require(by, Right.PEOPLE)
    given = [
        (kind, value)
        for kind, value in (
            (Contact.Kind.PHONE, keeper.phone.strip()),
            (Contact.Kind.EMAIL, keeper.email.strip()),
        )
        if value
    ]
    known = (same_person(name=keeper.name, value=normal_contact(kind, value)) for kind, value in given)
    person = keeper.person or next((found for found in known if found), None)
    person = person or take_on_person(name=keeper.name, by=by)
    for kind, value in given:
        add_contact(person=person, kind=kind, value=value, by=by)
    if keeper.letters is not None:
        answer = Answer(
            purpose=Consent.Purpose.LETTERS,
            channel=Contact.Kind.EMAIL,
            given=keeper.letters,
            wording=keeper.wording,
            how="when the car was taken on",
        )
        hear_answer(person=person, answer=answer, at=now, by=by)
    return person


@transaction.atomic
def change_car(*, car: Car, facts: NewCar, by: User | None) -> Car:
    """Correct what is known of a car; the plate has a verb of its own. The former values stay in the history."""
    require(by, Right.CARS)
    chassis = stored_chassis(facts.chassis)
    other = Car.objects.filter(chassis=chassis).exclude(pk=car.pk).first() if chassis else None
    if other:
        raise Refused(
            f"That chassis number is in the file of a {other}. Open that file instead.", field="chassis"
        )
    car.chassis, car.year = chassis, facts.year
    car.make, car.model, car.colour = facts.make.strip(), facts.model.strip(), facts.colour.strip()
    car.paint, car.paint_past, car.body = facts.paint, facts.paint_past, facts.body
    car.aluminium, car.plastic = facts.aluminium & car.surfaces, facts.plastic & car.surfaces
    car.circumstances = sorted(set(facts.circumstances))
    car.wash_plan, car.plan_anchor = facts.wash_plan, facts.plan_anchor
    car.do_nots = facts.do_nots.strip()
    store(car)
    index_car(car)
    # A row that was read before the studio's figures changed takes the mark of that change off again.
    reforecast_car(car)
    return car
