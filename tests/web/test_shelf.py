"""The shelf: products by part of the car, what is in force for each, and every dated set of figures."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.html import escape

from crm.care.surfaces import Zone, surfaces_of
from crm.care.terms import ProductClass
from crm.models import Forecast, Layer, Life, Product, Rank
from crm.services.shelf import Figures, write_down_life
from tests import factories
from tests.factories import NOW
from tests.web.test_due_back import ODD

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
TODAY = NOW.date()
RIGHT = {"name": "Gannet paint sealant", "product_class": "polymer_sealant"}
FIGURES = {"low": "5", "likely": "7", "high": "10", "because": "graded on our own cars", "do": "write"}


def page(client: Client, name: str = "shelf", pk: int | None = None) -> str:
    return client.get(reverse(name, args=[pk] if pk else [])).content.decode()


def test_an_empty_shelf_teaches_and_offers_the_first_product_to_those_who_may() -> None:
    factories.studio()
    assert "Put the first product on the shelf" in page(factories.signed_in(Rank.LEAD))
    assert reverse("product_new") not in page(factories.signed_in(Rank.BENCH))


def test_products_stand_under_the_part_of_the_car_that_they_are_for() -> None:
    for kind in (
        ProductClass.FABRIC_GUARD,
        ProductClass.TYRE_GEL,
        ProductClass.GLAZE,
        ProductClass.GLASS_COATING,
    ):
        factories.product(kind)
    shown = page(factories.signed_in())
    marks = [
        "Paint",
        " glaze",
        "Wheels and tyres",
        "tyre gel",
        "Glass",
        "glass coating",
        "Cabin",
        "fabric guard",
    ]
    places = [shown.index(f">{mark}" if mark[0].isupper() else f"{mark}</a>") for mark in marks]
    assert places == sorted(places)


def test_a_class_figure_carries_its_mark_in_words_and_an_own_figure_says_that_it_is_own() -> None:
    factories.product(ProductClass.POLYMER_SEALANT)
    factories.product(ProductClass.RAIN_REPELLENT)
    factories.product(ProductClass.COATING_MULTI)
    factories.product(ProductClass.DURABLE_WAX, life=(3, 4.5, 6))
    factories.product(ProductClass.UNKNOWN)
    shown = " ".join(page(factories.signed_in()).split())
    # The figures of a class: common practice, no source.
    for words in (
        '4 / 6 / 9</b> months <span class="soft small">the class&#x27;s figures, opinions differ',
        '1 / 2 / 3</b> months <span class="soft small">the class&#x27;s figures, common practice',
        '24 / 42 / 66</b> months <span class="soft small">the class&#x27;s figures, our estimate',
        '3 / 4.5 / 6</b> months <span class="soft small">own figures',
        "no forecast</b></p>",
    ):
        assert words in shown


def test_waits_are_those_in_force() -> None:
    row = factories.product(ProductClass.POLYMER_SEALANT)
    write_down_life(product=row, figures=Figures(wash_hours=120), since=TODAY, by=None)
    shown = page(factories.signed_in(), "product", row.pk)
    whose = "the class's figure, usual: 12 h to 24 h"
    assert f'<dt>Keep dry</dt><dd>24 h <span class="soft">{whose}</span></dd>' in shown
    assert (
        '<dt>Wash from</dt><dd>5 days <span class="soft">own figure, usual: 3 days to 7 days</span>' in shown
    )


def test_a_product_says_on_how_many_cars_it_was_laid() -> None:
    row = factories.product()
    car = factories.car()
    for on in (car, car, factories.car()):
        factories.layer(on, row, at=NOW - timedelta(days=60))
    client = factories.signed_in()
    assert "on 2 cars" in page(client)
    assert "2 cars; " in page(client, "product", row.pk)


def test_the_data_sheet_always_wins_and_its_link_is_a_safe_one() -> None:
    row = factories.product(data_sheet="https://example.com/sheet.pdf")
    client = factories.signed_in()
    for shown in (page(client), page(client, "product", row.pk)):
        assert "data sheet always wins" in shown
        assert 'href="https://example.com/sheet.pdf" rel="noopener noreferrer nofollow external"' in shown
    Product.objects.filter(pk=row.pk).update(data_sheet="javascript:alert(1)")
    for shown in (page(client), page(client, "product", row.pk)):
        assert "javascript:alert" not in shown


def test_earlier_figures_are_listed_with_who_and_why() -> None:
    row = factories.product()
    boss = factories.user(Rank.MANAGER, first_name="Ebba", last_name="Thorne")
    for day, why in ((date(2025, 3, 1), "its data sheet"), (date(2026, 3, 1), "two hard winters")):
        figures = Figures(low=Decimal(4), likely=Decimal(6), high=Decimal("9.25"), because=why)
        write_down_life(product=row, figures=figures, since=day, by=boss)
    shown = page(factories.signed_in(), "product", row.pk)
    assert shown.index("1 March 2026") < shown.index("1 March 2025")
    assert "4 / 6 / 9.25 months" in shown
    assert ("Ebba Thorne: its data sheet" in shown, "Ebba Thorne: two hard winters" in shown) == (True, True)


def test_the_number_of_queries_is_the_same_at_1_and_3_products() -> None:
    client = factories.signed_in()
    counts = []
    for kinds in ((ProductClass.GLAZE,), (ProductClass.TYRE_GEL, ProductClass.POLYMER_SEALANT)):
        for kind in kinds:
            factories.product(kind, life=(1, 2, 3))
        with CaptureQueriesContext(connection) as queries:
            page(client)
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_a_product_is_put_on_the_shelf() -> None:
    typed = {**RIGHT, "data_sheet": "example.com/gannet.pdf", "cautions": "Gloves.", "scent_free": "on"}
    answer = factories.signed_in(Rank.LEAD).post(reverse("product_new"), typed)
    row = Product.objects.get()
    assert answer.headers["Location"] == reverse("product", args=[row.pk])
    assert (row.name, row.data_sheet, row.scent_free, row.on_shelf) == (
        "Gannet paint sealant",
        "https://example.com/gannet.pdf",
        True,
        True,
    )


def test_the_same_form_sent_twice_makes_one_product() -> None:
    client = factories.signed_in()
    typed = {**RIGHT, "once": "abcdefghijklmnopqrstuv"}
    assert [client.post(reverse("product_new"), typed).status_code for _ in range(2)] == [302, 302]
    assert Product.objects.count() == 1


def test_a_name_that_is_taken_is_refused_beside_the_name() -> None:
    factories.product(ProductClass.GLAZE, "Gannet Paint Sealant")
    answer = factories.signed_in().post(reverse("product_new"), RIGHT)
    assert answer.status_code == 422
    shown = answer.content.decode()
    assert "“Gannet paint sealant” is on the shelf already." in shown
    assert 'value="Gannet paint sealant"' in shown


def test_the_class_of_a_product_that_was_laid_stays() -> None:
    row = factories.product(name="Gannet paint sealant")
    factories.layer(factories.car(), row)
    client = factories.signed_in()
    answer = client.post(reverse("product_edit", args=[row.pk]), {**RIGHT, "product_class": "glaze"})
    assert answer.status_code == 422
    assert "so its class stays" in answer.content.decode()
    client.post(reverse("product_edit", args=[row.pk]), {**RIGHT, "family": "Gannet"})
    row.refresh_from_db()
    assert (row.product_class, row.family) == ("polymer_sealant", "Gannet")


def test_correcting_a_product_leaves_it_off_the_shelf_where_it_was() -> None:
    row = factories.product(name="Gannet paint sealant")
    Product.objects.filter(pk=row.pk).update(on_shelf=False)
    factories.signed_in().post(reverse("product_edit", args=[row.pk]), {**RIGHT, "cautions": "Gloves."})
    row.refresh_from_db()
    assert (row.cautions, row.on_shelf) == ("Gloves.", False)


def test_a_product_is_taken_off_the_shelf_and_put_back() -> None:
    row = factories.product()
    client = factories.signed_in()
    for do, on_shelf in (("off", False), ("back", True)):
        client.post(reverse("product_place", args=[row.pk]), {"do": do})
        row.refresh_from_db()
        assert row.on_shelf is on_shelf


def test_new_figures_show_first_what_would_move_and_write_nothing() -> None:
    row = factories.product(life=(4, 6, 9))
    for _ in range(2):
        factories.layer(factories.car(), row, at=NOW - timedelta(days=30), surfaces=surfaces_of(Zone.TOPS))
    before = list(Forecast.objects.values_list("pk", "likely"))
    answer = factories.signed_in().post(reverse("life_new", args=[row.pk]), {**FIGURES, "do": "look"})
    shown = " ".join(answer.content.decode().split())
    assert (
        "<b>2 forecasts on 2 cars</b> would move, to later days: from 4 / 6 / 9 to 5 / 7 / 10 months."
        in shown
    )
    assert (Life.objects.count(), list(Forecast.objects.values_list("pk", "likely"))) == (1, before)


def test_the_same_months_move_no_forecast() -> None:
    row = factories.product(life=(5, 7, 10))
    factories.layer(factories.car(), row)
    answer = factories.signed_in().post(reverse("life_new", args=[row.pk]), {**FIGURES, "do": "look"})
    assert "no forecast moves" in answer.content.decode()


def test_new_figures_stand_from_today_and_the_forecasts_follow() -> None:
    row = factories.product(life=(4, 6, 9), since=date(2025, 1, 1))
    layer = factories.layer(
        factories.car(), row, at=NOW - timedelta(days=30), surfaces=surfaces_of(Zone.TOPS)
    )
    before = layer.forecasts.get().likely
    lead = factories.user(Rank.LEAD)
    typed = {**FIGURES, "likely": "7,5", "dry_hours": "12", "wash_hours": "7 days", "topper_hours": "2d"}
    answer = factories.signed_in(by=lead).post(reverse("life_new", args=[row.pk]), typed)
    assert answer.status_code == 302
    life = row.lives.get(since=TODAY)
    assert (life.low, life.likely, life.high) == (5, Decimal("7.5"), 10)
    assert (life.dry_hours, life.wash_hours, life.topper_hours, life.cure_hours) == (12, 168, 48, None)
    assert (life.by, life.because, row.lives.count()) == (lead, "graded on our own cars", 2)
    after = layer.forecasts.get().likely
    assert before is not None
    assert after is not None
    assert after > before


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"likely": ""}, "Give all three, low, likely and high, or none for the class's own."),
        ({"low": "8"}, "Low, likely and high must rise: for example 4, 6 and 9 months."),
        ({"low": "0"}, "That cannot be right: it has to be from 0.1 to 240."),
        ({"high": "1000"}, "That cannot be right: it has to be from 0.1 to 240."),
        ({"high": "soon"}, "Write the months as a plain number, such as 6 or 4.5."),
        ({"dry_hours": "-3"}, "Write hours or days: 12 h, or 7 days."),
        ({"dry_hours": "121 days"}, "That cannot be right: 120 days are the most."),
        ({"because": ""}, "“Why these figures” is empty. Write it down."),
    ],
)
def test_figures_that_cannot_be_are_refused_with_a_sentence(typed: dict[str, str], sentence: str) -> None:
    row = factories.product()
    answer = factories.signed_in().post(reverse("life_new", args=[row.pk]), {**FIGURES, **typed})
    assert (answer.status_code, Life.objects.count()) == (422, 0)
    assert escape(sentence) in answer.content.decode()


@pytest.mark.parametrize(
    "address",
    [
        "javascript:alert(1)",
        "ftp://example.com/x",
        "data:text/html,x",
        "https://",
        "http://[",
        "//x y",
        "https://exa mple.com",
        "x",
    ],
)
def test_the_address_of_a_data_sheet_is_one_of_the_web(address: str) -> None:
    answer = factories.signed_in().post(reverse("product_new"), {**RIGHT, "data_sheet": address})
    assert (answer.status_code, Product.objects.count()) == (422, 0)
    assert "Write the address of the data sheet as the browser shows it" in answer.content.decode()


@pytest.mark.parametrize("rank", [Rank.BENCH, Rank.DESK])
def test_everybody_looks_and_only_a_lead_and_the_manager_change(rank: Rank) -> None:
    row = factories.product()
    client = factories.signed_in(rank)
    assert client.get(reverse("product", args=[row.pk])).status_code == 200
    assert "New figures from today" not in page(client, "product", row.pk)
    for name in ("product_edit", "life_new", "product_place"):
        assert client.post(reverse(name, args=[row.pk])).status_code == 403
    assert client.get(reverse("product_new")).status_code == 403


def test_no_class_is_left_out_of_the_choice() -> None:
    shown = page(factories.signed_in(), "product_new")
    assert shown.count('name="product_class"') == len(ProductClass)


@pytest.mark.parametrize("text", ODD, ids=range(len(ODD)))
def test_whatever_is_typed_is_taken_or_refused_with_a_sentence_and_kept(text: str) -> None:
    row = factories.product(name="Dunlin winter wax")
    layers = Layer.objects.count()
    client = factories.signed_in()
    typed = text.encode("utf-8", "replace").decode()
    forms: dict[str, tuple[str, dict[str, str], tuple[str, ...]]] = {
        "new": (
            reverse("product_new"),
            RIGHT,
            (*RIGHT, "family", "data_sheet", "cautions", "scent_free", "once"),
        ),
        "edit": (reverse("product_edit", args=[row.pk]), RIGHT, (*RIGHT, "family", "data_sheet", "cautions")),
        "life": (
            reverse("life_new", args=[row.pk]),
            {**FIGURES, "do": "look"},
            (
                "low",
                "likely",
                "high",
                "dry_hours",
                "wash_hours",
                "topper_hours",
                "cure_hours",
                "because",
                "do",
            ),
        ),
        "place": (reverse("product_place", args=[row.pk]), {"do": "back"}, ("once",)),
    }
    for address, right, fields in forms.values():
        for field in fields:
            Product.objects.exclude(pk=row.pk).delete()
            Product.objects.filter(pk=row.pk).update(name="Dunlin winter wax")
            answer = client.post(address, {**right, field: typed})
            assert (field, answer.status_code) in ((field, 200), (field, 302), (field, 422))
            if answer.status_code == 422:
                shown = answer.content.decode().replace("\0", "")
                assert 'class="errorlist"' in shown
                if field != "product_class":
                    assert escape(typed.replace("\0", "")) in shown
    assert Layer.objects.count() == layers
