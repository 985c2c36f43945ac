"""Taking figures that were learned from the studio's own cars: by whom, from when, once, and what follows."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from crm.care.terms import ProductClass
from crm.models import Car, Life, Product, Rank
from crm.selectors.coats import lives_of, newest_life
from crm.selectors.lasted import Evidence
from crm.services.errors import Refused
from crm.services.shelf import Figures, take_learned_life, write_down_life
from crm.services.stale import follow_stale
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db

TODAY = NOW.date()
SEEN = Evidence(layers=14, cars=11, whole=9, finished=4, between=6, until=date(2026, 4, 3))


def months(low: float = 3, likely: float = 5, high: float = 8, **known: Any) -> Figures:
    return Figures(
        low=Decimal(str(low)),
        likely=Decimal(str(likely)),
        high=Decimal(str(high)),
        because="learned from 14 layers on 11 cars",
        **known,
    )


def take(product: Product, figures: Figures | None = None, **known: Any) -> Life:
    settled: dict[str, Any] = {"evidence": SEEN, "since": TODAY, "today": TODAY, "by": None, **known}
    return take_learned_life(product=product, figures=figures or months(), **settled)


@pytest.fixture
def sealant() -> Product:
    return factories.product(ProductClass.POLYMER_SEALANT, life=(4, 6, 9))


def test_learned_figures_are_a_new_dated_row_with_what_they_rest_on(sealant: Product) -> None:
    lead = factories.user(Rank.LEAD)
    row = take(sealant, by=lead)
    row.refresh_from_db()
    assert (row.low, row.likely, row.high, row.since, row.by) == (3, 5, 8, TODAY, lead)
    assert (row.source, row.from_layers, row.from_cars) == (Life.Source.LEARNED, 14, 11)
    assert (row.seen_whole, row.seen_finished, row.seen_between) == (9, 4, 6)
    assert (row.graded_until, row.because) == (date(2026, 4, 3), "learned from 14 layers on 11 cars")
    assert sealant.lives.count() == 2
    assert newest_life(sealant) == row


def test_forecasts_follow_and_say_that_their_life_was_learned(sealant: Product) -> None:
    layer = factories.layer(factories.car(), sealant, at=NOW - timedelta(days=20))
    before = layer.forecasts.get(zone="tops")
    assert "the studio's own figures" in before.reasons[0]["words"]
    take(sealant)
    assert Car.objects.filter(forecast_stale=True).count() == 1
    follow_stale(limit=10)
    after = layer.forecasts.get(zone="tops")
    assert before.likely is not None
    assert after.likely is not None
    assert after.likely < before.likely
    assert after.reasons[0]["words"].endswith("most likely 5 (learned from the studio's own cars)")
    low = layer.forecasts.get(zone="lower_sides").reasons[0]["words"]
    assert low.endswith("(learned from the studio's own cars)")


def test_reasons_change_with_the_source_even_where_the_months_do_not(sealant: Product) -> None:
    layer = factories.layer(factories.car(), sealant, at=NOW - timedelta(days=20))
    before = layer.forecasts.get(zone="tops")
    take(sealant, months(4, 6, 9))
    follow_stale(limit=10)
    after = layer.forecasts.get(zone="tops")
    assert after.likely == before.likely
    assert after.reasons != before.reasons


def test_waits_stay_as_they_are(sealant: Product) -> None:
    write_down_life(
        product=sealant,
        figures=months(4, 6, 9, dry_hours=12, wash_hours=168, cold_lengthens=False),
        since=TODAY - timedelta(days=9),
        by=None,
    )
    row = take(sealant, months(dry_hours=1))
    assert (row.dry_hours, row.wash_hours, row.topper_hours, row.cold_lengthens) == (12, 168, None, False)


@pytest.mark.parametrize("rank", [Rank.BENCH, Rank.DESK])
def test_only_who_may_change_the_shelf_takes_figures(sealant: Product, rank: Rank) -> None:
    with pytest.raises(Refused, match="Ask the owner-manager"):
        take(sealant, by=factories.user(rank))
    assert sealant.lives.count() == 1


@pytest.mark.parametrize(
    ("known", "sentence"),
    [
        ({"figures": months(5, 3, 8)}, "must rise"),
        ({"figures": Figures()}, "Give all three"),
        ({"since": TODAY + timedelta(days=1)}, "still to come"),
        ({"since": date(2019, 12, 31)}, "Newer figures stand since 1 January 2020"),
        ({"evidence": Evidence(0, 0, 0, 0, 0, TODAY)}, "Nothing was learned"),
    ],
)
def test_figures_that_cannot_be_taken_are_refused(
    sealant: Product, known: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(Refused, match=sentence):
        take(sealant, **known)
    assert sealant.lives.count() == 1


def test_stated_and_learned_figures_of_one_day_both_stay_and_the_later_count(sealant: Product) -> None:
    write_down_life(product=sealant, figures=months(4, 7, 10), since=TODAY, by=None)
    take(sealant)
    assert lives_of([sealant.pk])[sealant.pk].learned
    write_down_life(product=sealant, figures=months(4, 8, 11), since=TODAY, by=None)
    own = lives_of([sealant.pk])[sealant.pk]
    assert (own.learned, own.months.likely) == (False, 8)
    assert list(sealant.lives.filter(since=TODAY).values_list("source", "likely")) == [
        ("stated", Decimal(8)),
        ("learned", Decimal(5)),
    ]


def test_learned_months_stay_learned_when_only_the_waits_change(sealant: Product) -> None:
    take(sealant, since=TODAY - timedelta(days=3))
    row = write_down_life(product=sealant, figures=months(wash_hours=72), since=TODAY, by=None)
    assert (row.source, row.from_layers, row.seen_between, row.wash_hours) == (Life.Source.LEARNED, 14, 6, 72)
    changed = write_down_life(product=sealant, figures=months(likely=5.5), since=TODAY, by=None)
    assert (changed.source, changed.from_layers) == (Life.Source.STATED, 0)


def test_no_row_calls_itself_learned_without_saying_from_what(sealant: Product) -> None:
    row = take(sealant)
    for columns in ({"from_layers": 0}, {"graded_until": None}, {"source": "guessed"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Life.objects.filter(pk=row.pk).update(**columns)
