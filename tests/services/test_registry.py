"""Cars and people: taken on, found under the right keys, and dated when something about them changes."""

from __future__ import annotations

from datetime import date

import pytest

from crm.care.terms import Parking
from crm.models import Car, Contact, FindKey, Forecast, Plate, Rank, Role
from crm.services import registry
from crm.services.errors import Refused
from tests import factories

pytestmark = pytest.mark.django_db


def test_car_without_plate_or_chassis_is_taken_on() -> None:
    factories.studio()
    car = registry.take_on_car(car=registry.NewCar(colour="Blue", model="estate"), by=None)
    assert (car.known_as, car.plates.count(), len(car.ref)) == ("blue estate", 0, 7)


def test_plate_of_another_car_is_refused_with_that_car_named() -> None:
    factories.studio()
    registry.take_on_car(car=registry.NewCar(mark="QA26 DEM", colour="red", make="Corrie"), by=None)
    with pytest.raises(Refused) as refused:
        registry.take_on_car(car=registry.NewCar(mark="qa26-dem"), by=None)
    assert refused.value.sentence == (
        "QA26 DEM is on the file of a red Corrie. If the plate has moved, end it there first."
    )
    assert Car.objects.count() == 1


def test_chassis_number_belongs_to_one_car() -> None:
    factories.studio()
    registry.take_on_car(car=registry.NewCar(chassis="11111111111111111", model="Estate"), by=None)
    with pytest.raises(Refused, match="already in the file of a Estate"):
        registry.take_on_car(car=registry.NewCar(chassis="1111 1111 1111 1111 1"), by=None)


def test_new_plate_ends_the_old_one_and_both_stay_findable() -> None:
    car = factories.car(mark="QA26 DEM")
    registry.give_plate(car=car, mark="QZ76 DMO", since=date(2026, 9, 1), by=None)
    assert list(car.plates.values_list("normal", "until")) == [
        ("QZ76DMO", None),
        ("QA26DEM", date(2026, 9, 1)),
    ]
    keys = set(FindKey.objects.filter(car=car, kind="plate").values_list("key", flat=True))
    assert {"0A26DEM", "DEM", "QA26DEM"} & keys
    assert Plate.objects.filter(until__isnull=True).count() == 1


def test_plate_moves_to_another_car_once_it_has_ended_on_the_first() -> None:
    first, second = factories.car(mark="QA26 DEM"), factories.car()
    registry.take_plate_off(plate=first.plates.get(), until=date(2026, 3, 1), by=None)
    registry.give_plate(car=second, mark="QA26 DEM", since=date(2026, 3, 2), by=None)
    assert second.plates.get(until__isnull=True).normal == "QA26DEM"


def test_new_keeper_ends_the_one_before_and_a_second_driver_does_not() -> None:
    car = factories.car()
    first, second = factories.person(), factories.person()
    for part in (Role.Part.KEEPER, Role.Part.DRIVER):
        registry.give_role(car=car, person=first, part=part, since=date(2024, 1, 1), by=None)
        registry.give_role(car=car, person=second, part=part, since=date(2026, 1, 1), by=None)
    standing = car.roles.filter(until__isnull=True).values_list("part", "person_id")
    assert sorted(standing) == sorted([("driver", first.pk), ("driver", second.pk), ("keeper", second.pk)])


def test_telephone_number_is_stored_in_its_international_form_once() -> None:
    """Number from the block that Ofcom keeps for drama: possible, though no library calls it valid."""
    person = factories.person(phone=None, email=None)
    for value in ("07700 900123", "+44 7700 900123"):
        registry.add_contact(person=person, kind=Contact.Kind.PHONE, value=value, by=None)
    assert [contact.value for contact in person.contacts.all()] == ["+447700900123"]


@pytest.mark.parametrize("value", ["kit", "kit@", "@example.com", "kit example.com", "a@b@example.com", ""])
def test_what_is_no_email_address_is_refused_with_a_sentence(value: str) -> None:
    with pytest.raises(Refused, match="is not an e-mail address"):
        registry.add_contact(person=factories.person(email=None), kind="email", value=value, by=None)


def likely_dates(car: Car) -> dict[str, date]:
    rows = Forecast.objects.filter(car=car)
    return {row.zone: row.likely for row in rows if row.likely is not None}


def test_keeping_moves_the_forecasts_and_keeps_the_history() -> None:
    car = factories.car()
    factories.layer(car)
    before = likely_dates(car)
    kept = registry.HowKept(
        since=date(2022, 1, 1), parking=Parking.NEAR_SEA, km_a_year=40_000, salted_roads=True
    )
    registry.write_down_keeping(car=car, kept=kept, by=None)
    after = likely_dates(car)
    assert len(before) == len(after) == 4
    assert all(after[zone] < likely for zone, likely in before.items())
    registry.write_down_keeping(car=car, kept=registry.HowKept(since=date(2023, 1, 1), stored=True), by=None)
    car.refresh_from_db()
    assert (car.status, car.keepings.count()) == (Car.Status.STORED, 2)


def test_bench_may_take_on_a_car_but_not_a_person() -> None:
    bench = factories.user(Rank.BENCH)
    registry.take_on_car(car=registry.NewCar(colour="green"), by=bench)
    with pytest.raises(Refused, match="Your rank"):
        registry.take_on_person(name="Ada Quill", by=bench)


def test_changes_are_kept_with_who_made_them() -> None:
    car = factories.car(mark="QA26 DEM")
    registry.give_plate(car=car, mark="QZ76 DMO", since=date(2026, 9, 1), by=None)
    old = car.plates.get(normal="QA26DEM")
    assert list(old.history.values_list("until", flat=True)) == [date(2026, 9, 1), None]
