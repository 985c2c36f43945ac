"""Cars as a winter round sees them: what lies where, how they are kept, the wheels, the grades."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from crm.care.surfaces import PANELS, Surface, Surfaces, Zone, surfaces_of
from crm.care.terms import EndReason, Moment, ProductClass, WaterGrade
from crm.care.winter_car import Candidate
from crm.care.winter_worth import Cover
from crm.models import Car, CarEvent, Forecast, WinterRound
from crm.selectors.winter_facts import candidate
from crm.services.bench import end_layer, record_grade
from tests import factories
from tests.winter_scene import APRIL, SEPTEMBER, opened, sealed

pytestmark = pytest.mark.django_db


def _seen(car: Car) -> Candidate:
    season = WinterRound.objects.first() or opened()
    return candidate(season, car, studio=factories.studio(), now=SEPTEMBER)


def _on(one: Candidate, zone: Zone) -> list[Cover]:
    return [cover for cover in one.cover if cover.zone is zone]


def test_cover_is_every_place_that_matters_and_that_the_car_has() -> None:
    one = _seen(sealed())
    places = {cover.zone for cover in one.cover}
    assert {Zone.TOPS, Zone.FRONT, Zone.LOWER_SIDES, Zone.WHEELS, Zone.UNDERBODY} <= places
    assert Zone.SEATS not in places
    assert Zone.LOAD_BED not in places
    (tops,), (wheels,) = _on(one, Zone.TOPS), _on(one, Zone.WHEELS)
    assert [layer.product_class for layer in tops.layers] == [ProductClass.POLYMER_SEALANT]
    assert (wheels.layers, wheels.share, wheels.had_one) == ((), 1.0, False)


def test_curve_meets_the_stored_window() -> None:
    car = sealed(at=APRIL + timedelta(days=90))
    one = _seen(car)
    (layer,) = _on(one, Zone.UPPER_SIDES)[0].layers
    stored = Forecast.objects.get(car=car, zone=Zone.UPPER_SIDES)
    assert (layer.likely, layer.laid_on) == (stored.likely, date(2026, 7, 13))
    assert layer.worn is not None
    first = date(2026, 11, 1)
    for day, share in ((stored.likely, 0.5), (stored.high, 0.9)):
        assert day is not None
        assert first <= day <= date(2027, 3, 31)
        assert layer.worn[(day - first).days] == pytest.approx(share, abs=1e-6)


def test_place_under_several_sets_of_layers_comes_in_parts() -> None:
    car = sealed()
    roof = Surfaces.of([Surface.ROOF])
    factories.layer(
        car,
        factories.product(ProductClass.COATING_PROFESSIONAL),
        surfaces=roof,
        at=APRIL + timedelta(days=30),
    )
    ended = car.layers.get(product__product_class=ProductClass.POLYMER_SEALANT)
    bonnet = Surfaces.of([Surface.BONNET])
    end_layer(
        layer=ended,
        surfaces=bonnet,
        at=APRIL + timedelta(days=60),
        why=EndReason.POLISHED,
        by=None,
        now=SEPTEMBER,
    )
    parts = _on(_seen(car), Zone.TOPS)
    count = len(surfaces_of(Zone.TOPS) & car.surfaces)
    assert sum(part.share for part in parts) == pytest.approx(1)
    by_layers = {tuple(layer.product_class for layer in part.layers): part for part in parts}
    assert by_layers[()].share == pytest.approx(1 / count)
    assert by_layers[()].had_one
    assert any(ProductClass.COATING_PROFESSIONAL in layers for layers in by_layers)


def test_layer_without_a_forecast_is_one_of_which_nobody_knows() -> None:
    car = sealed()
    Forecast.objects.filter(car=car, zone=Zone.TOPS).update(low=None, likely=None, high=None)
    (tops,) = _on(_seen(car), Zone.TOPS)
    assert [layer.worn for layer in tops.layers] == [None]


def test_mark_of_salted_roads_on_the_car_counts_as_an_answer() -> None:
    unknown = sealed(salted=None)
    marked = sealed(salted=None, circumstances=["salted_roads"])
    seen = [_seen(car) for car in (unknown, marked)]
    assert [one.habit.salted_roads for one in seen if one.habit] == [None, True]


def test_swap_is_due_where_a_car_with_two_sets_stands_on_the_first() -> None:
    none, first, second = sealed(), sealed(), sealed()
    for car in (first, second):
        factories.event(car, CarEvent.Kind.WHEELS_TWO_ON, on=date(2025, 11, 2))
    factories.event(first, CarEvent.Kind.WHEELS_ONE_ON, on=date(2026, 4, 2))
    seen = [_seen(car) for car in (none, first, second)]
    assert [one.swap_due for one in seen] == [False, True, False]


def test_coat_grade_is_the_worst_of_the_last_honest_look_at_the_coating() -> None:
    car = sealed(product=ProductClass.COATING_PROFESSIONAL, at=datetime(2024, 5, 2, 9, 0, tzinfo=UTC))
    stay = car.visits.get()
    looks = (
        (datetime(2025, 5, 2, 9, 0, tzinfo=UTC), PANELS, 1, Moment.AFTER_DECON),
        (datetime(2026, 5, 2, 9, 0, tzinfo=UTC), surfaces_of(Zone.TOPS), 3, Moment.AFTER_DECON),
        (datetime(2026, 5, 2, 9, 5, tzinfo=UTC), surfaces_of(Zone.LOWER_SIDES), 2, Moment.AFTER_DECON),
        (datetime(2026, 6, 2, 9, 0, tzinfo=UTC), PANELS, 0, Moment.BEFORE_DECON),
        (datetime(2026, 6, 3, 9, 0, tzinfo=UTC), surfaces_of(Zone.WHEELS), 0, Moment.AFTER_DECON),
    )
    for at, surfaces, grade, moment in looks:
        record_grade(
            visit=stay, surfaces=surfaces & car.surfaces, grade=grade, moment=moment, at=at, by=None, now=at
        )
    assert _seen(car).coat_grade is WaterGrade(2)
    assert _seen(sealed()).coat_grade is None


def test_what_stands_in_the_bay_is_booked_for_today() -> None:
    car = sealed()
    factories.visit(car, at=SEPTEMBER - timedelta(days=2))
    assert _seen(car).booked_on == SEPTEMBER.date()


@pytest.mark.parametrize(
    ("months", "handed_over", "due"),
    [
        (24, date(2025, 10, 20), date(2026, 10, 20)),
        (24, date(2024, 12, 20), date(2026, 12, 20)),
        (30, date(2024, 5, 20), date(2026, 11, 20)),
        (24, date(2026, 5, 20), None),
        (24, date(2023, 10, 20), None),
        (6, date(2026, 6, 20), date(2026, 12, 20)),
    ],
)
def test_promise_asks_for_a_look_once_a_year_and_at_its_end(
    months: int, handed_over: date, due: date | None
) -> None:
    """Common practice, no source."""
    at = datetime(handed_over.year, handed_over.month, handed_over.day, 9, 0, tzinfo=UTC)
    car = sealed(product=ProductClass.COATING_PROFESSIONAL, at=at)
    car.visits.update(promise="It holds.", promise_months=months)
    assert _seen(car).promise_due == due
