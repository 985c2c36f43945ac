"""Booking, taking in, agreeing, cancelling: through the forms."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from crm.models import Branch, LeftForNextTime, Rank, Visit
from crm.services.visits import leave_for_next_time
from tests import factories as made

pytestmark = pytest.mark.django_db


def _arrival(**typed: Any) -> dict[str, Any]:
    return {"purpose": "detail", "do": "here", "odometer": "", "arrival_note": "", **typed}


def test_a_car_that_is_here_is_taken_in_at_once_with_miles_kept_as_kilometres() -> None:
    made.studio(units="miles")
    car, client = made.car(), made.signed_in(Rank.BENCH)
    typed = _arrival(odometer="38,053", arrival_note="chip to primer left mirror cap", acknowledged="on")
    answer = client.post(reverse("visit_new", args=[car.ref]), typed)
    row = Visit.objects.get(car=car)
    assert answer.headers["Location"] == reverse("visit", args=[row.pk])
    assert (row.state, row.odometer_km, row.arrival_note) == (
        "in_bay",
        61_240,
        "chip to primer left mirror cap",
    )
    assert row.acknowledged_at == row.arrived_at
    assert "38,053 miles" in client.get(reverse("bay", args=[row.pk])).content.decode()


def test_a_studio_in_kilometres_writes_kilometres() -> None:
    made.studio(units="km")
    car, client = made.car(), made.signed_in(Rank.BENCH)
    client.post(reverse("visit_new", args=[car.ref]), _arrival(odometer="61 240"))
    assert Visit.objects.get(car=car).odometer_km == 61_240


def test_a_booking_waits_and_is_taken_in_later() -> None:
    car, client = made.car(), made.signed_in(Rank.DESK)
    when = timezone.now() + timedelta(days=2)
    typed = {"purpose": "winter", "do": "book", "planned_in": when.strftime("%Y-%m-%dT%H:%M")}
    answer = client.post(reverse("visit_new", args=[car.ref]), typed, follow=True)
    row = Visit.objects.get(car=car)
    assert (row.state, row.purpose, row.arrived_at) == ("booked", "winter", None)
    assert "The car is here" in answer.content.decode()
    client.post(reverse("visit_arrive", args=[row.pk]), {"odometer": "100"})
    row.refresh_from_db()
    assert row.state == "in_bay"


def test_booking_for_a_day_that_is_over_is_refused() -> None:
    """A year typed wrong would leave a car that never comes."""
    car, client = made.car(), made.signed_in(Rank.DESK)
    when = timezone.now() - timedelta(days=2)
    typed = {"purpose": "winter", "do": "book", "planned_in": when.strftime("%Y-%m-%dT%H:%M")}
    answer = client.post(reverse("visit_new", args=[car.ref]), typed)
    assert answer.status_code == 422
    assert "That day is over." in answer.content.decode()
    assert not Visit.objects.exists()


def test_booking_without_a_time_asks_for_it_and_keeps_what_was_typed() -> None:
    car, client = made.car(), made.signed_in()
    answer = client.post(reverse("visit_new", args=[car.ref]), _arrival(do="book", arrival_note="wet dog"))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Say when the car comes in" in page
    assert "wet dog" in page
    assert not Visit.objects.exists()


def test_the_same_form_sent_twice_takes_the_car_in_once() -> None:
    car, client = made.car(), made.signed_in()
    typed = _arrival(once="k" * 22)
    client.post(reverse("visit_new", args=[car.ref]), typed)
    answer = client.post(reverse("visit_new", args=[car.ref]), typed)
    assert answer.status_code == 302
    assert Visit.objects.filter(car=car).count() == 1


def test_a_car_in_the_bay_is_not_taken_in_again() -> None:
    client = made.signed_in()
    stay = made.visit()
    answer = client.post(reverse("visit_new", args=[stay.car.ref]), _arrival())
    assert answer.status_code == 422
    assert "in the bay already" in answer.content.decode()
    assert Visit.objects.count() == 1


def test_an_odometer_that_ran_backwards_is_refused_beside_the_field() -> None:
    made.studio(units="km")
    car, client = made.car(), made.signed_in()
    made.visit(car, state=Visit.State.HANDED_OVER, odometer_km=61_240)
    answer = client.post(reverse("visit_new", args=[car.ref]), _arrival(odometer="60000"))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "cannot show less now" in page
    assert 'value="60000"' in page


@pytest.mark.parametrize(("units", "shown"), [("km", "61,240 km"), ("miles", "38,053 miles")])
def test_a_refused_odometer_is_told_in_the_studios_unit(units: str, shown: str) -> None:
    made.studio(units=units)
    car, client = made.car(), made.signed_in()
    made.visit(car, state=Visit.State.HANDED_OVER, odometer_km=61_240)
    page = client.post(reverse("visit_new", args=[car.ref]), _arrival(odometer="300")).content.decode()
    assert f"The odometer showed {shown} on " in page


def test_several_branches_are_chips_and_many_are_written_out() -> None:
    car = made.car()
    by = made.user(branch=None)
    client = made.signed_in(by=by)
    url = reverse("visit_new", args=[car.ref])
    Branch.objects.create(name="North Yard")
    assert 'type="radio" name="branch"' in client.get(url).content.decode()
    for number in range(8):
        Branch.objects.create(name=f"Yard {number}")
    page = client.get(url).content.decode()
    assert 'type="text" name="branch"' in page
    wrong = client.post(url, _arrival(branch="Yard\0 99"))
    assert "No open branch has that name" in wrong.content.decode()
    client.post(url, _arrival(branch="Yard 3"))
    assert Visit.objects.get(car=car).branch.name == "Yard 3"


def test_what_was_agreed_is_kept_and_shown() -> None:
    client, stay = made.signed_in(Rank.DESK), made.visit()
    typed = {"scope": "one-stage", "left_out": "door scratch", "promise": "24 months", "promise_months": "24"}
    client.post(reverse("visit_agree", args=[stay.pk]), {**typed, "hours": "22,5", "bay_min_c": "\u22121.5"})
    stay.refresh_from_db()
    assert (stay.scope, stay.promise_months, str(stay.hours), str(stay.bay_min_c)) == (
        "one-stage",
        24,
        "22.5",
        "-1.5",
    )
    page = client.get(reverse("bay", args=[stay.pk])).content.decode()
    assert "door scratch" in page


def test_a_promise_that_was_given_stands() -> None:
    client, stay = made.signed_in(), made.visit(state=Visit.State.HANDED_OVER)
    answer = client.post(reverse("visit_agree", args=[stay.pk]), {"promise": "for ever"})
    assert answer.status_code == 422
    assert "stands as it was given" in answer.content.decode()


@pytest.mark.parametrize(
    ("rank", "offered"), [(Rank.BENCH, False), (Rank.LEAD, True), (Rank.DESK, True), (Rank.MANAGER, True)]
)
def test_a_promise_is_asked_of_those_who_may_give_one(rank: Rank, offered: bool) -> None:
    client, stay = made.signed_in(rank), made.visit()
    Visit.objects.filter(pk=stay.pk).update(promise="Beads for two years", promise_months=24)
    url = reverse("visit_agree", args=[stay.pk])
    page = client.get(url).content.decode()
    assert ('name="promise"' in page, 'name="promise_months"' in page) == (offered, offered)
    assert "Beads for two years" in page


def test_the_bench_writes_down_what_was_agreed_and_leaves_the_promise_as_it_is() -> None:
    client, stay = made.signed_in(Rank.BENCH), made.visit()
    Visit.objects.filter(pk=stay.pk).update(promise="Beads for two years", promise_months=24)
    assert client.post(reverse("visit_agree", args=[stay.pk]), {"scope": "one-stage"}).status_code == 302
    stay.refresh_from_db()
    assert (stay.scope, stay.promise, stay.promise_months) == ("one-stage", "Beads for two years", 24)


def test_a_promise_that_the_bench_sends_all_the_same_is_refused_with_a_sentence() -> None:
    client, stay = made.signed_in(Rank.BENCH), made.visit()
    answer = client.post(reverse("visit_agree", args=[stay.pk]), {"promise": "for ever"})
    assert (answer.status_code, "may not do this" in answer.content.decode()) == (422, True)
    stay.refresh_from_db()
    assert stay.promise == ""


def test_a_promise_that_was_given_is_shown_and_not_asked_again() -> None:
    client, stay = made.signed_in(), made.visit(state=Visit.State.HANDED_OVER)
    Visit.objects.filter(pk=stay.pk).update(promise="Beads for two years", promise_months=24)
    page = client.get(reverse("visit_agree", args=[stay.pk])).content.decode()
    assert 'name="promise"' not in page
    assert "Beads for two years" in page


def test_left_for_next_time_is_read_on_the_next_visit_and_done_there() -> None:
    client, car = made.signed_in(), made.car()
    before = made.visit(car, state=Visit.State.HANDED_OVER, at=made.NOW - timedelta(days=90))
    left = leave_for_next_time(visit=before, text="look at the bonnet etch", at=before.arrived_at, by=None)  # type: ignore[arg-type]
    stay = made.visit(car)
    assert "look at the bonnet etch" in client.get(reverse("bay", args=[stay.pk])).content.decode()
    client.post(reverse("visit_left_done", args=[stay.pk, left.pk]))
    left.refresh_from_db()
    assert left.done_at is not None
    page = client.get(reverse("bay", args=[stay.pk])).content.decode()
    assert "Left for this time" not in page
    client.post(reverse("left_new", args=[stay.pk]), {"text": "halo stays", "surfaces": ["bonnet"]})
    row = LeftForNextTime.objects.get(text="halo stays")
    assert row.surfaces.keys() == ["bonnet"]


def test_ready_back_and_cancel_move_the_state_or_say_why_not() -> None:
    client, stay = made.signed_in(), made.visit()
    client.post(reverse("visit_ready", args=[stay.pk]))
    stay.refresh_from_db()
    assert stay.state == "ready"
    refused = client.post(reverse("visit_cancel", args=[stay.pk]), follow=True)
    assert "cannot become cancelled" in refused.content.decode()
    client.post(reverse("visit_back", args=[stay.pk]))
    client.post(reverse("visit_cancel", args=[stay.pk]))
    stay.refresh_from_db()
    assert stay.state == "cancelled"
    assert "was cancelled" in client.get(reverse("visit", args=[stay.pk])).content.decode()


def test_a_stay_under_way_is_its_bay_sheet_and_a_booking_is_not() -> None:
    client = made.signed_in()
    stay, booked = made.visit(), made.visit(state=Visit.State.BOOKED)
    assert client.get(reverse("visit", args=[stay.pk])).headers["Location"] == reverse("bay", args=[stay.pk])
    assert client.get(reverse("bay", args=[booked.pk])).headers["Location"] == reverse(
        "visit", args=[booked.pk]
    )
    assert client.get(reverse("visit", args=[10**17])).status_code == 404
