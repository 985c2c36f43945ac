"""A sale that was none, a respray that was none: taken back on the car file, with the reason."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from crm.models import Car, CarEvent, Rank
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
TODAY = NOW.date()


def _address(event: CarEvent) -> str:
    return reverse("event_take_back", args=[event.car.ref, event.pk])


def _page(browser: Client, car: Car) -> str:
    return browser.get(reverse("car", args=[car.ref])).content.decode()


def _sold() -> CarEvent:
    ada = factories.person("Ada Quill")
    return factories.event(factories.car("QA26 DEM", keeper=ada), CarEvent.Kind.SOLD, on=TODAY)


def test_a_sale_is_taken_back_from_the_car_file_and_stays_readable_there() -> None:
    event, desk = _sold(), factories.signed_in(Rank.DESK)
    here = _address(event)
    assert f'href="{here}"' in _page(desk, event.car)
    asked = desk.get(here)
    assert "The car is on file again with the people it had" in asked.content.decode()
    answer = desk.post(here, {"because": "the neighbour's car"}, follow=True)
    html = answer.content.decode()
    assert answer.redirect_chain == [(reverse("car", args=[event.car.ref]), 302)]
    assert "Taken back. It stays on record with the reason." in html
    assert "<s>Sold</s>" in html
    assert "taken back 4 May 2026: the neighbour&#x27;s car" in html
    assert "Ada Quill" in html
    assert here not in html
    assert Car.objects.get().status == Car.Status.ACTIVE


def test_without_a_reason_nothing_is_taken_back() -> None:
    event, desk = _sold(), factories.signed_in(Rank.DESK)
    answer = desk.post(_address(event), {"because": " "})
    assert answer.status_code == 422
    assert "“Why it is taken back” is empty. Write it down." in answer.content.decode()
    assert Car.objects.get().status == Car.Status.SOLD


@pytest.mark.parametrize("rank", [Rank.BENCH, Rank.LEAD])
def test_a_rank_that_may_not_sell_a_car_is_offered_no_way_to_take_a_sale_back(rank: Rank) -> None:
    event, browser = _sold(), factories.signed_in(rank)
    assert _address(event) not in _page(browser, event.car)
    for answer in (browser.get(_address(event)), browser.post(_address(event), {"because": "x"})):
        assert answer.status_code == 403
        assert "may not do this. Ask the owner-manager." in answer.content.decode()
    assert Car.objects.get().status == Car.Status.SOLD


def test_the_bench_takes_a_tunnel_wash_back() -> None:
    car, bench = factories.car(), factories.signed_in(Rank.BENCH)
    event = factories.event(car, CarEvent.Kind.TUNNEL_WASH, on=TODAY - timedelta(days=2))
    assert _address(event) in _page(bench, car)
    assert "What it took off the car is on it again." in bench.get(_address(event)).content.decode()
    assert bench.post(_address(event), {"because": "another car"}).status_code == 302
    assert CarEvent.objects.count() == 0


def test_taking_back_twice_leads_to_the_car_and_does_nothing_more() -> None:
    event, desk = _sold(), factories.signed_in(Rank.DESK)
    for because in ("wrong car", "again"):
        assert desk.post(_address(event), {"because": because}).status_code == 302
    assert CarEvent.everything.get().taken_back_because == "wrong car"


def test_an_event_is_only_found_on_its_own_car() -> None:
    event, desk = _sold(), factories.signed_in(Rank.DESK)
    other = factories.car()
    assert desk.get(reverse("event_take_back", args=[other.ref, event.pk])).status_code == 404


@pytest.mark.parametrize(
    ("rank", "offered"), [(Rank.BENCH, False), (Rank.LEAD, False), (Rank.DESK, True), (Rank.MANAGER, True)]
)
def test_a_sale_is_offered_to_those_who_may_write_one_down(rank: Rank, offered: bool) -> None:
    car, browser = factories.car(), factories.signed_in(rank)
    here = reverse("car_elsewhere", args=[car.ref])
    html = browser.get(here).content.decode()
    for kind in ("sold", "scrapped", "stolen"):
        assert (f'value="{kind}"' in html) is offered
    assert 'value="respray"' in html
    answer = browser.post(here, {"kind": "sold", "on": "2026-05-04", "certainty": "told"})
    assert (answer.status_code, CarEvent.objects.count()) == ((302, 1) if offered else (422, 0))
