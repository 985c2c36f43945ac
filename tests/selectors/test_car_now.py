"""What is on a car now, a block a layer: zones that stand alike are told once."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from django.utils import timezone

from crm.care.bodies import Body
from crm.care.surfaces import PANELS, Surface, Surfaces, Zone, surfaces_of
from crm.care.terms import EndReason, Moment, ProductClass
from crm.models import Car
from crm.selectors.car_file import Moment as ReadAt
from crm.selectors.car_file import car_file
from crm.selectors.car_now import AT_ONCE, OnItNow, on_it_now
from crm.services.bench import end_layer, record_grade
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db
TOPS = surfaces_of(Zone.TOPS)


def _now(car: Car) -> OnItNow:
    studio = factories.studio()
    with timezone.override(studio.zone):
        file = car_file(car.ref, at=ReadAt(studio, NOW, NOW.date()))
        assert file is not None
        return on_it_now(file.lanes, Body(car.body))


def _days(number: float) -> datetime:
    return NOW + timedelta(days=number)


def test_a_layer_is_one_block_however_many_zones_it_lies_on() -> None:
    car = factories.car()
    factories.layer(car, factories.product(ProductClass.POLYMER_SEALANT, "Gannet"), at=_days(-60))
    (gannet,) = _now(car).layers
    assert (gannet.layer.product.name, gannet.where) == ("Gannet", "all painted panels")
    told = [part.surfaces for part in gannet.stretches]
    assert sum(len(part) for part in told) == len(PANELS & car.surfaces)
    windows = [part.window for part in gannet.stretches]
    assert len(set(windows)) == len(windows)
    assert [window.likely for window in windows if window] == sorted(
        window.likely for window in windows if window
    )


def test_zones_with_one_window_are_told_together_and_every_reason_is_kept() -> None:
    car = factories.car()
    panes = surfaces_of(Zone.WHEELS, Zone.SCREEN)
    factories.layer(car, factories.product(ProductClass.UNKNOWN, "Old layer"), surfaces=panes, at=_days(-60))
    (old,) = _now(car).layers
    (both,) = old.stretches
    assert (both.window, both.words) == (None, "wheel faces and windscreen")
    assert old.expected == "no forecast"


def test_zones_that_were_seen_differently_stay_apart() -> None:
    car = factories.car()
    panes = surfaces_of(Zone.WHEELS, Zone.SCREEN)
    factories.layer(car, factories.product(ProductClass.UNKNOWN, "Old layer"), surfaces=panes, at=_days(-60))
    visit = factories.visit(car, at=_days(-2))
    screen = surfaces_of(Zone.SCREEN)
    record_grade(
        visit=visit, surfaces=screen, grade=3, moment=Moment.AFTER_DECON, at=_days(-2), by=None, now=_days(-2)
    )
    (old,) = _now(car).layers
    assert {part.words: len(part.seen) for part in old.stretches} == {"wheel faces": 0, "windscreen": 1}


def test_what_goes_first_is_named_where_it_is_the_lesser_part() -> None:
    car = factories.car()
    factories.layer(car, factories.product(ProductClass.POLYMER_SEALANT, "Gannet"), at=_days(-60))
    (whole,) = _now(car).layers
    first = whole.stretches[0]
    lesser = 2 * len(first.surfaces) < len(PANELS & car.surfaces)
    assert whole.expected == (f"{first.expected}, {first.words} first" if lesser else first.expected)
    end_layer(
        layer=whole.layer,
        surfaces=PANELS - first.surfaces,
        at=_days(-1),
        why=EndReason.WORN,
        by=None,
        now=_days(-1),
    )
    (left,) = _now(car).layers
    assert left.expected == left.stretches[0].expected


def test_the_newest_layer_stands_first_and_what_is_bare_beside_it_is_named() -> None:
    car = factories.car()
    factories.layer(car, factories.product(ProductClass.COATING_MULTI, "Fulmar"), at=_days(-90))
    topped = TOPS - Surfaces.of([Surface.ROOF])
    factories.layer(
        car, factories.product(ProductClass.SILICA_TOPPER, "Tern"), surfaces=topped, at=_days(-30)
    )
    now = _now(car)
    assert [each.layer.product.name for each in now.layers] == ["Tern", "Fulmar"]
    assert now.bare == ()
    end_layer(
        layer=now.layers[1].layer, surfaces=TOPS, at=_days(-1), why=EndReason.WORN, by=None, now=_days(-1)
    )
    assert _now(car).bare == ("roof",)


@pytest.mark.parametrize(("laid", "folded"), [(AT_ONCE, 0), (AT_ONCE + 2, 2)])
def test_more_than_a_handful_of_layers_are_folded_away(laid: int, folded: int) -> None:
    car, client = factories.car(), factories.signed_in()
    classes = [each for each in ProductClass if each not in (ProductClass.GLAZE, ProductClass.QUICK_DETAILER)]
    for number, product_class in enumerate(classes[:laid]):
        product = factories.product(product_class, f"Gull {number}")
        factories.layer(car, product, surfaces=TOPS, at=_days(-60 + number))
    now = _now(car)
    assert (len(now.layers), len(now.rest)) == (laid - folded, folded)
    page = client.get(f"/car/{car.ref}/").content.decode()
    assert (f"and {folded} more layer" in page) is bool(folded)
    assert [name for name in (f"Gull {number}" for number in range(laid)) if name not in page] == []


def test_a_layer_carries_its_promise_and_its_clocks() -> None:
    car = factories.car()
    factories.layer(car, factories.product(ProductClass.COATING_PROFESSIONAL, "Fulmar"), at=_days(-0.1))
    (setting,) = _now(car).layers
    assert "no wash before" in [words for words, _ in setting.clocks]
    assert setting.promised == ""
    assert setting.layer.laid_at.date() == date(NOW.year, NOW.month, NOW.day)
