"""Forecasts follow a change of seasons or figures: marked in one statement, worked out car by car."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from unittest.mock import patch

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pytest_django import DjangoAssertNumQueries

from crm.care.bodies import Body
from crm.care.terms import ProductClass
from crm.models import Car, Forecast
from crm.selectors.stale import stale_count
from crm.services import stale
from crm.services.forecasts import reforecast_car, reforecast_cars
from crm.services.own_numbers import put_back, set_number
from crm.services.registry import NewCar
from crm.services.stale import follow_stale, mark_all_stale
from crm.services.taking_on import change_car
from tests import factories

pytestmark = pytest.mark.django_db


def _coated(count: int = 1) -> list[Car]:
    cars = [factories.car() for _ in range(count)]
    for car in cars:
        factories.keeping(car, salted_roads=True, parking="outdoors", km_a_year=12_000)
        factories.layer(car, factories.product(ProductClass.POLYMER_SEALANT))
    return cars


def _window(car: Car) -> tuple[date | None, ...]:
    return tuple(
        Forecast.objects.filter(car=car, zone="upper_sides").values_list("low", "likely", "high").get()
    )


def test_marking_is_one_statement_over_all_cars(django_assert_num_queries: DjangoAssertNumQueries) -> None:
    _coated(3)
    with django_assert_num_queries(1):
        assert mark_all_stale() == 3
    assert stale_count() == 3


def test_a_new_car_waits_for_nothing() -> None:
    _coated()
    assert stale_count() == 0


def test_following_works_out_as_many_as_it_is_allowed() -> None:
    _coated(3)
    mark_all_stale()
    assert (follow_stale(limit=2), stale_count()) == (2, 1)
    assert (follow_stale(limit=2), stale_count()) == (1, 0)
    assert follow_stale(limit=2) == 0


def test_following_writes_the_same_forecast_as_working_the_car_out() -> None:
    (car,) = _coated()
    before = _window(car)
    # Salt all year round wears a sealant by 1.4 where it wore by 1 (the data's own figures): the window is shorter.
    factories.studio(salt_from="01-01", salt_until="12-31")
    mark_all_stale()
    assert _window(car) == before
    follow_stale(limit=10)
    after = _window(car)
    assert all(new < old for new, old in zip(after, before, strict=True) if new and old)
    assert reforecast_car(car) == 0


def test_a_marked_car_that_did_not_move_keeps_its_rows() -> None:
    (car,) = _coated()
    made = set(Forecast.objects.filter(car=car).values_list("pk", "made_at"))
    mark_all_stale()
    assert follow_stale(limit=10) == 1
    assert set(Forecast.objects.filter(car=car).values_list("pk", "made_at")) == made


def test_a_car_that_cannot_be_worked_out_keeps_nobody_waiting() -> None:
    first, second = _coated(2)
    mark_all_stale()

    def breaks(cars: Sequence[Car]) -> int:
        if first in cars:
            raise ValueError("a fact nobody thought of")
        return reforecast_cars(cars)

    with patch.object(stale, "reforecast_cars", breaks):
        assert follow_stale(limit=10) == 1
    assert set(Car.objects.filter(forecast_stale=True)) == {first}
    assert follow_stale(limit=10) == 1
    assert second.pk not in Car.objects.filter(forecast_stale=True).values_list("pk", flat=True)


def test_a_change_that_comes_while_a_car_is_worked_out_marks_it_again() -> None:
    _coated()
    mark_all_stale()

    def change_comes(cars: Sequence[Car]) -> int:
        mark_all_stale()
        return reforecast_cars(cars)

    with patch.object(stale, "reforecast_cars", change_comes):
        follow_stale(limit=1)
    assert stale_count() == 1


def test_cars_that_are_worked_out_together_need_no_more_queries_than_one() -> None:
    _coated(6)
    mark_all_stale()
    with CaptureQueriesContext(connection) as for_one:
        assert follow_stale(limit=1) == 1
    with CaptureQueriesContext(connection) as for_five:
        assert follow_stale(limit=5) == 5
    assert len(for_five) == len(for_one)


def test_every_car_of_a_batch_gets_its_own_forecasts() -> None:
    """Different facts, layers and ends of life: as each would have by itself."""
    cars = _coated(3)
    factories.keeping(cars[1], salted_roads=False, parking="garage", km_a_year=4_000, since=date(2026, 1, 10))
    factories.layer(cars[2], factories.product(ProductClass.NATURAL_WAX))
    factories.studio(salt_from="01-01", salt_until="12-31")
    mark_all_stale()
    assert follow_stale(limit=10) == 3
    together = list(
        Forecast.objects.order_by("layer", "zone").values("layer", "zone", "low", "high", "reasons")
    )
    Forecast.objects.all().delete()
    for car in cars:
        reforecast_car(car)
    alone = list(Forecast.objects.order_by("layer", "zone").values("layer", "zone", "low", "high", "reasons"))
    assert together == alone
    assert len({row["low"] for row in together}) > 3


def test_facts_saved_from_an_old_page_leave_no_car_behind() -> None:
    """The row was read before the mark: saving it takes the mark off, so the forecasts are worked out there."""
    (car,) = _coated()
    seen_before = Car.objects.get(pk=car.pk)
    before = _window(car)
    factories.studio(salt_from="01-01", salt_until="12-31")
    mark_all_stale()
    change_car(
        car=seen_before, facts=NewCar(make="Halden", model="Estate", body=Body(seen_before.body)), by=None
    )
    follow_stale(limit=10)
    assert _window(car) != before


def test_an_own_figure_moves_the_forecast_and_putting_it_back_restores_it() -> None:
    (car,) = _coated()
    before = _window(car)
    path = "wear.season.sealant.salt"
    assert set_number(path=path, values=[2.2], because="steep hills, brine every night", by=None) == 1
    follow_stale(limit=10)
    assert _window(car) < before
    assert put_back(path=path, by=None) == 1
    follow_stale(limit=10)
    assert _window(car) == before


def test_the_history_of_a_car_knows_nothing_of_the_mark() -> None:
    (car,) = _coated()
    count = car.history.count()
    mark_all_stale()
    follow_stale(limit=10)
    assert car.history.count() == count
    assert not hasattr(car.history.first(), "forecast_stale")
