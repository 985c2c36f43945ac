"""What the bay sheet says to a layer before it is laid, and what it calls the surfaces of the car."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django.utils.html import strip_tags

from crm.care.layering_scene import day_words
from crm.care.terms import ProductClass
from crm.models import Layer, Product, Rank, Visit
from tests import factories as made

pytestmark = pytest.mark.django_db
HTMX = {"HTTP_HX_REQUEST": "true"}


@pytest.fixture
def stay() -> Visit:
    """A car that came in three hours ago."""
    return made.visit(at=timezone.now() - timedelta(hours=3))


def _layer(product: Product, **typed: Any) -> dict[str, Any]:
    """A form on which nothing but the rules for layers can find fault."""
    return {
        "product": product.pk,
        "surfaces": ["bonnet", "roof"],
        "coats": "2",
        "prep": "polished_wiped",
        "panel_wiped": "yes",
        "air_c": "18,5",
        "humidity": "61",
        "surface_c": "17.0",
        **typed,
    }


def _post(client: Client, name: str, stay: Visit, typed: dict[str, Any], **more: Any) -> Any:
    return client.post(reverse(name, args=[stay.pk]), typed, **more)


def test_a_coating_over_a_sealant_is_stopped_by_name_and_day_and_laid_with_a_reason() -> None:
    car = made.car()
    made.layer(car, made.product(ProductClass.POLYMER_SEALANT, "Gannet paint sealant"), at=made.NOW)
    stay = made.visit(car, at=timezone.now() - timedelta(hours=3))
    lead, coating = made.signed_in(Rank.LEAD), made.product(ProductClass.COATING_PROFESSIONAL, "Fulmar")
    day = day_words(made.NOW.date(), timezone.localdate())
    under = f"Gannet paint sealant of {day} on the bonnet and roof still lies there."
    live = _post(lead, "bay_layer_check", stay, _layer(coating), **HTMX).content.decode()
    assert "data-stops" in live
    assert under in live
    asked = _post(lead, "bay_layer", stay, _layer(coating))
    assert asked.status_code == 422
    assert under in asked.content.decode()
    assert "Say why it is done all the same." in asked.content.decode()
    assert not Layer.objects.filter(visit=stay).exists()
    reason = "stripped before the book was opened"
    assert _post(lead, "bay_layer", stay, _layer(coating, over_warnings=reason)).status_code == 302
    assert Layer.objects.get(visit=stay).over_warnings == reason


def test_a_coating_over_the_same_panel_polished_on_this_visit_is_let_on_without_a_word() -> None:
    car = made.car()
    made.layer(car, made.product(ProductClass.POLYMER_SEALANT, "Gannet paint sealant"), at=made.NOW)
    stay = made.visit(car, at=timezone.now() - timedelta(hours=3))
    lead, coating = made.signed_in(Rank.LEAD), made.product(ProductClass.COATING_PROFESSIONAL, "Fulmar")
    _post(
        lead, "bay_step", stay, {"processes": ["fine_polish", "panel_wipe"], "surfaces": ["bonnet", "roof"]}
    )
    live = _post(lead, "bay_layer_check", stay, _layer(coating), **HTMX).content.decode()
    assert "Gannet" not in live
    assert _post(lead, "bay_layer", stay, _layer(coating)).status_code == 302


def test_a_coating_with_no_preparation_on_record_is_noted_and_laid_all_the_same(stay: Visit) -> None:
    client = made.signed_in(Rank.BENCH)
    coating = made.product(ProductClass.COATING_PROFESSIONAL, "Fulmar")
    unsaid = _layer(coating, prep="", panel_wiped="")
    live = _post(client, "bay_layer_check", stay, unsaid, **HTMX).content.decode()
    note = "No preparation is recorded on the bonnet and roof: a coating wants polished and wiped paint."
    assert note in live
    assert "data-stops" not in live
    assert note not in _post(client, "bay_layer_check", stay, _layer(coating), **HTMX).content.decode()
    assert _post(client, "bay_layer", stay, unsaid).status_code == 302
    assert Layer.objects.filter(visit=stay).count() == 1


def test_coats_that_follow_too_soon_are_noted_on_the_sheet(stay: Visit) -> None:
    client = made.signed_in(Rank.BENCH)
    coating = made.product(ProductClass.COATING_PROFESSIONAL, "Fulmar")
    soon = _post(client, "bay_layer_check", stay, _layer(coating, coat_gap_minutes="30"), **HTMX)
    assert (
        "A second coat after 30 minutes is early: Fulmar wants about 1 hour first." in soon.content.decode()
    )
    later = _post(client, "bay_layer_check", stay, _layer(coating, coat_gap_minutes="60"), **HTMX)
    assert "second coat" not in later.content.decode()


@pytest.mark.parametrize(("key", "refusal"), [("boot_lid", "boot lid, top"), ("soft_top", "soft top")])
def test_a_surface_that_the_car_has_not_is_refused_by_its_name(key: str, refusal: str) -> None:
    stay = made.visit(made.car(body="pick_up"), at=timezone.now() - timedelta(hours=3))
    answer = _post(made.signed_in(), "bay_layer", stay, _layer(made.product(), surfaces=[key]))
    assert answer.status_code == 422
    assert f"This car has no {refusal}." in answer.content.decode()


@pytest.mark.parametrize(
    ("body", "said"), [("saloon", "boot lid"), ("estate", "tailgate"), ("van", "back doors")]
)
def test_the_sheet_speaks_of_the_car_that_stands_there(body: str, said: str) -> None:
    stay = made.visit(made.car(body=body), at=timezone.now() - timedelta(hours=3))
    client = made.signed_in()
    _post(
        client, "bay_step", stay, {"processes": ["contact_wash"], "surfaces": ["boot_lid", "tailgate_lower"]}
    )
    page = strip_tags(client.get(reverse("bay", args=[stay.pk])).content.decode()).lower()
    assert {other for other in ("boot lid", "tailgate", "back doors") if other in page} == {said}
