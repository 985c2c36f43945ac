"""A note reaches whoever has to do with the car when it leaves, and what cannot be written is not uncertain."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from crm.models import CarEvent, Contact, Message, Role
from crm.services.registry import add_contact, give_role
from tests import factories
from tests.post.cast import MAY, handed_over, message_of, turn, willing

Kind, State = Message.Kind, Message.State

pytestmark = pytest.mark.django_db


def _leaves(note: Message) -> Message:
    turn(note.next_try_at + timedelta(minutes=1))
    note.refresh_from_db()
    return note


def test_wash_note_of_a_sold_car_is_cancelled() -> None:
    visit = handed_over()
    factories.event(visit.car, CarEvent.Kind.SOLD, on=date(2026, 5, 4))
    note = _leaves(message_of(visit, Kind.WASH_NOW))
    assert (note.state, note.because) == (State.CANCELLED, "the car is sold")


def test_wash_note_is_cancelled_where_the_car_has_passed_to_somebody_else() -> None:
    visit = handed_over()
    give_role(car=visit.car, person=willing(), part=Role.Part.KEEPER, since=date(2026, 5, 5), by=None)
    note = _leaves(message_of(visit, Kind.WASH_NOW))
    assert (note.state, note.because) == (State.CANCELLED, "the car has passed to somebody else")


def test_wash_note_leaves_where_nothing_has_changed() -> None:
    assert _leaves(message_of(handed_over(), Kind.WASH_NOW)).state == State.SENT


def test_address_with_a_domain_beyond_ascii_is_stored_as_it_travels_and_sent() -> None:
    owner = factories.person(email=None)
    contact = add_contact(person=owner, kind=Contact.Kind.EMAIL, value="post@Münster.example", by=None)
    assert contact.value == "post@xn--mnster-3ya.example"
    note = message_of(handed_over(factories.car(keeper=owner)), Kind.AFTERCARE)
    turn(MAY)
    note.refresh_from_db()
    assert note.state == State.SENT


def test_message_that_cannot_be_written_as_a_mail_fails_and_is_not_uncertain() -> None:
    visit = handed_over()
    note = message_of(visit, Kind.AFTERCARE)
    Contact.objects.filter(person=note.person, kind=Contact.Kind.EMAIL).update(value="post@münster.example")
    turn(MAY)
    note.refresh_from_db()
    assert note.state == State.FAILED
    assert note.because.startswith("It could not be put into the form of a mail")
