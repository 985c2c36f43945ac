"""What was written down for a day to come is called off: it never counts, and what made room for it stays."""

from __future__ import annotations

from datetime import date

import pytest

from crm.models import Car, Rank, Role
from crm.selectors.held import keeper_of, plate_of
from crm.services import registry
from crm.services.ahead import call_off_plate, call_off_role
from crm.services.errors import Refused
from tests import factories

pytestmark = pytest.mark.django_db
MARCH, APRIL, TODAY = date(2030, 3, 1), date(2030, 4, 1), date(2026, 5, 4)


def keep(car: Car, name: str, since: date) -> Role:
    return registry.give_role(
        car=car, person=factories.person(name), part=Role.Part.KEEPER, since=since, by=None
    )


def test_the_keeper_who_was_to_go_stays() -> None:
    ada = factories.person("Ada Quill")
    car = factories.car(keeper=ada)
    coming = call_off_role(role=keep(car, "Bram Harrow", MARCH), by=None)
    assert (coming.since, coming.until) == (MARCH, MARCH)
    assert [keeper_of(car, day) for day in (TODAY, MARCH, APRIL)] == [ada, ada, ada]
    assert list(coming.history.values_list("until", flat=True)) == [MARCH, None]


def test_in_a_row_of_keepers_the_one_before_stays_until_the_one_after() -> None:
    ada = factories.person("Ada Quill")
    car = factories.car(keeper=ada)
    second, third = keep(car, "Bram Harrow", MARCH), keep(car, "Cerys Oakshott", APRIL)
    second.refresh_from_db()
    call_off_role(role=second, by=None)
    assert [keeper_of(car, day) for day in (MARCH, APRIL)] == [ada, third.person]


def test_a_driver_who_does_not_come_changes_nobody_else() -> None:
    car = factories.car()
    car.roles.update(until=MARCH)
    driver = registry.give_role(car=car, person=factories.person(), part="driver", since=MARCH, by=None)
    call_off_role(role=driver, by=None)
    assert keeper_of(car, MARCH) is None


def test_the_plate_that_was_to_go_stays() -> None:
    car = factories.car("QA26 DEM")
    call_off_plate(plate=registry.give_plate(car=car, mark="QP11 VAT", since=MARCH, by=None), by=None)
    assert str(plate_of(car, MARCH)) == "QA26 DEM"


def test_the_plate_that_another_car_has_been_given_does_not_come_back() -> None:
    car, other = factories.car("QA26 DEM"), factories.car(None)
    coming = registry.give_plate(car=car, mark="QP11 VAT", since=MARCH, by=None)
    registry.give_plate(car=other, mark="QA26 DEM", since=MARCH, by=None)
    call_off_plate(plate=coming, by=None)
    assert (plate_of(car, MARCH), str(plate_of(other, MARCH))) == (None, "QA26 DEM")


def test_the_bench_calls_off_no_keeper() -> None:
    coming = keep(factories.car(), "Bram Harrow", MARCH)
    with pytest.raises(Refused, match="Your rank"):
        call_off_role(role=coming, by=factories.user(Rank.BENCH))
