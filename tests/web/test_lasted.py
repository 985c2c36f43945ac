"""What a product lasted: the page with and without data, and taking the figures from it."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from crm.care.surfaces import Zone, surfaces_of
from crm.care.terms import Moment, ProductClass
from crm.models import Car, Layer, Life, Product, Rank
from crm.services.bench import record_grade
from tests import factories
from tests.factories import NOW
from tests.web.strange import STRANGE

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]

TODAY = NOW.date()
TOPS = surfaces_of(Zone.TOPS)
FIGURES = {
    "low": "3",
    "likely": "4,5",
    "high": "7",
    "since": "2026-05-04",
    "because": "learned from 4 layers",
}


@pytest.fixture
def sealant() -> Product:
    return factories.product(ProductClass.POLYMER_SEALANT, "Gannet paint sealant", life=(4, 6, 9))


def graded(product: Product, *waters: int, days: int = 45) -> Layer:
    """A layer on a car of its own, graded after decontamination once a day until today."""
    layer = factories.layer(factories.car(), product, surfaces=TOPS, at=NOW - timedelta(days=days))
    for ago, water in enumerate(reversed(waters)):
        at = NOW - timedelta(days=ago * 10)
        visit = factories.visit(layer.car, at=at)
        record_grade(
            visit=visit,
            surfaces=TOPS & layer.car.surfaces,
            grade=water,
            moment=Moment.AFTER_DECON,
            at=at,
            by=None,
            now=at,
        )
        factories.close(visit, at=at)
    return layer


def page(client: Client, product: Product) -> str:
    answer = client.get(reverse("product_lasted", args=[product.pk]))
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def send(client: Client, product: Product, **typed: str) -> Any:
    address = reverse("product_lasted", args=[product.pk])
    found = re.search(r'name="seen" value="([^"]*)"', client.get(address).content.decode())
    return client.post(address, {**FIGURES, "seen": found[1] if found else "", **typed})


def test_without_grades_the_page_says_so_and_that_the_shelf_holds(sealant: Product) -> None:
    factories.layer(factories.car(), sealant)
    shown = page(factories.signed_in(), sealant)
    assert "Nothing has been graded after decontamination yet" in shown
    assert "So the shelf holds: 4 / 6 / 9 months, own figures." in shown
    assert ('<svg class="lasted' in shown, 'name="likely"' in shown) == (False, False)


def test_grades_that_tell_nothing_are_not_called_none(sealant: Product) -> None:
    layer = factories.layer(factories.car(), sealant, surfaces=TOPS, at=NOW - timedelta(days=90))
    topper = factories.product(ProductClass.SILICA_TOPPER)
    factories.layer(layer.car, topper, surfaces=TOPS, at=NOW - timedelta(days=60))
    visit = factories.visit(layer.car, at=NOW)
    on = TOPS & layer.car.surfaces
    record_grade(visit=visit, surfaces=on, grade=1, moment=Moment.AFTER_DECON, at=NOW, by=None, now=NOW)
    shown = page(factories.signed_in(), sealant)
    assert "No grade tells how long it lasts yet" in shown
    assert "1 grade saw another layer on top, and says nothing of this one." in shown


def test_class_that_nobody_knows_is_neither_guessed_nor_learned() -> None:
    assert "No forecast, nothing to learn" in page(
        factories.signed_in(), factories.product(ProductClass.UNKNOWN)
    )


def test_shelf_and_learned_figures_stand_side_by_side_with_what_they_rest_on(sealant: Product) -> None:
    for waters in ((4, 0), (1,), (0,), (3,)):
        graded(sealant, *waters)
    shown = page(factories.signed_in(), sealant)
    assert "4 layers on 4 cars tell something, graded until 4 May 2026." in shown
    assert '<dt>Last seen whole</dt><dd><b class="number">1</b> place: longer' in shown
    assert '<dt>Found finished</dt><dd><b class="number">2</b> places' in shown
    assert '<dt>In between</dt><dd><b class="number">1</b> place: whole' in shown
    # The law through 4 / 6 / 9: 3.91, 6.36 and 8.68 months at 10, 50 and 90 % (worked by hand from the fit).
    figures = re.findall(r'data-label="The shelf">([\d.]+)<', shown)
    assert figures == ["3.9", "6.4", "8.7"]
    bounds = re.findall(r'data-label="Between">([\d.]+) and ([\d.]+)<', shown)
    learned = re.findall(r'data-label="Learned"><b>([\d.]+)<', shown)
    assert [
        float(low) < float(one) < float(high) for one, (low, high) in zip(learned, bounds, strict=True)
    ] == [True] * 3
    assert shown.count('<svg class="lasted-drawing') == 2
    assert "The same as a table" in shown


@pytest.mark.parametrize(("water", "against"), [(3, False), (0, True)])
def test_sentence_and_table_speak_of_the_same_figures(sealant: Product, water: int, against: bool) -> None:
    # Whole after a month and a half says nothing against 4 / 6 / 9; six layers gone by then do.
    for _ in range(6):
        graded(sealant, water)
    shown = page(factories.signed_in(), sealant)
    shelf = re.findall(r'data-label="The shelf">([\d.]+)<', shown)[1]
    learned = re.findall(r'data-label="Learned"><b>([\d.]+)<', shown)[1]
    low, high = re.findall(r'data-label="Between">([\d.]+) and ([\d.]+)<', shown)[1]
    assert (float(low) <= float(shelf) <= float(high)) is not against
    agrees = f"Your cars do not speak against the shelf: the {shelf} months by which half are gone lie between {low}"
    differs = (
        f"By the shelf half are gone by {shelf} months; by your cars by {learned}, and {shelf} is not between"
    )
    assert (f"{agrees} and {high}." in shown, f"{differs} {low} and {high}." in shown) == (
        not against,
        against,
    )


def test_what_was_set_aside_is_told_with_its_reason(sealant: Product) -> None:
    layer = graded(sealant, 0, 3)
    shown = page(factories.signed_in(), sealant)
    assert reverse("car", args=[layer.car.ref]) in shown
    assert "Found finished on 24 April 2026, but whole on 4 May 2026: the later finding holds." in shown


def test_form_starts_with_round_figures_from_today_and_the_reason(sealant: Product) -> None:
    for _ in range(3):
        graded(sealant, 1)
    shown = page(factories.signed_in(Rank.LEAD), sealant)
    assert 'value="2026-05-04"' in shown
    assert "learned from 3 layers on 3 cars, graded until 4 May 2026</textarea>" in shown
    for name in ("low", "likely", "high"):
        found = re.search(rf'name="{name}" value="([\d.]+)"', shown)
        assert found
        assert len(found[1]) <= 4


def test_who_may_not_change_the_shelf_looks_only(sealant: Product) -> None:
    graded(sealant, 1)
    client = factories.signed_in(Rank.BENCH)
    assert 'name="likely"' not in page(client, sealant)
    assert send(client, sealant).status_code == 403
    assert Life.objects.count() == 1


def test_taken_figures_stand_as_learned_and_the_forecasts_follow(sealant: Product) -> None:
    layer = graded(sealant, 1)
    lead = factories.user(Rank.LEAD, first_name="Ebba", last_name="Thorne")
    client = factories.signed_in(by=lead)
    answer = send(client, sealant)
    assert answer.headers["Location"] == reverse("product", args=[sealant.pk])
    life = sealant.lives.get(source=Life.Source.LEARNED)
    assert (life.low, life.likely, life.high, life.since, life.by) == (3, Decimal("4.5"), 7, TODAY, lead)
    assert (life.from_layers, life.from_cars, life.seen_finished) == (1, 1, 1)
    assert Car.objects.filter(forecast_stale=True).count() == 0
    assert "learned from the studio" in layer.forecasts.get().reasons[0]["words"]
    shown = " ".join(client.get(reverse("product", args=[sealant.pk])).content.decode().split())
    assert "3 / 4.5 / 7 <span" in shown
    assert (
        "learned from our own cars (0 places last seen whole, 1 found finished, 0 in between), accepted by Ebba"
        in shown
    )
    assert "In force are 3 / 4.5 / 7 months, learned earlier; they are not counted again." in page(
        client, sealant
    )


def test_same_form_sent_twice_takes_the_figures_once(sealant: Product) -> None:
    graded(sealant, 1)
    client = factories.signed_in()
    once = "abcdefghijklmnopqrstuv"
    assert [send(client, sealant, once=once).status_code for _ in range(2)] == [302, 302]
    written = Life.objects.get(source=Life.Source.LEARNED).pk
    assert send(client, sealant, once=once).status_code == 302
    assert Life.objects.get(source=Life.Source.LEARNED).pk == written


def test_figures_are_not_taken_on_what_was_seen_since(sealant: Product) -> None:
    graded(sealant, 1)
    client = factories.signed_in()
    stale = re.search(r'name="seen" value="([^"]*)"', page(client, sealant))
    assert stale
    graded(sealant, 3)
    answer = send(client, sealant, seen=stale[1])
    assert answer.status_code == 422
    shown = answer.content.decode()
    assert "More was written down since you opened this page" in shown
    assert 'value="4,5"' in shown
    assert stale[1] not in shown
    assert not Life.objects.filter(source=Life.Source.LEARNED).exists()


def test_nothing_is_taken_where_nothing_was_learned(sealant: Product) -> None:
    assert send(factories.signed_in(), sealant).status_code == 422
    assert Life.objects.count() == 1


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"likely": ""}, "“Likely, months” is empty. Write it down."),
        ({"low": "8"}, "Low, likely and high must rise: for example 4, 6 and 9 months."),
        ({"low": "0"}, "That cannot be right: it has to be from 0.1 to 240."),
        ({"high": "soon"}, "Write the months as a plain number, such as 6 or 4.5."),
        ({"since": "2026-05-05"}, "That day is still to come"),
        ({"since": "2019-01-01"}, "Newer figures stand since 1 January 2020."),
        ({"since": "tomorrow"}, "Write the day like 4/5/2026."),
        ({"because": ""}, "“Why these figures” is empty. Write it down."),
    ],
)
def test_figures_that_cannot_be_are_refused_with_a_sentence(
    sealant: Product, typed: dict[str, str], sentence: str
) -> None:
    graded(sealant, 1)
    answer = send(factories.signed_in(), sealant, **typed)
    assert (answer.status_code, Life.objects.count()) == (422, 1)
    assert escape(sentence) in answer.content.decode()


@pytest.mark.parametrize("kind", list(STRANGE))
def test_whatever_is_typed_is_taken_or_refused_with_a_sentence(sealant: Product, kind: str) -> None:
    graded(sealant, 1)
    client = factories.signed_in()
    for field in (*FIGURES, "seen", "once"):
        Life.objects.filter(source=Life.Source.LEARNED).delete()
        answer = send(client, sealant, **{field: STRANGE[kind]})
        assert answer.status_code in (302, 422), field
        if answer.status_code == 422:
            shown = answer.content.decode()
            assert 'class="errorlist' in shown or "form-wrong" in shown, field
            assert "<script>alert" not in shown


def test_months_changed_by_hand_are_said_to_count_as_stated(sealant: Product) -> None:
    graded(sealant, 1)
    client = factories.signed_in()
    words = "Changed by hand they count as stated"
    address = reverse("life_new", args=[sealant.pk])
    assert words not in client.get(address).content.decode()
    send(client, sealant)
    assert words in client.get(address).content.decode()
