"""Cars and people: taken on, found under the right keys, and dated when something about them changes."""

from __future__ import annotations

from datetime import date

import pytest

from crm.care.terms import Parking
from crm.models import Car, Contact, FindKey, Forecast, Plate, Rank, Role
from crm.selectors.held import keeper_of, keepers_on, plate_of, plates_on
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


# What is dated ahead

MARCH, APRIL, TODAY = date(2030, 3, 1), date(2030, 4, 1), date(2026, 5, 4)


def keepers(car: Car, *days: date) -> list[str]:
    return [str(keeper_of(car, day)) for day in days]


def test_keeper_who_comes_sooner_than_one_dated_ahead_leaves_no_day_with_two() -> None:
    car = factories.car(keeper=factories.person("Ada Quill"))
    for name, since in (("Bram Harrow", APRIL), ("Cerys Oakshott", MARCH)):
        registry.give_role(car=car, person=factories.person(name), part="keeper", since=since, by=None)
    assert keepers(car, TODAY, MARCH, APRIL) == ["Ada Quill", "Cerys Oakshott", "Cerys Oakshott"]
    for day in (TODAY, MARCH, APRIL):
        assert keepers_on(day).filter(car=car).count() == 1


def test_keeper_dated_ahead_who_comes_sooner_ends_the_one_before_sooner() -> None:
    bram = factories.person("Bram Harrow")
    car = factories.car(keeper=factories.person("Ada Quill"))
    for since in (APRIL, MARCH):
        registry.give_role(car=car, person=bram, part="keeper", since=since, by=None)
    assert keepers(car, TODAY, MARCH) == ["Ada Quill", "Bram Harrow"]
    assert car.roles.get(person=bram).since == MARCH


def test_keeper_who_is_given_again_does_not_begin_anew() -> None:
    ada = factories.person("Ada Quill")
    car = factories.car(keeper=ada)
    registry.give_role(car=car, person=ada, part="keeper", since=date(2020, 1, 1), by=None)
    registry.give_role(car=car, person=ada, part="keeper", since=MARCH, by=None)
    assert [role.since for role in car.roles.all()] == [date(2022, 3, 1)]


def test_keepers_of_the_past_stay_as_they_were_written() -> None:
    car = factories.car(keeper=factories.person("Ada Quill"))
    for name, since in (("Bram Harrow", date(2024, 1, 1)), ("Cerys Oakshott", date(2023, 1, 1))):
        registry.give_role(car=car, person=factories.person(name), part="keeper", since=since, by=None)
    assert car.roles.get(person__name="Ada Quill").until == date(2024, 1, 1)


def test_plate_that_goes_on_sooner_than_one_dated_ahead_leaves_no_day_with_two() -> None:
    car = factories.car("QA26 DEM")
    for mark, since in (("QP11 VAT", APRIL), ("QZ76 DMO", MARCH)):
        registry.give_plate(car=car, mark=mark, since=since, by=None)
    marks = [str(plate_of(car, day)) for day in (TODAY, MARCH, APRIL)]
    assert marks == ["QA26 DEM", "QZ76 DMO", "QZ76 DMO"]
    assert [plates_on(day).filter(car=car).count() for day in (TODAY, MARCH, APRIL)] == [1, 1, 1]


def test_plate_dated_ahead_that_goes_on_sooner_takes_the_other_off_sooner() -> None:
    car = factories.car("QA26 DEM")
    for since in (APRIL, MARCH):
        registry.give_plate(car=car, mark="QP11 VAT", since=since, by=None)
    assert [str(plate_of(car, day)) for day in (TODAY, MARCH)] == ["QA26 DEM", "QP11 VAT"]


def test_plate_that_is_to_leave_a_car_later_cannot_go_onto_another_before() -> None:
    first, second = factories.car("QA26 DEM"), factories.car()
    registry.take_plate_off(plate=first.plates.get(), until=APRIL, by=None)
    with pytest.raises(Refused, match="QA26 DEM is on the file of a"):
        registry.give_plate(car=second, mark="QA26 DEM", since=MARCH, by=None)
    registry.give_plate(car=second, mark="QA26 DEM", since=APRIL, by=None)
    assert str(plate_of(first, MARCH)) == str(plate_of(second, APRIL)) == "QA26 DEM"


def test_plate_that_is_to_come_off_later_comes_off_sooner_and_not_later() -> None:
    plate = factories.car("QA26 DEM").plates.get()
    for until in (APRIL, MARCH):
        registry.take_plate_off(plate=plate, until=until, by=None)
    assert plate.until == MARCH
    with pytest.raises(Refused, match="QA26 DEM ends on 1 March 2030 already"):
        registry.take_plate_off(plate=plate, until=APRIL, by=None)
