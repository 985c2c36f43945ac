"""A plate or a keeper that was written down for a day to come, in the file and on its pages."""

from __future__ import annotations

import re
from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from crm.models import Rank
from crm.services.registry import give_role
from tests import factories

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


@pytest.fixture
def manager() -> Client:
    return factories.signed_in(Rank.MANAGER)


def put_on(browser: Client, ref: str, mark: str, since: str) -> int:
    return browser.post(reverse("car_plate", args=[ref]), {"mark": mark, "since": since}).status_code


def test_what_begins_on_a_day_to_come_stands_in_the_file_as_such(manager: Client) -> None:
    car = factories.car("QA26 DEM", keeper=factories.person("Ada Quill"))
    assert put_on(manager, car.ref, "QP11 VAT", "2026-06-01") == 302
    give_role(car=car, person=factories.person("Bram Harrow"), part="keeper", since=date(2026, 6, 2), by=None)
    parts = manager.get(reverse("car", args=[car.ref])).content.decode().split("</header>")
    (head,) = [part for part in parts if "car-people" in part]
    shown = " ".join(re.sub("<[^>]*>", " ", head[head.index('class="car-name"') :]).split())
    order = [
        "QA26 DEM",
        "Ada Quill",
        "until 2 Jun 2026",
        "From 2 Jun 2026: keeper Bram Harrow",
        "From 1 Jun 2026: plate QP11 VAT",
    ]
    places = [shown.index(words) for words in order]
    assert places == sorted(places)


def test_a_plate_dated_ahead_is_called_off_and_the_other_stays(manager: Client) -> None:
    car = factories.car("QA26 DEM")
    assert put_on(manager, car.ref, "QP11 VAT", "2026-06-01") == 302
    page = manager.get(reverse("car_plate", args=[car.ref])).content.decode()
    assert 'It carries <span class="plate">QA26 DEM</span> until 1 Jun 2026.' in page
    assert 'From 1 Jun 2026 it carries <span class="plate">QP11 VAT</span>.' in page
    coming = car.plates.get(mark="QP11 VAT")
    for _ in range(2):
        assert manager.post(reverse("plate_called_off", args=[car.ref, coming.pk])).status_code == 302
    assert list(car.plates.order_by("pk").values_list("mark", "until")) == [
        ("QA26 DEM", None),
        ("QP11 VAT", date(2026, 6, 1)),
    ]
    assert "called off" in manager.get(reverse("car", args=[car.ref])).content.decode()


def test_a_plate_of_today_is_not_called_off(manager: Client) -> None:
    car = factories.car("QA26 DEM")
    address = reverse("plate_called_off", args=[car.ref, car.plates.get().pk])
    assert manager.post(address).status_code == 302
    assert car.plates.get().until is None
