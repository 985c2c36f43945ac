"""The studio has changed its figures: nobody is written to by a date that they have moved since."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine

from crm.care.forecast import around
from crm.models import Car, Forecast, Matter, Message
from crm.post.plan import plan_letters
from crm.selectors.stale import stale_count
from crm.services.own_numbers import set_number
from crm.services.stale import follow_stale, mark_stale
from crm.tasks import tick
from tests.post.cast import OCTOBER, FussyOffice, body, sealed_car, turn

pytestmark = pytest.mark.django_db
State = Message.State

GARAGE, SOONER = "wear.parking.garage", 1.1
"""A car in a garage wears this much faster by the studio's own count, so its dates are sooner."""


def _first_low(car: Car) -> date:
    low = Forecast.objects.filter(car=car).order_by("due_on").values_list("due_on", flat=True)[0]
    assert low is not None
    return low


def _summer_car() -> Car:
    """A car whose sealant thins in summer, when no winter prompt is in the way."""
    return sealed_car(at=datetime(2026, 3, 2, 10, tzinfo=UTC), salted=None)


def _due_day(car: Car) -> datetime:
    """10:00 on the day on which the reminder of the car's first layer is due."""
    day = _first_low(car) - timedelta(days=21)
    return datetime(day.year, day.month, day.day, 9, tzinfo=UTC)


def _own_figure() -> None:
    set_number(path=GARAGE, values=[SOONER], because="ours go sooner, the garages are damp", by=None)


def test_car_that_waits_for_its_forecast_is_left_out_of_the_round() -> None:
    car = _summer_car()
    now = _due_day(car)
    mark_stale(Car.objects.filter(pk=car.pk))
    assert plan_letters(now=now).letters == 0
    assert follow_stale(limit=10) == 1
    assert plan_letters(now=now + timedelta(days=1)).letters == 1


def test_turn_of_the_post_follows_the_figures_before_it_plans(office: FussyOffice) -> None:
    car = _summer_car()
    now, before = _due_day(car) - timedelta(days=7), _first_low(car)
    assert plan_letters(now=now).letters == 0
    _own_figure()
    with time_machine.travel(now, tick=False):
        tick()
    assert (stale_count(), _first_low(car) < before - timedelta(days=7)) == (0, True)
    assert [mail["To"] for mail in office.taken] != []
    facts = Matter.objects.filter(kind=Message.Kind.TOP_UP).values_list("facts", flat=True)
    assert min(fact["low"] for fact in facts) == _first_low(car).isoformat()


def test_letter_waits_while_the_forecast_of_its_car_is_worked_out(office: FussyOffice) -> None:
    car = sealed_car()
    plan_letters(now=OCTOBER)
    letter = Message.objects.get()
    mark_stale(Car.objects.filter(pk=car.pk))
    assert turn(OCTOBER).sent == 0
    letter.refresh_from_db()
    assert (letter.state, letter.because) == (
        State.WAITING,
        "the forecast of its car is being worked out again",
    )
    assert timedelta(minutes=10) <= letter.next_try_at - OCTOBER < timedelta(minutes=11)
    assert not Matter.objects.exclude(dropped_because="").exists()
    follow_stale(limit=10)
    assert turn(OCTOBER + timedelta(minutes=11)).sent == 1


def test_letter_tells_the_date_as_it_stands_when_it_leaves(office: FussyOffice) -> None:
    car = _summer_car()
    now = _due_day(car)
    plan_letters(now=now)
    old = min(date.fromisoformat(facts["low"]) for facts in Matter.objects.values_list("facts", flat=True))
    # Later, and soon enough to be worth writing about.
    moved = old + timedelta(days=30)
    Forecast.objects.filter(car=car).update(low=moved, due_on=moved, likely=moved + timedelta(days=60))
    assert turn(now).sent == 1
    said = " ".join(body(office.taken[0]).split())
    assert around(old) != around(moved)
    assert [f"thin from {around(day)} on" in said for day in (old, moved)] == [False, True]
