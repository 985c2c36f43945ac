"""What waits about a car that was sold, scrapped or stolen, and planning afresh when that was a mistake."""

from __future__ import annotations

from datetime import timedelta

import pytest

from crm.models import Car, CarEvent, Message
from crm.post.plan import plan_letters
from crm.services.registry import give_role
from crm.services.taking_back import take_back_event
from tests import factories
from tests.post.cast import (
    MAY,
    OCTOBER,
    FussyOffice,
    handed_over,
    message_of,
    sealed_car,
    turn,
    willing,
)

pytestmark = pytest.mark.django_db
Kind, State = Message.Kind, Message.State
DAY = timedelta(days=1)


def _gone(car: Car, kind: CarEvent.Kind = CarEvent.Kind.SOLD) -> CarEvent:
    return factories.event(car, kind, on=OCTOBER.date(), now=OCTOBER)


def _letters() -> list[tuple[str, str]]:
    return [(message.state, message.because) for message in Message.objects.order_by("pk")]


@pytest.mark.parametrize(
    ("kind", "because"),
    [
        (CarEvent.Kind.SOLD, "the car is sold"),
        (CarEvent.Kind.SCRAPPED, "the car is scrapped or exported"),
        (CarEvent.Kind.STOLEN, "the car is stolen"),
    ],
)
def test_the_wash_note_that_waits_is_cancelled_at_once_with_the_reason(
    kind: CarEvent.Kind, because: str
) -> None:
    stay = handed_over()
    note = message_of(stay, Kind.WASH_NOW)
    assert note.state == State.WAITING
    factories.event(stay.car, kind, on=MAY.date(), now=MAY + timedelta(hours=1))
    note.refresh_from_db()
    assert (note.state, note.because) == (State.CANCELLED, because)


def test_another_event_calls_nothing_off() -> None:
    stay = handed_over()
    factories.event(stay.car, CarEvent.Kind.TUNNEL_WASH, on=MAY.date(), now=MAY)
    assert message_of(stay, Kind.WASH_NOW).state == State.WAITING


def test_a_letter_about_two_cars_leaves_the_sold_one_out_and_goes(office: FussyOffice) -> None:
    keeper = willing()
    estate, van = sealed_car(keeper), sealed_car(keeper, make="Marram", model="Van")
    plan_letters(now=OCTOBER)
    letter = Message.objects.get()
    assert {matter.car for matter in letter.matters.all()} == {estate, van}
    _gone(van)
    letter.refresh_from_db()
    assert letter.state == State.WAITING
    assert {matter.dropped_because for matter in letter.matters.filter(car=van)} == {"the car is sold"}
    assert {matter.dropped_because for matter in letter.matters.filter(car=estate)} == {""}
    turn(OCTOBER)
    assert len(office.taken) == 1


def test_a_sale_written_down_late_calls_off_what_waits_for_the_former_keeper_alone() -> None:
    car = sealed_car()
    former = car.roles.get().person
    plan_letters(now=OCTOBER)
    factories.event(car, CarEvent.Kind.OTHER, on=OCTOBER.date(), now=OCTOBER)
    give_role(car=car, person=willing(), part="keeper", since=OCTOBER.date() - DAY, by=None)
    factories.event(car, CarEvent.Kind.SOLD, on=OCTOBER.date() - 2 * DAY, now=OCTOBER)
    letter = Message.objects.get(person=former)
    assert (letter.state, letter.because) == (State.CANCELLED, "the car has passed to somebody else")


def test_after_a_sale_by_mistake_the_letter_stays_cancelled_and_is_planned_afresh(
    office: FussyOffice,
) -> None:
    car = sealed_car()
    plan_letters(now=OCTOBER)
    sale = _gone(car)
    plan_letters(now=OCTOBER)
    assert _letters() == [(State.CANCELLED, "the car is sold")]
    take_back_event(event=sale, because="wrong car", by=None, now=OCTOBER)
    assert _letters() == [(State.CANCELLED, "the car is sold")]
    plan_letters(now=OCTOBER)
    turn(OCTOBER)
    assert _letters() == [(State.CANCELLED, "the car is sold"), (State.SENT, "")]
    assert len(office.taken) == 1


def test_a_letter_that_a_person_cancelled_is_not_planned_afresh() -> None:
    car = sealed_car()
    plan_letters(now=OCTOBER)
    who = factories.user()
    Message.objects.update(state=State.CANCELLED, because="rang her instead", touched_by=who)
    sale = _gone(car)
    take_back_event(event=sale, because="wrong car", by=None, now=OCTOBER)
    plan_letters(now=OCTOBER)
    assert _letters() == [(State.CANCELLED, "rang her instead")]


def test_the_wash_note_of_a_car_that_is_back_stays_called_off() -> None:
    stay = handed_over()
    sale = factories.event(stay.car, CarEvent.Kind.SOLD, on=MAY.date(), now=MAY)
    take_back_event(event=sale, because="wrong car", by=None, now=MAY)
    assert message_of(stay, Kind.WASH_NOW).state == State.CANCELLED
