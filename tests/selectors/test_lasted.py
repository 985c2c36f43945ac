"""What was seen of a product's layers, out of the record: which grades count, and what learning starts from."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from crm.care.surfaces import PANELS, Surface, Surfaces, Zone, surfaces_of
from crm.care.terms import EndReason, Moment, Process, ProductClass
from crm.models import Grade, Layer, Product, Studio
from crm.selectors.lasted import Lasted, lasted
from crm.selectors.studio import the_studio
from crm.selectors.watched import seen_cars, watched_layers
from crm.services.bench import end_layer, record_grade, record_step
from crm.services.shelf import Figures, take_learned_life, write_down_life
from crm.services.taking_back import take_back_grade
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db

TODAY = NOW.date()
LAID = NOW - timedelta(days=150)
TOPS, BONNET = surfaces_of(Zone.TOPS), Surfaces.of([Surface.BONNET])


@pytest.fixture
def sealant() -> Product:
    return factories.product(ProductClass.POLYMER_SEALANT, life=(4, 6, 9))


def grade(
    layer: Layer,
    water: int,
    *,
    at: datetime = NOW,
    on: Surfaces = PANELS,
    moment: Moment = Moment.AFTER_DECON,
) -> Grade:
    visit = layer.car.visits.filter(arrived_at=at).first() or factories.visit(layer.car, at=at)
    row = record_grade(
        visit=visit,
        surfaces=on & layer.car.surfaces,
        grade=water,
        moment=moment,
        at=at,
        by=None,
        now=at,
    )
    factories.close(visit, at=at)
    return row


def seen(product: Product) -> Lasted:
    return lasted(product, the_studio(), today=TODAY)


def counts(product: Product) -> tuple[int, int, int, int, int]:
    evidence = seen(product).evidence
    if evidence is None:
        return 0, 0, 0, 0, 0
    return evidence.layers, evidence.cars, evidence.whole, evidence.finished, evidence.between


def sealed(product: Product, *, surfaces: Surfaces = TOPS, at: datetime = LAID) -> Layer:
    return factories.layer(factories.car(), product, surfaces=surfaces, at=at)


def test_nothing_graded_leaves_the_shelf(sealant: Product) -> None:
    layer = sealed(sealant)
    grade(layer, 0, moment=Moment.BEFORE_DECON)
    found = seen(sealant)
    assert (found.learned, found.evidence, found.chart, found.proposal, found.figures) == (
        None,
        None,
        None,
        None,
        (),
    )
    assert found.nothing_looked_at
    assert found.stated is not None
    assert (found.stated.words, found.stated.whose) == ("4 / 6 / 9", "stated on 1 January 2020")


def test_layers_are_counted_by_how_they_were_found(sealant: Product) -> None:
    car = factories.car()
    first = factories.layer(car, sealant, surfaces=TOPS, at=LAID)
    grade(first, 3)
    grade(sealed(sealant), 1)
    both = sealed(sealant)
    grade(both, 4, at=NOW - timedelta(days=60))
    grade(both, 0)
    assert counts(sealant) == (3, 3, 1, 1, 1)
    found = seen(sealant)
    assert found.evidence is not None
    assert found.evidence.words == "learned from 3 layers on 3 cars, graded until 4 May 2026"
    assert found.learned is not None
    assert found.learned.counts.weight == pytest.approx(3)


def test_places_of_one_layer_count_as_one_layer_together(sealant: Product) -> None:
    layer = sealed(sealant, surfaces=PANELS)
    grade(layer, 3, on=TOPS)
    grade(layer, 1, on=surfaces_of(Zone.LOWER_SIDES), at=NOW + timedelta(hours=1))
    found = seen(sealant)
    assert counts(sealant) == (1, 1, 1, 1, 0)
    assert found.learned is not None
    assert found.learned.counts.weight == pytest.approx(1)


def test_grade_reads_the_layer_on_top_and_says_nothing_of_the_one_beneath(sealant: Product) -> None:
    layer = sealed(sealant)
    topper = factories.layer(
        layer.car, factories.product(ProductClass.SILICA_TOPPER), surfaces=TOPS, at=LAID + timedelta(days=60)
    )
    grade(layer, 1)
    assert (counts(sealant), seen(sealant).covered) == ((0, 0, 0, 0, 0), 1)
    assert counts(topper.product) == (1, 1, 0, 1, 0)


def test_layer_whose_cover_has_ended_is_read_again(sealant: Product) -> None:
    layer = sealed(sealant)
    topper = factories.layer(
        layer.car, factories.product(ProductClass.SILICA_TOPPER), surfaces=TOPS, at=LAID + timedelta(days=60)
    )
    day = NOW - timedelta(days=1)
    end_layer(layer=topper, surfaces=TOPS, at=day, why=EndReason.STRIPPED, by=None, now=day)
    grade(layer, 1)
    assert (counts(sealant), counts(topper.product)) == ((1, 1, 0, 1, 0), (0, 0, 0, 0, 0))


def test_whole_over_another_layer_is_not_put_down_to_the_one_on_top() -> None:
    coating, topper = (
        factories.product(kind) for kind in (ProductClass.COATING_PROFESSIONAL, ProductClass.SILICA_TOPPER)
    )
    base = factories.layer(factories.car(), coating, surfaces=TOPS, at=LAID)
    factories.layer(base.car, topper, surfaces=TOPS, at=LAID + timedelta(days=60))
    grade(base, 4)
    assert (counts(topper), seen(topper).shared) == ((0, 0, 0, 0, 0), 1)
    assert not seen(topper).nothing_looked_at


def test_grade_that_was_taken_back_does_not_count(sealant: Product) -> None:
    row = grade(sealed(sealant), 1)
    assert counts(sealant) == (1, 1, 0, 1, 0)
    take_back_grade(grade=row, because="wrong car", by=None, now=NOW)
    assert counts(sealant) == (0, 0, 0, 0, 0)


def test_end_that_a_person_called_worn_counts_without_a_grade(sealant: Product) -> None:
    worn, polished = sealed(sealant), sealed(sealant)
    end_layer(layer=worn, surfaces=TOPS, at=NOW, why=EndReason.WORN, by=None, now=NOW)
    end_layer(layer=polished, surfaces=TOPS, at=NOW, why=EndReason.POLISHED, by=None, now=NOW)
    assert counts(sealant) == (1, 1, 0, 1, 0)


def test_clay_after_the_look_of_that_day_is_not_charged_to_what_was_found(sealant: Product) -> None:
    plain, clayed = sealed(sealant), sealed(sealant)
    for layer in (plain, clayed):
        grade(layer, 1)
    visit = factories.visit(clayed.car, at=NOW + timedelta(minutes=5))
    later = NOW + timedelta(minutes=10)
    record_step(visit=visit, process=Process.CLAY, surfaces=TOPS, at=later, by=None, now=later)
    assert counts(sealant) == (2, 2, 0, 2, 0)
    second, first = (
        layer.places for layer in watched_layers(sealant, the_studio(), seen_cars(sealant, most=9))
    )
    assert (first[0].case.lumps, second[0].case.lumps) == ((), ())


def test_what_had_to_be_set_aside_is_told_with_the_car(sealant: Product) -> None:
    layer = factories.layer(factories.car("QA26 DEM"), sealant, surfaces=TOPS, at=LAID)
    grade(layer, 0, at=NOW - timedelta(days=60))
    grade(layer, 3)
    [told] = seen(sealant).set_aside
    assert (told.car, told.plate) == (layer.car.ref, "QA26 DEM")
    assert told.words == "Found finished on 5 March 2026, but whole on 4 May 2026: the later finding holds."


def test_class_without_a_forecast_has_nothing_to_learn() -> None:
    unknown = factories.product(ProductClass.UNKNOWN)
    grade(sealed(unknown), 0)
    found = seen(unknown)
    assert (found.stated, found.learned) == (None, None)


def test_many_layers_far_from_the_shelf_are_said_to_differ(sealant: Product) -> None:
    for _ in range(6):
        grade(sealed(sealant, at=NOW - timedelta(days=45)), 0)
    found = seen(sealant)
    assert found.learned is not None
    assert found.learned.window[1] < 5
    assert found.differs
    assert [figure.low < figure.learned < figure.high for figure in found.figures] == [True] * 3


def test_learning_starts_from_what_was_stated_never_from_what_was_learned(sealant: Product) -> None:
    for _ in range(4):
        grade(sealed(sealant, at=NOW - timedelta(days=45)), 0)
    before = seen(sealant)
    assert before.evidence is not None
    figures = Figures(low=Decimal(2), likely=Decimal(3), high=Decimal(5), because="learned")
    take_learned_life(
        product=sealant, figures=figures, evidence=before.evidence, since=TODAY, today=TODAY, by=None
    )
    after = seen(sealant)
    assert after.stated == before.stated
    assert after.learned == before.learned
    write_down_life(
        product=sealant,
        figures=Figures(low=Decimal(3), likely=Decimal(5), high=Decimal(8)),
        since=TODAY,
        by=None,
    )
    restated = seen(sealant)
    assert restated.stated is not None
    assert restated.stated.words == "3 / 5 / 8"
    assert restated.learned != before.learned


def test_figures_of_the_class_count_where_nobody_stated_any() -> None:
    wax = factories.product(ProductClass.NATURAL_WAX)
    found = seen(wax)
    assert found.stated is not None
    # The class's own: common practice, no source.
    assert (found.stated.words, found.stated.whose) == ("1 / 2 / 3", "the class's figures, common practice")


def test_queries_are_the_same_at_one_and_at_many_layers(sealant: Product) -> None:
    numbers = []
    for more in (1, 4):
        for _ in range(more):
            car = factories.car()
            grade(factories.layer(car, sealant, surfaces=TOPS, at=LAID), 1)
            grade(
                factories.layer(car, sealant, surfaces=TOPS, at=NOW + timedelta(days=1)),
                3,
                at=NOW + timedelta(days=9),
            )
        studio: Studio = the_studio()
        with CaptureQueriesContext(connection) as queries:
            lasted(sealant, studio, today=TODAY)
        numbers.append(len(queries))
    assert numbers[0] == numbers[1]


def test_layers_are_read_in_turns_without_losing_one(
    sealant: Product, monkeypatch: pytest.MonkeyPatch
) -> None:
    for water in (0, 1, 2, 3, 4):
        grade(sealed(sealant), water)
    whole = seen(sealant)
    monkeypatch.setattr("crm.selectors.watched.CARS", 2)
    assert seen(sealant) == whole
    assert counts(sealant) == (5, 5, 3, 2, 0)
    assert not whole.enough


def test_where_there_are_very_many_cars_those_taken_on_last_are_counted(
    sealant: Product, monkeypatch: pytest.MonkeyPatch
) -> None:
    for water in (4, 4, 0, 0):
        grade(sealed(sealant), water)
    monkeypatch.setattr("crm.selectors.lasted.MOST_CARS", 2)
    assert seen(sealant).enough
    assert counts(sealant) == (2, 2, 0, 2, 0)


def test_cars_that_were_never_graded_there_are_not_read(sealant: Product) -> None:
    graded, elsewhere = sealed(sealant), sealed(sealant)
    sealed(sealant)
    grade(graded, 2)
    grade(elsewhere, 2, on=surfaces_of(Zone.LOWER_SIDES))
    assert [layer.car for layer in watched_layers(sealant, the_studio(), seen_cars(sealant, most=9))] == [
        graded.car
    ]


def test_day_until_which_was_graded_is_that_of_the_last_finding(sealant: Product) -> None:
    layer = sealed(sealant)
    grade(layer, 3, at=NOW - timedelta(days=20))
    end_layer(layer=layer, surfaces=TOPS, at=NOW, why=EndReason.RESPRAYED, by=None, now=NOW)
    evidence = seen(sealant).evidence
    assert evidence is not None
    assert evidence.until == date(2026, 4, 14)
