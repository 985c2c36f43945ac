"""The record that the bench makes up: exact in size, and as the services would have written it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from math import gcd
from random import Random

import pytest
from django.db import connection

from crm.care.bodies import Body
from crm.care.cure import clocks, cure_of
from crm.care.forecast import outlook
from crm.care.surfaces import Zone
from crm.care.telephone import to_e164
from crm.care.terms import ProductClass
from crm.management.bench import invented
from crm.management.bench.filling import NAME, TABLES, InUse, filled
from crm.management.bench.fleet import reference
from crm.management.bench.plan import REGULAR_VISITS, Sizes, planned_visits
from crm.models import Car, FindKey, Forecast, Grade, Layer, Person, Studio, Visit
from crm.selectors.coats import car_facts, coat_of, layers_of, live_surfaces
from crm.selectors.studio import seasons_of
from crm.services.registry import index_car, index_person
from tests import factories

SIZES = Sizes(cars=50, layers=800)
TODAY = date(2026, 5, 4)

in_real_transactions = pytest.mark.django_db(transaction=True)


@pytest.fixture
def record(transactional_db: None) -> Sizes:
    filled(SIZES, today=TODAY, say=lambda _: None)
    return SIZES


def _indexes() -> set[str]:
    with connection.cursor() as cursor:
        return {
            name
            for model in TABLES
            for name in connection.introspection.get_constraints(cursor, model._meta.db_table)
        }


@pytest.mark.parametrize("sizes", [Sizes(cars=1, layers=1), Sizes(cars=30, layers=20), SIZES])
def test_plan_lays_exactly_as_many_layers_as_asked_for(sizes: Sizes) -> None:
    plan = planned_visits(sizes, Random(1))
    assert len(plan) == sizes.cars
    assert sum(len(work.laid) for visits in plan for work in visits) == sizes.layers


def test_plan_lets_one_car_come_more_than_a_hundred_times() -> None:
    plan = planned_visits(SIZES, Random(1))
    assert len(plan[0]) >= REGULAR_VISITS
    assert all(plan)
    assert planned_visits(SIZES, Random(1)) == plan


def test_plates_are_all_different_and_none_can_be_issued() -> None:
    assert gcd(invented._STRIDE, invented._MARKS) == 1
    marks = [invented.mark(place) for place in range(30_000)]
    assert len(set(marks)) == len(marks)
    assert {mark[0] for mark in marks} == {"Q"}


def test_references_and_chassis_numbers_are_all_different() -> None:
    assert len({reference(number) for number in range(1, 30_001)}) == 30_000
    assert len({invented.chassis(number) for number in range(1, 30_001)}) == 30_000


def test_telephone_numbers_are_stored_as_the_services_store_them() -> None:
    dice = Random(1)
    numbers = [invented.number(dice) for _ in range(200)]
    assert [to_e164(number, "GB") for number in numbers] == numbers


def test_record_has_the_sizes_asked_for(record: Sizes) -> None:
    assert Car.objects.count() == record.cars
    assert Layer.objects.count() == record.layers
    assert Visit.objects.filter(car=Car.objects.earliest("pk")).count() >= REGULAR_VISITS
    assert Grade.objects.filter(grade__gt=4).count() == 0
    connection.check_constraints()


def test_record_is_found_by_the_keys_that_the_services_write(record: Sizes) -> None:
    def keys() -> set[tuple[str, str, int | None, int | None]]:
        return set(FindKey.objects.values_list("kind", "key", "car", "person"))

    before = keys()
    for car in Car.objects.all():
        index_car(car)
    for person in Person.objects.all():
        index_person(person)
    assert keys() == before


def test_record_forecasts_are_the_engines_own_for_what_is_left_on_the_car(record: Sizes) -> None:
    studio = Studio.objects.get()
    for car in Car.objects.all()[:12]:
        layers = {layer.pk: layer for layer in layers_of(car)}
        facts = car_facts(car, list(layers.values()))
        live = dict.fromkeys(layers, 0)
        for row in Forecast.objects.filter(car=car):
            coat = coat_of(layers[row.layer_id], Zone(row.zone), facts, studio)
            window = outlook(coat, habits=facts.habits, seasons=seasons_of(studio)).window
            assert window is not None
            assert (row.low, row.likely, row.high) == (window.low, window.likely, window.high)
            assert row.due_on == (window.low if row.live else None)
            live[row.layer_id] |= row.live.bits
        assert live == {pk: live_surfaces(layer).bits for pk, layer in layers.items()}


def test_record_layers_lie_on_surfaces_the_car_has_and_wait_as_their_class_does(record: Sizes) -> None:
    for layer in Layer.objects.select_related("car", "product")[:200]:
        assert layer.surfaces <= layer.car.surfaces
        ends = clocks(
            cure_of(ProductClass(layer.product.product_class)), applied_at=layer.laid_at, coldest_c=None
        )
        found = (layer.drive_from, layer.dry_until, layer.wash_from, layer.topper_from, layer.cured_at)
        assert found == (ends.drive_from, ends.dry_until, ends.wash_from, ends.topper_from, ends.cured_at)
    assert {Body(body) for body in Car.objects.values_list("body", flat=True)} == set(Body)


@in_real_transactions
def test_filling_leaves_every_index_and_constraint_as_it_was() -> None:
    before = _indexes()
    filled(SIZES, today=TODAY, say=lambda _: None)
    assert _indexes() == before


def test_filling_again_finds_the_record_and_adds_nothing(record: Sizes) -> None:
    told: list[str] = []
    filled(record, today=TODAY, say=told.append)
    assert told == ["50 cars, 800 layers: there already"]
    assert Layer.objects.count() == record.layers


def test_filling_refuses_a_record_of_other_sizes(record: Sizes) -> None:
    with pytest.raises(InUse, match=r"^That database holds 50 cars, 800 layers\. "):
        filled(Sizes(cars=51, layers=800), today=TODAY, say=lambda _: None)


@in_real_transactions
def test_filling_refuses_the_database_of_a_studio_and_writes_nothing() -> None:
    factories.studio()
    with pytest.raises(InUse, match=r"^That database is in use: it is the record of Greywater Yard\. "):
        filled(SIZES, today=TODAY, say=lambda _: None)
    assert not Car.objects.exists()
    assert not Studio.objects.filter(name=NAME).exists()


@in_real_transactions
def test_filling_refuses_cars_without_a_studio() -> None:
    Car.objects.create()
    with pytest.raises(InUse, match=r"^That database holds cars but no studio"):
        filled(SIZES, today=TODAY, say=lambda _: None)
    assert Car.objects.count() == 1


@in_real_transactions
def test_filling_that_fails_leaves_the_indexes(monkeypatch: pytest.MonkeyPatch) -> None:
    before = _indexes()

    def fail(*_: object, **__: object) -> Callable[[], None]:
        raise OSError("no space left")

    monkeypatch.setattr("crm.management.bench.filling.planned_visits", fail)
    with pytest.raises(OSError, match="no space"):
        filled(SIZES, today=TODAY, say=lambda _: None)
    assert _indexes() == before
    assert not Car.objects.exists()
