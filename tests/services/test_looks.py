"""Grades after decontamination move the windows of what they read; dirty ones and covered layers stay as they are."""

from __future__ import annotations

from datetime import timedelta

import pytest

from crm.care.surfaces import PANELS, Surface, Surfaces, Zone
from crm.care.terms import Moment, ProductClass
from crm.models import Forecast, Grade, Layer
from crm.services.bench import record_grade
from crm.services.taking_back import take_back_grade
from tests import factories as made
from tests.factories import NOW

pytestmark = pytest.mark.django_db

LAID = NOW - timedelta(days=60)
BONNET = Surfaces.of([Surface.BONNET])


@pytest.fixture
def sealed() -> Layer:
    return made.layer(made.car(), made.product(ProductClass.POLYMER_SEALANT), at=LAID)


def grade(layer: Layer, water: int, moment: Moment = Moment.AFTER_DECON) -> Grade:
    visit = made.visit(layer.car, at=NOW - timedelta(hours=2))
    return record_grade(
        visit=visit,
        surfaces=PANELS & layer.car.surfaces,
        grade=water,
        moment=moment,
        at=NOW,
        by=None,
        now=NOW,
    )


def expected(layer: Layer) -> Forecast:
    return Forecast.objects.get(layer=layer, zone=Zone.TOPS)


def codes(row: Forecast) -> list[str]:
    return [reason["code"] for reason in row.reasons]


def test_good_grade_moves_the_window_later_and_keeps_that_of_the_figures(sealed: Layer) -> None:
    before = expected(sealed)
    grade(sealed, 4)
    after = expected(sealed)
    assert before.likely is not None
    assert after.likely is not None
    assert after.likely > before.likely
    assert (after.figures_low, after.figures_likely, after.figures_high) == (
        before.low,
        before.likely,
        before.high,
    )
    assert after.due_on == after.low
    assert codes(after)[:2] == ["life", "look"]
    assert (before.figures_low, codes(before)[:1]) == (None, ["life"])


def test_grade_that_was_taken_back_moves_it_back(sealed: Layer) -> None:
    before = expected(sealed)
    row = grade(sealed, 1)
    assert expected(sealed).likely != before.likely
    take_back_grade(grade=row, because="it was still wet", by=None, now=NOW)
    after = expected(sealed)
    assert (after.likely, after.figures_likely, after.inputs) == (before.likely, None, before.inputs)


def test_dirty_grade_moves_nothing(sealed: Layer) -> None:
    before = expected(sealed)
    grade(sealed, 0, Moment.BEFORE_DECON)
    assert expected(sealed).inputs == before.inputs


def test_grade_reads_the_topper_and_not_the_coating_under_it() -> None:
    car = made.car()
    coating = made.layer(car, made.product(ProductClass.COATING_PROFESSIONAL), at=LAID - timedelta(days=200))
    topper = made.layer(
        car, made.product(ProductClass.SILICA_TOPPER), surfaces=BONNET, at=LAID + timedelta(days=20)
    )
    grade(coating, 1)
    assert "look" in codes(expected(topper))
    assert "look" in codes(expected(coating))  # on the roof nothing covers it
    alone = made.car()
    beneath = made.layer(
        alone, made.product(ProductClass.COATING_PROFESSIONAL), at=LAID - timedelta(days=200)
    )
    made.layer(alone, made.product(ProductClass.SILICA_TOPPER), at=LAID + timedelta(days=20))
    grade(beneath, 1)
    assert "look" not in codes(expected(beneath))


def test_layer_that_wets_out_is_due_a_look_and_still_there_until_a_person_ends_it(sealed: Layer) -> None:
    grade(sealed, 0)
    row = expected(sealed)
    assert row.high is not None
    assert row.high <= NOW.date()
    assert row.live
    assert row.due_on == row.low
