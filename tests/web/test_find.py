"""The find page and the results while somebody types."""

from __future__ import annotations

import pytest
import time_machine
from django.urls import reverse

from crm.models import Rank
from tests import factories

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
TYPING = {"HX-Request": "true", "HX-Target": "find-results"}


def test_the_page_shows_the_plate_the_car_its_keeper_and_what_is_on_it(clock: time_machine.Traveller) -> None:
    car = factories.car("QA26 DEM", keeper=factories.person("Ada Quill"))
    factories.layer(car)
    page = factories.signed_in(Rank.BENCH).get(reverse("find"), {"q": "26dem"}).content.decode()
    for words in (
        "QA26 DEM",
        "Blue Halden Estate",
        "Ada Quill",
        "on all painted panels, setting",
        "last in 4 May 2026",
    ):
        assert words in page
    assert reverse("car", args=[car.ref]) in page


def test_typing_gets_the_hits_alone_and_each_is_an_option_with_an_address() -> None:
    car = factories.car("QA26 DEM")
    answer = factories.signed_in(Rank.BENCH).get(reverse("find"), {"q": "6de"}, headers=TYPING)
    html = answer.content.decode()
    assert "<html" not in html
    assert html.count('role="option"') == 1
    assert f'href="{reverse("car", args=[car.ref])}"' in html


def test_typing_shows_at_most_eight_cars_and_the_page_more() -> None:
    for number in range(12):
        factories.car(f"QA{number + 10} DEM")
    browser = factories.signed_in(Rank.BENCH)
    typing = browser.get(reverse("find"), {"q": "DEM"}, headers=TYPING).content.decode()
    page = browser.get(reverse("find"), {"q": "DEM"}).content.decode()
    assert typing.count('role="option"') == 8
    assert page.count('class="plate"') == 12


def test_an_empty_box_answers_with_nothing_while_typing_and_with_advice_as_a_page() -> None:
    browser = factories.signed_in(Rank.BENCH)
    assert browser.get(reverse("find"), {"q": ""}, headers=TYPING).content.decode().strip() == ""
    assert "three characters from the middle of the plate" in browser.get(reverse("find")).content.decode()


@pytest.mark.parametrize(
    ("typed", "field"),
    [("QA26 NEW", "mark"), ("Nobody Known", "keeper-name"), ("07700 900999", "keeper-phone")],
)
def test_where_nothing_is_found_the_car_is_taken_on_with_what_was_typed(typed: str, field: str) -> None:
    browser = factories.signed_in(Rank.MANAGER)
    page = browser.get(reverse("find"), {"q": typed})
    assert "No car answers to" in page.content.decode()
    form = browser.get(reverse("car_new"), {"q": typed}).content.decode()
    box = next(part for part in form.split("<input") if f'name="{field}"' in part)
    assert f'value="{typed}"' in box


@pytest.mark.parametrize("typed", ["<script>alert(1)</script>", "\x00", "'--", "%", "\U0001f697", "x" * 9000])
def test_whatever_is_typed_is_answered_and_shown_as_text(typed: str) -> None:
    browser = factories.signed_in(Rank.BENCH)
    for headers in ({}, TYPING):
        answer = browser.get(reverse("find"), {"q": typed}, headers=headers)
        assert answer.status_code == 200
        assert "<script>alert" not in answer.content.decode()
