"""Taking back, and what follows from it for what came later."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from crm.care.surfaces import PANELS, Surface, Surfaces
from crm.care.terms import EndReason, Process, ProductClass
from crm.models import CarEvent, Ending, Forecast, Grade, Layer, Rank, Visit
from crm.selectors.coats import live_surfaces
from crm.services.bench import record_grade, record_step, take_back_ending
from crm.services.errors import Refused
from crm.services.replaying import apply_later
from crm.services.taking_back import take_back_grade, take_back_layer, take_back_step
from tests import factories as made

pytestmark = pytest.mark.django_db
NOW = made.NOW
BONNET = Surfaces.of([Surface.BONNET])


def _live(layer: Layer) -> Surfaces:
    return live_surfaces(Layer.everything.get(pk=layer.pk))


def _step(stay: Visit, process: Process, on: Surfaces, *, hours: int) -> object:
    at = NOW + timedelta(hours=hours)
    return record_step(visit=stay, process=process, surfaces=on, at=at, by=None, now=at)


def test_a_layer_taken_back_gives_its_place_back_to_the_one_before() -> None:
    car = made.car()
    sealant = made.product(ProductClass.POLYMER_SEALANT)
    first = made.layer(car, sealant, at=NOW - timedelta(days=200))
    stay = made.visit(car)
    second = made.layer(stay, sealant, surfaces=BONNET, at=NOW)
    assert _live(first) == PANELS - BONNET
    take_back_layer(layer=second, because="wrong car", by=None, now=NOW + timedelta(hours=1))
    assert _live(first) == PANELS
    assert list(Layer.objects.filter(car=car)) == [first]
    assert not Forecast.objects.filter(layer=second).exists()
    assert second.history.count() == 2


def test_what_came_later_still_ends_what_lay_below_the_layer_that_was_taken_back() -> None:
    car = made.car()
    sealant = made.product(ProductClass.POLYMER_SEALANT)
    first = made.layer(car, sealant, at=NOW - timedelta(days=200))
    stay = made.visit(car)
    mistake = made.layer(stay, sealant, surfaces=PANELS, at=NOW)
    _step(stay, Process.CUT, BONNET, hours=2)
    third = made.layer(stay, sealant, surfaces=Surfaces.of([Surface.ROOF]), at=NOW + timedelta(hours=3))
    assert not _live(first)
    take_back_layer(layer=mistake, because="wrong car", by=None, now=NOW + timedelta(hours=4))
    assert _live(first) == PANELS - BONNET - third.surfaces
    assert _live(third) == third.surfaces


def test_a_process_taken_back_leaves_what_another_ended_ended() -> None:
    car = made.car()
    layer = made.layer(car, made.product(ProductClass.POLYMER_SEALANT), at=NOW - timedelta(days=200))
    stay = made.visit(car)
    step = _step(stay, Process.CLAY, PANELS, hours=1)
    _step(stay, Process.CUT, BONNET, hours=2)
    take_back_step(step=step, because="not clayed", by=None, now=NOW + timedelta(hours=3))  # type: ignore[arg-type]
    assert _live(layer) == PANELS - BONNET
    standing = Ending.objects.get(layer=layer, taken_back_at__isnull=True)
    assert (standing.why, standing.surfaces) == (EndReason.POLISHED, BONNET)


def test_an_event_elsewhere_still_ends_what_it_took() -> None:
    car = made.car()
    sealant = made.product(ProductClass.POLYMER_SEALANT)
    first = made.layer(car, sealant, at=NOW - timedelta(days=200))
    stay = made.visit(car, at=NOW - timedelta(days=20))
    mistake = made.layer(stay, sealant, surfaces=PANELS, at=NOW - timedelta(days=20))
    made.event(car, CarEvent.Kind.RESPRAY, on=date(2026, 4, 30), surfaces=BONNET)
    take_back_layer(layer=mistake, because="wrong car", by=None, now=NOW)
    assert _live(first) == PANELS - BONNET


def test_applying_later_facts_again_changes_nothing_and_minds_what_a_person_took_back() -> None:
    car = made.car()
    layer = made.layer(car, made.product(ProductClass.POLYMER_SEALANT), at=NOW - timedelta(days=200))
    stay = made.visit(car)
    _step(stay, Process.CUT, BONNET, hours=1)
    assert apply_later(car, since=NOW, by=None, now=NOW + timedelta(hours=2)) == 0
    ending = Ending.objects.get(layer=layer)
    take_back_ending(ending=ending, because="only the edge", by=None, now=NOW + timedelta(hours=2))
    assert apply_later(car, since=NOW, by=None, now=NOW + timedelta(hours=3)) == 0
    assert _live(layer) == PANELS


def test_a_layer_at_the_same_minute_as_an_earlier_entry_is_not_ended_by_it() -> None:
    car = made.car()
    stay = made.visit(car)
    step = _step(stay, Process.CUT, PANELS, hours=1)
    assert step is not None
    layer = made.layer(stay, made.product(), at=NOW + timedelta(hours=1))
    Layer.everything.filter(pk=layer.pk).update(written_at=NOW + timedelta(hours=1, minutes=5))
    assert apply_later(car, since=NOW, by=None, now=NOW + timedelta(hours=2)) == 0
    assert _live(layer) == PANELS


def test_a_grade_taken_back_is_no_evidence() -> None:
    stay = made.visit()
    grade = record_grade(visit=stay, surfaces=BONNET, grade=4, moment="after_decon", at=NOW, by=None, now=NOW)
    take_back_grade(grade=grade, because="bonnet was still wet", by=None, now=NOW)
    assert not Grade.objects.exists()
    with pytest.raises(Refused, match="taken back already"):
        take_back_grade(grade=grade, because="again", by=None, now=NOW)


def test_taking_back_needs_a_reason_and_a_right() -> None:
    stay = made.visit()
    grade = record_grade(visit=stay, surfaces=BONNET, grade=4, moment="after_decon", at=NOW, by=None, now=NOW)
    with pytest.raises(Refused, match="Say why"):
        take_back_grade(grade=grade, because=" ", by=None, now=NOW)
    with pytest.raises(Refused, match="may not do this"):
        take_back_grade(grade=grade, because="x", by=made.user(Rank.DESK), now=NOW)
    made.close(stay, at=NOW)
    with pytest.raises(Refused, match="may not do this"):
        take_back_grade(grade=grade, because="x", by=made.user(Rank.BENCH), now=NOW)
    take_back_grade(grade=grade, because="x", by=made.user(Rank.LEAD), now=NOW)
