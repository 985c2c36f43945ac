"""Two people at one visit, days in the studio's own zone, and roles that follow one another."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from crm.care.surfaces import PANELS
from crm.care.terms import EndReason, Process
from crm.models import Car, CarEvent, Role, Visit
from crm.services.bench import end_layer, record_step, take_back_ending
from crm.services.errors import Refused
from crm.services.hand_over import hand_over
from crm.services.registry import give_role
from crm.services.visits import Agreed, agree
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db


def test_promise_that_was_typed_before_the_hand_over_does_not_undo_it() -> None:
    stay = factories.visit(factories.car(), at=NOW - timedelta(hours=6))
    opened_before = Visit.objects.get(pk=stay.pk)
    hand_over(visit=stay, by=None, at=NOW, now=NOW)
    with pytest.raises(Refused, match="stands as it was given"):
        agree(visit=opened_before, agreed=Agreed(promise="Two years", promise_months=24), by=None)
    stay.refresh_from_db()
    assert (stay.state, stay.handed_over_at, stay.promise) == (Visit.State.HANDED_OVER, NOW, "")


def test_work_is_held_against_the_day_of_arrival_in_the_studios_zone() -> None:
    factories.studio(time_zone="America/New_York")
    came = datetime(2026, 5, 5, 1, 0, tzinfo=UTC)  # 21:00 on 4 May in the studio
    stay = factories.visit(factories.car(), at=came)
    facts: dict[str, Any] = {
        "process": Process.CONTACT_WASH,
        "surfaces": PANELS,
        "by": None,
        "now": came + timedelta(days=1),
    }
    earlier_that_day = datetime(2026, 5, 4, 23, 30, tzinfo=UTC)
    assert record_step(visit=stay, at=earlier_that_day, **facts).at == earlier_that_day
    with pytest.raises(Refused, match="only came in on 4 May 2026"):
        record_step(visit=stay, at=datetime(2026, 5, 4, 3, 30, tzinfo=UTC), **facts)


def test_ending_is_not_of_tomorrow_and_is_taken_back_once() -> None:
    layer = factories.layer(factories.car())
    facts: dict[str, Any] = {
        "layer": layer,
        "surfaces": layer.surfaces,
        "why": EndReason.WORN,
        "by": None,
        "now": NOW,
    }
    with pytest.raises(Refused, match="has not come yet"):
        end_layer(at=NOW + timedelta(hours=1), **facts)
    ending = end_layer(at=NOW, **facts)
    take_back_ending(ending=ending, because="wrong car", by=None, now=NOW)
    with pytest.raises(Refused, match="taken back already"):
        take_back_ending(ending=ending, because="again", by=None, now=NOW)


def test_keeper_who_is_entered_late_never_ends_the_one_before_ahead_of_their_time() -> None:
    car = factories.car(since=date(2024, 5, 1))
    before = Role.objects.get(car=car)
    give_role(car=car, person=factories.person(), part=Role.Part.KEEPER, since=date(2023, 1, 1), by=None)
    before.refresh_from_db()
    assert before.until == date(2024, 5, 1)


def test_sold_car_is_active_again_once_it_has_a_new_keeper() -> None:
    car = factories.car()
    factories.event(car, CarEvent.Kind.SOLD, on=date(2026, 5, 1))
    car.refresh_from_db()
    give_role(car=car, person=factories.person(), part=Role.Part.KEEPER, since=date(2020, 1, 1), by=None)
    assert car.status == Car.Status.SOLD
    give_role(car=car, person=factories.person(), part=Role.Part.KEEPER, since=date(2026, 5, 2), by=None)
    assert Car.objects.get(pk=car.pk).status == Car.Status.ACTIVE
