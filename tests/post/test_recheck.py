"""What was true when a message was planned is asked again when it leaves."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from crm.models import Car, Contact, Forecast, Matter, Message, Pause, Person, Role, Visit
from crm.post.housekeeping import tidy
from crm.post.plan import plan_letters
from crm.post.stop import stop_letters
from crm.services.registry import give_role
from tests import factories
from tests.post.cast import (
    MAY,
    OCTOBER,
    FussyOffice,
    body,
    handed_over,
    message_of,
    sealed_car,
    turn,
    willing,
)

pytestmark = pytest.mark.django_db
Kind, State = Message.Kind, Message.State


def _letter(*cars: Car) -> Message:
    """The letter that waits after a round in October."""
    plan_letters(now=OCTOBER)
    return Message.objects.get(person=cars[0].roles.get().person)


def _left(letter: Message, now: datetime = OCTOBER) -> tuple[str, str]:
    turn(now)
    letter.refresh_from_db()
    return letter.state, letter.because


def test_letter_whose_facts_still_hold_leaves(office: FussyOffice) -> None:
    letter = _letter(sealed_car())
    assert _left(letter) == (State.SENT, "")
    assert len(office.taken) == 1


def test_consent_withdrawn_after_planning_cancels(office: FussyOffice) -> None:
    car = sealed_car()
    letter = _letter(car)
    factories.consent(letter.person, given=False, at=OCTOBER - timedelta(hours=1))
    assert _left(letter) == (State.CANCELLED, "said no to letters on 6 October 2026")
    assert office.taken == []


def test_stop_link_cancels_what_waits_and_everything_after(office: FussyOffice) -> None:
    car = sealed_car()
    letter = _letter(car)
    assert stop_letters(person=letter.person, how="the link in a letter", now=OCTOBER) == 1
    letter.refresh_from_db()
    assert (letter.state, letter.because) == (State.CANCELLED, "no more letters: the link in a letter")
    assert turn(OCTOBER).sent == 0


def test_pause_begun_after_planning_cancels_without_saying_more_than_it_must(office: FussyOffice) -> None:
    letter = _letter(sealed_car())
    Pause.objects.create(person=letter.person, why=Pause.Why.BEREAVEMENT, since=OCTOBER.date())
    assert _left(letter) == (State.CANCELLED, "paused since 6 October 2026")


def test_death_stops_notes_too(office: FussyOffice) -> None:
    visit = handed_over()
    Person.objects.update(deceased=True)
    assert turn(MAY).sent == 0
    assert set(Message.objects.filter(visit=visit, not_before=MAY).values_list("state", "because")) == {
        (State.CANCELLED, "nothing is sent to this person")
    }


def test_note_needs_no_consent_and_heeds_no_pause(office: FussyOffice) -> None:
    keeper = factories.person(letters=False)
    Pause.objects.create(person=keeper, why=Pause.Why.COMPLAINT, since=MAY.date())
    handed_over(factories.car(keeper=keeper))
    assert turn(MAY).sent == 1


def test_note_without_an_address_says_so(office: FussyOffice) -> None:
    visit = handed_over(factories.car(keeper=factories.person(email=None)))
    turn(MAY)
    note = message_of(visit, Kind.AFTERCARE)
    assert (note.state, note.because) == (State.CANCELLED, "no working e-mail address is known")


def test_dead_address_gives_way_to_the_next(office: FussyOffice) -> None:
    visit = handed_over()
    note = message_of(visit, Kind.AFTERCARE)
    Contact.objects.filter(person=note.person, kind="email").update(dead_since=MAY)
    Contact.objects.create(person=note.person, kind="email", value="second@example.org")
    turn(MAY)
    note.refresh_from_db()
    assert (note.state, note.address) == (State.SENT, "second@example.org")


@pytest.mark.parametrize(
    ("happened", "because"),
    [
        ("sold", "the car is sold"),
        ("stored", "the car is in storage"),
        ("booked", "the car is expected on 9 October 2026"),
        ("seen", "the car was here on 5 October 2026"),
        ("keeper", "the car has another keeper"),
    ],
)
def test_what_happened_to_the_car_since_planning_cancels(
    office: FussyOffice, happened: str, because: str
) -> None:
    car = sealed_car()
    letter = _letter(car)
    match happened:
        case "sold":
            Car.objects.update(status=Car.Status.SOLD)
        case "stored":
            factories.keeping(car, since=date(2026, 10, 1), salted_roads=True, stored=True)
        case "booked":
            factories.visit(car, state=Visit.State.BOOKED, at=OCTOBER + timedelta(days=3))
        case "seen":
            factories.visit(car, state=Visit.State.HANDED_OVER, at=OCTOBER - timedelta(days=1))
        case _:
            Role.objects.filter(car=car).update(until=date(2026, 10, 5))
            give_role(car=car, person=willing(), part=Role.Part.KEEPER, since=date(2026, 10, 5), by=None)
    assert _left(letter) == (State.CANCELLED, because)


def test_one_matter_dropped_leaves_the_others(office: FussyOffice) -> None:
    keeper = willing()
    estate = sealed_car(keeper)
    van = sealed_car(keeper, make="Marram", model="Van", colour="White")
    letter = _letter(estate, van)
    factories.visit(van, state=Visit.State.BOOKED, at=OCTOBER + timedelta(days=3))
    assert _left(letter)[0] == State.SENT
    (mail,) = office.taken
    assert "blue Halden Estate" in body(mail)
    assert "Marram" not in body(mail)
    dropped = set(Matter.objects.filter(car=van).values_list("dropped_because", flat=True))
    assert dropped == {"the car is expected on 9 October 2026"}


@pytest.mark.parametrize(
    ("came", "letters"),
    [(Visit.State.CANCELLED, 1), (Visit.State.BOOKED, 1), (Visit.State.HANDED_OVER, 0)],
    ids=["cancelled", "nobody came", "was here"],
)
def test_what_was_put_off_for_a_visit_is_written_about_when_nothing_comes_of_it(
    office: FussyOffice, came: str, letters: int
) -> None:
    car = sealed_car()
    letter = _letter(car)
    booked = factories.visit(car, state=Visit.State.BOOKED, at=OCTOBER + timedelta(days=3))
    assert _left(letter)[0] == State.CANCELLED
    plan_letters(now=OCTOBER + timedelta(days=1))
    assert Message.objects.count() == 1
    there = OCTOBER + timedelta(days=3) if came == Visit.State.HANDED_OVER else None
    Visit.objects.filter(pk=booked.pk).update(state=came, arrived_at=there, handed_over_at=there)
    after = OCTOBER + timedelta(days=6)
    plan_letters(now=after)
    turn(after)
    assert len(office.taken) == letters
    assert Matter.objects.filter(message__state=State.SENT, kind=Kind.WINTER).count() == letters


def test_layer_that_lasts_longer_than_was_thought_is_dropped(office: FussyOffice) -> None:
    letter = _letter(sealed_car())
    far = date(2028, 5, 1)
    Forecast.objects.update(due_on=far, low=far, likely=far, high=far)
    state, because = _left(letter)
    assert state == State.CANCELLED
    assert "its layers are likely to hold through the salted months" in because


def test_letter_that_waited_out_the_prompting_weeks_is_dropped(office: FussyOffice) -> None:
    car = sealed_car(life=(6, 7, 9))
    now = datetime(2026, 11, 12, 10, tzinfo=UTC)
    Forecast.objects.update(due_on=date(2027, 6, 1))
    plan_letters(now=now)
    letter = Message.objects.get(person=car.roles.get().person)
    assert _left(letter, now + timedelta(days=5)) == (
        State.CANCELLED,
        "winter prompts are not sent at this time of year",
    )


def test_expired_message_is_missed(office: FussyOffice) -> None:
    visit = handed_over()
    turn(MAY + timedelta(days=7))
    note = message_of(visit, Kind.AFTERCARE)
    assert (note.state, note.because) == (State.MISSED, "it was of use until 11 May 2026, 15:10 only")
    assert [str(mail["Subject"]) for mail in office.taken] == ["You may wash your blue Halden Estate now"]


def test_nothing_leaves_at_night_after_an_outage(office: FussyOffice) -> None:
    handed_over()
    night = datetime(2026, 5, 5, 1, 30, tzinfo=UTC)
    assert turn(night).sent == 0
    note = Message.objects.get(kind=Kind.AFTERCARE)
    assert (note.state, note.next_try_at) == (State.WAITING, datetime(2026, 5, 5, 8, tzinfo=UTC))
    assert turn(datetime(2026, 5, 5, 8, 1, tzinfo=UTC)).sent == 1


def test_note_may_leave_in_the_evening_right_after_the_hand_over(office: FussyOffice) -> None:
    evening = datetime(2026, 5, 4, 19, 45, tzinfo=UTC)
    handed_over(at=evening)
    assert turn(evening + timedelta(minutes=1)).sent == 1


def test_wash_note_leaves_once_when_its_clock_has_ended(office: FussyOffice) -> None:
    visit = handed_over()
    turn(MAY)
    ends = visit.layers.get().wash_from
    assert turn(ends - timedelta(minutes=1)).sent == 0
    assert turn(ends + timedelta(minutes=1)).sent == 1
    assert turn(ends + timedelta(minutes=2)).sent == 0
    assert [str(mail["Subject"]) for mail in office.taken][1] == "You may wash your blue Halden Estate now"


def test_wash_note_follows_a_clock_that_was_put_right(office: FussyOffice) -> None:
    visit = handed_over()
    turn(MAY)
    layer = visit.layers.get()
    planned = layer.wash_from
    layer.wash_from = planned + timedelta(days=2)
    layer.save()
    assert turn(planned + timedelta(minutes=1)).sent == 0
    note = message_of(visit, Kind.WASH_NOW)
    assert (note.state, note.next_try_at) == (State.WAITING, layer.wash_from)
    assert turn(layer.wash_from + timedelta(minutes=1)).sent == 1


def test_wash_note_gives_way_to_a_newer_layer_that_sets(office: FussyOffice) -> None:
    visit = handed_over()
    turn(MAY)
    ends = visit.layers.get().wash_from
    factories.layer(visit.car, at=ends - timedelta(hours=3))
    turn(ends + timedelta(minutes=1))
    note = message_of(visit, Kind.WASH_NOW)
    assert note.state == State.CANCELLED
    assert note.because.startswith("a newer layer is setting until ")


def test_cap_reached_since_planning_cancels(office: FussyOffice) -> None:
    letter = _letter(sealed_car())
    factories.studio(letters_a_year=0)
    assert _left(letter) == (State.CANCELLED, "0 letters in the last twelve months, and 0 are the most")


def test_held_message_is_missed_once_its_time_has_passed() -> None:
    visit = handed_over()
    Message.objects.filter(visit=visit, kind=Kind.AFTERCARE).update(state=State.HELD)
    assert tidy(now=MAY + timedelta(days=6)) == 0
    assert tidy(now=MAY + timedelta(days=8)) == 1
    note = message_of(visit, Kind.AFTERCARE)
    assert (note.state, note.because) == (State.MISSED, "its time has passed")
