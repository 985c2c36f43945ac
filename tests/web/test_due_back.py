"""The list of cars that are due back, as a page and as the part of it that is swapped."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from crm.care.surfaces import Zone, surfaces_of
from crm.care.terms import ProductClass
from crm.models import Car, Forecast, Rank
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]

TODAY = NOW.date()
ODD = (
    "",
    "0",
    "-1",
    "9" * 5000,
    "\u0661\u0667",
    "NaN",
    "'); DROP TABLE crm_forecast; --",
    "<script>alert(1)</script>",
    "{{ 7|add:7 }}",
    "a\0b",
    "\ud800",
    "שלום \u202e abc",
    "🧽🚗",
    "x" * 20_000,
    "%00",
)


def car_due(low: date, *, mark: str = "", **known: Any) -> Car:
    car = factories.car(mark, keeper=factories.person(letters=True, **known))
    factories.layer(car, factories.product(ProductClass.POLYMER_SEALANT), at=NOW - timedelta(days=120))
    Forecast.objects.filter(car=car).update(
        low=low, likely=low + timedelta(days=60), high=low + timedelta(days=120), due_on=low
    )
    return car


def page(client: Client, **query: str) -> str:
    return client.get(reverse("due_back"), query).content.decode()


def test_an_empty_list_says_what_to_do() -> None:
    shown = page(factories.signed_in())
    assert "0 cars." in shown
    assert "No car is due back here. Choose a longer time, or fewer conditions." in shown


def test_a_row_says_who_what_when_and_what_may_be_written() -> None:
    car = car_due(TODAY + timedelta(days=20), mark="QA26 DEM", name="Ada Quill")
    shown = page(factories.signed_in())
    assert "1 car." in shown
    for words in ("QA26 DEM", "Blue Halden Estate", "Ada Quill", "letter allowed", "all painted panels"):
        assert words in shown
    assert "late May 2026" in shown  # 24 May: the low date in words, never the day
    assert "badge-holding" in shown
    assert reverse("car", args=[car.ref]) in shown


def test_what_else_is_on_a_car_is_there_in_full_the_long_rest_folded_away() -> None:
    car = car_due(TODAY + timedelta(days=20), mark="QA26 DEM")
    others = (
        (ProductClass.GLASS_COATING, Zone.SCREEN),
        (ProductClass.WHEEL_COATING, Zone.WHEELS),
        (ProductClass.TRIM_COATING, Zone.TRIM),
        (ProductClass.LEATHER_COATING, Zone.SEATS),
    )
    for number, (kind, zone) in enumerate(others):
        product = factories.product(kind, f"Gull {number}")
        factories.layer(car, product, surfaces=surfaces_of(zone), at=NOW - timedelta(days=20))
    shown = page(factories.signed_in(), lapsing="any")
    folded = shown.partition("and 2 more layers")[2].partition("</details>")[0]
    assert [f"Gull {number}" in shown for number in range(4)] == [True] * 4
    assert sum(f"Gull {number}" in folded for number in range(4)) == 2


def test_three_months_is_what_is_shown_at_first() -> None:
    car_due(TODAY + timedelta(days=30), mark="QA11 NEA")
    car_due(TODAY + timedelta(days=130), mark="QB22 FAR")
    client = factories.signed_in()
    assert ("QA11 NEA" in page(client), "QB22 FAR" in page(client)) == (True, False)
    assert "QB22 FAR" in page(client, lapsing="any")


def test_without_the_right_to_people_a_keeper_is_a_name_and_not_a_link() -> None:
    car_due(TODAY + timedelta(days=20), name="Ada Quill")
    shown = page(factories.signed_in(Rank.BENCH))
    assert ("Ada Quill" in shown, "/person/" in shown) == (True, False)


def test_only_the_table_is_answered_to_a_swap() -> None:
    car_due(TODAY + timedelta(days=20), mark="QA26 DEM")
    answer = factories.signed_in().get(reverse("due_back"), headers={"HX-Request": "true"})
    swapped = answer.content.decode()
    assert ("<html" in swapped, 'id="due-results"' in swapped, "QA26 DEM" in swapped) == (False, True, True)


def test_the_table_sorts_by_the_low_date_both_ways() -> None:
    car_due(TODAY + timedelta(days=20), mark="QA11 AAA")
    car_due(TODAY + timedelta(days=10), mark="QB22 BBB")
    client = factories.signed_in()
    first, last = page(client), page(client, sort="-due")
    assert first.index("QB22 BBB") < first.index("QA11 AAA")
    assert last.index("QA11 AAA") < last.index("QB22 BBB")


def test_pages_keep_the_filters() -> None:
    for day in range(26):
        car_due(TODAY + timedelta(days=100 + day))
    client = factories.signed_in()
    first = page(client, lapsing="any", condition="holding")
    assert first.count("on all painted panels") == 25
    assert "Page 1 of 2, 26 in all" in first
    assert "?lapsing=any&amp;condition=holding&amp;page=2" in first
    assert page(client, lapsing="any", condition="holding", page="2").count("on all painted panels") == 1


def test_the_number_of_queries_is_the_same_at_1_3_and_25_rows() -> None:
    client = factories.signed_in()
    counts = []
    for more in (1, 2, 22):
        for _ in range(more):
            car_due(TODAY + timedelta(days=20))
        with CaptureQueriesContext(connection) as queries:
            shown = page(client)
        counts.append((shown.count("on all painted panels"), len(queries)))
    assert [rows for rows, _ in counts] == [1, 3, 25]
    assert len({queries for _, queries in counts}) == 1


def test_a_choice_that_is_none_is_said_beside_its_chips_and_narrows_nothing() -> None:
    car_due(TODAY + timedelta(days=20), mark="QA26 DEM")
    shown = page(factories.signed_in(), salt="perhaps")
    assert ("Choose one of these." in shown, "QA26 DEM" in shown) == (True, True)


@pytest.mark.parametrize("text", ODD, ids=range(len(ODD)))
def test_whatever_stands_in_the_address_is_answered(text: str) -> None:
    car_due(TODAY + timedelta(days=20))
    client = factories.signed_in()
    names = ("lapsing", "text", "condition", "zones", "salt", "reach", "plan", "sort", "page")
    for name in names:
        answer = client.get(reverse("due_back"), {name: text.encode("utf-8", "surrogatepass")})
        assert answer.status_code == 200
        assert b"<script>alert" not in answer.content


def test_the_day_is_the_studios_own() -> None:
    """23:30 UTC on 31 May is 00:30 on 1 June in Skerrin: "this month" is June."""
    car_due(date(2026, 6, 20), mark="QA26 DEM")
    with time_machine.travel("2026-05-31T23:30:00+00:00", tick=False):
        assert "QA26 DEM" in page(factories.signed_in(), lapsing="month")
    with time_machine.travel("2026-05-31T22:30:00+00:00", tick=False):
        assert "QA26 DEM" not in page(factories.signed_in(), lapsing="month")
