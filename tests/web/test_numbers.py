"""The engine's figures on the screen: read beside the defaults, changed one at a time, put back."""

from __future__ import annotations

from datetime import date

import pytest
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from crm.care.numbers import numbers_by_path
from crm.models import Car, Forecast, Rank, Studio
from tests import factories
from tests.web.strange import STRANGE

pytestmark = pytest.mark.django_db

LIFE = "lives.natural_wax.life"
GARAGE = "wear.parking.garage"


def _likely(car: Car) -> date:
    likely = Forecast.objects.filter(car=car, zone="tops").values_list("likely", flat=True).get()
    assert likely is not None
    return likely


def test_the_list_shows_every_figure_with_how_sure_it_is(
    django_assert_max_num_queries: DjangoAssertNumQueries,
) -> None:
    factories.studio(engine_overrides={"wear": {"parking": {"garage": 0.85}}})
    browser = factories.signed_in()
    with django_assert_max_num_queries(6):
        html = browser.get(reverse("numbers")).content.decode()
    assert all(f'href="{reverse("number", args=[path])}"' in html for path in numbers_by_path())
    assert "6 figures, 1 of your own" in html
    assert [words in html for words in ("common practice", "opinions differ", "our estimate")] == [True] * 3
    assert "<b>0.85</b>" in html


@pytest.mark.parametrize(
    "path", [LIFE, GARAGE, "wear.distance.limits", "zones.seats.hard_use.share", "wear.air.unknown"]
)
def test_a_figure_has_a_page_of_its_own(path: str) -> None:
    factories.studio()
    answer = factories.signed_in().get(reverse("number", args=[path]))
    assert answer.status_code == 200
    assert answer.content.decode().count('name="figure_') == len(numbers_by_path()[path].values)


@pytest.mark.parametrize(
    "path", ["wear", "wear.parking", "wear.parking.mark", "lives.unknown.life", "x", "\x00", "🦜"]
)
def test_what_is_no_figure_is_a_page_that_does_not_exist(path: str) -> None:
    factories.studio()
    browser = factories.signed_in()
    assert browser.get(reverse("number", args=[path])).status_code == 404
    assert browser.post(reverse("number_back", args=[path])).status_code == 404


def test_an_own_figure_is_saved_with_its_reason_and_moves_the_forecasts() -> None:
    car = factories.car()
    factories.layer(car)
    before = _likely(car)
    browser = factories.signed_in()
    typed = {"figure_0": "3", "figure_1": "4,5", "figure_2": "7", "because": "washed hard here"}
    answer = browser.post(reverse("number", args=["lives.polymer_sealant.life"]), typed, follow=True)
    html = answer.content.decode()
    assert "Saved. The forecasts of every car are worked out anew." in html
    assert "low 3, likely 4.5, high 7" in html
    assert "washed hard here" in html
    assert _likely(car) < before
    html = browser.post(
        reverse("number_back", args=["lives.polymer_sealant.life"]), follow=True
    ).content.decode()
    assert "The default counts again. The forecasts of every car are worked out anew." in html
    assert Studio.objects.get().engine_overrides == {}
    assert _likely(car) == before


def test_what_the_tables_refuse_stands_beside_the_figure_and_what_was_typed_is_kept() -> None:
    factories.studio()
    answer = factories.signed_in().post(
        reverse("number", args=[GARAGE]), {"figure_0": "0.7", "because": "dry garages"}
    )
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["figure_0"]
    assert (
        answer.context["form"]
        .errors["figure_0"][0]
        .startswith(
            "“parking: not known”: the last number has to be at most 0.7, the best of the known answers,"
        )
    )
    html = answer.content.decode()
    assert ('value="0.7"' in html, 'value="dry garages"' in html) == (True, True)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("1,200", "Write 1200, or 1.200 if that is what you mean."),
        ("-0.5", "Write a plain number, such as 0.85 or 12."),
        ("1e3", "Write a plain number, such as 0.85 or 12."),
        ("nan", "Write a plain number, such as 0.85 or 12."),
        ("\u0660\u066b\u0668", "Write a plain number, such as 0.85 or 12."),
        ("", "Write a number."),
        ("9", "This is 9; it has to be between 0.1 and 5."),
        ("0", "This is 0; it has to be between 0.1 and 5."),
    ],
)
def test_a_number_that_cannot_be_is_refused_in_a_sentence(typed: str, sentence: str) -> None:
    factories.studio()
    answer = factories.signed_in().post(reverse("number", args=[GARAGE]), {"figure_0": typed, "because": "x"})
    assert answer.status_code == 422
    assert answer.context["form"].errors["figure_0"] == [sentence]


@pytest.mark.parametrize("field", ["figure_0", "figure_2", "because", "once"])
def test_no_field_of_a_figure_breaks_on_anything(field: str) -> None:
    factories.studio()
    browser = factories.signed_in()
    good = {"figure_0": "1", "figure_1": "2", "figure_2": "3.5", "because": "seen here", "once": ""}
    for kind, text in STRANGE.items():
        before = Studio.objects.get().engine_overrides
        answer = browser.post(reverse("number", args=[LIFE]), {**good, field: text})
        assert answer.status_code in (302, 422), kind
        html = answer.content.decode()
        assert "<script>alert(1)</script>" not in html
        if answer.status_code == 422:
            assert "errorlist" in html, kind
            assert Studio.objects.get().engine_overrides == before


def test_a_comma_and_a_point_are_the_same() -> None:
    factories.studio()
    factories.signed_in().post(reverse("number", args=[GARAGE]), {"figure_0": "0,85", "because": "x"})
    assert Studio.objects.get().engine_overrides == {"wear": {"parking": {"garage": 0.85}}}


@pytest.mark.parametrize("rank", [Rank.BENCH, Rank.LEAD, Rank.DESK])
def test_other_ranks_do_not_get_at_the_numbers(rank: Rank) -> None:
    browser = factories.signed_in(rank)
    assert browser.get(reverse("numbers")).status_code == 403
    assert (
        browser.post(reverse("number", args=[GARAGE]), {"figure_0": "0.85", "because": "x"}).status_code
        == 403
    )
    assert browser.post(reverse("number_back", args=[GARAGE])).status_code == 403
    assert Studio.objects.get().engine_overrides == {}
