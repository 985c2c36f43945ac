"""The bay sheet: grades, processes, layers and taking back, through the forms."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from crm.care.surfaces import PANELS, Surface, Surfaces
from crm.care.terms import ProductClass
from crm.models import Grade, Layer, Product, Rank, Step, Visit
from crm.selectors.coats import live_surfaces
from crm.selectors.visit_page import visit_page
from tests import factories as made

pytestmark = pytest.mark.django_db
HTMX = {"HTTP_HX_REQUEST": "true"}
FINE_AIR = {"air_c": "18,5", "humidity": "61", "surface_c": "17.0"}


@pytest.fixture
def stay() -> Visit:
    """A car that came in three hours ago."""
    return made.visit(at=timezone.now() - timedelta(hours=3))


def _layer(product: Product, **typed: Any) -> dict[str, Any]:
    return {
        "product": product.pk,
        "surfaces": ["bonnet", "roof"],
        "coats": "2",
        "prep": "polished_wiped",
        "panel_wiped": "yes",
        **FINE_AIR,
        **typed,
    }


def _post(client: Client, name: str, stay: Visit, typed: dict[str, Any], **more: Any) -> Any:
    return client.post(reverse(name, args=[stay.pk]), typed, **more)


def test_one_press_grades_every_chosen_spot(stay: Visit) -> None:
    client = made.signed_in(Rank.BENCH)
    typed = {"moment_of": "before_decon", "spots": ["bonnet", "lower_sides"], "grade": "0"}
    assert _post(client, "bay_grade", stay, typed).headers["Location"].endswith("/bay/#water")
    assert [(row.grade, row.moment) for row in Grade.objects.filter(visit=stay)] == [(0, "before_decon")] * 2
    _post(client, "bay_grade", stay, {"moment_of": "after_decon", "spots": ["bonnet"], "grade": "1"})
    bonnet = next(spot for spot in visit_page(stay, today=made.NOW.date()).spots if spot.key == "bonnet")
    assert bonnet.before is not None
    assert bonnet.after is not None
    assert (bonnet.before.grade, bonnet.after.grade) == (0, 1)


@pytest.mark.parametrize(
    ("before", "after", "recovered"),
    [(0, 1, False), (1, 2, True), (0, 2, True), (2, 2, False), (3, 2, False), (2, 4, True), (None, 4, False)],
)
def test_recovered_is_said_only_where_a_layer_showed_again(
    stay: Visit, before: int | None, after: int, recovered: bool
) -> None:
    """From 0 to 1 is dirt gone and no layer found: grades 2 and better are of a layer. Common practice, no source."""
    client = made.signed_in(Rank.BENCH)
    for grade, moment in ((before, "before_decon"), (after, "after_decon")):
        if grade is not None:
            typed = {"moment_of": moment, "spots": ["bonnet"], "grade": str(grade)}
            _post(client, "bay_grade", stay, typed)
    page = client.get(reverse("bay", args=[stay.pk])).content.decode()
    assert ("recovered" in page) is recovered


def test_a_grade_without_a_spot_says_so_and_keeps_the_moment(stay: Visit) -> None:
    answer = _post(made.signed_in(), "bay_grade", stay, {"moment_of": "after_decon", "grade": "3"})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Choose where the water was looked at." in page
    ticked = re.search(r'<input[^>]*name="moment_of"[^>]*checked[^>]*>', page)
    assert ticked is not None
    assert 'value="after_decon"' in ticked[0]


def test_processes_are_written_in_their_order_and_say_what_they_ended() -> None:
    car = made.car()
    made.layer(car, made.product(ProductClass.POLYMER_SEALANT, "Gannet paint sealant"), at=made.NOW)
    stay = made.visit(car, at=timezone.now() - timedelta(hours=3))
    typed = {"processes": ["clay", "contact_wash"], "surfaces": ["bonnet"], "note": "lower half only"}
    answer = _post(made.signed_in(Rank.BENCH), "bay_step", stay, typed, follow=True)
    steps = list(Step.objects.filter(visit=stay).order_by("pk"))
    assert [(row.process, row.surfaces.keys(), row.note) for row in steps] == [
        ("contact_wash", ["bonnet"], "lower half only"),
        ("clay", ["bonnet"], "lower half only"),
    ]
    assert "Gannet paint sealant ended on bonnet" in answer.content.decode()
    layer = Layer.objects.get(car=car)
    assert live_surfaces(layer) == PANELS - Surfaces.of([Surface.BONNET])


def test_a_layer_is_laid_with_commas_and_its_clocks_are_shown_in_the_studios_zone(stay: Visit) -> None:
    made.studio(time_zone="Pacific/Auckland")
    product = made.product(ProductClass.POLYMER_SEALANT, "Gannet paint sealant")
    answer = _post(
        made.signed_in(Rank.BENCH), "bay_layer", stay, _layer(product, batch="GP-1108"), follow=True
    )
    row = Layer.objects.get(visit=stay)
    assert (str(row.air_c), str(row.humidity), str(row.surface_c), row.coats) == ("18.5", "61.0", "17.0", 2)
    assert (row.prep, row.panel_wiped, row.batch, row.late) == ("polished_wiped", True, "GP-1108", False)
    until = row.dry_until.astimezone(ZoneInfo("Pacific/Auckland"))
    assert f"Keep dry until {until:%A %-d %B %H:%M}" in answer.content.decode()


def test_a_layer_of_this_morning_entered_in_the_evening_is_marked_late() -> None:
    stay = made.visit(at=timezone.now() - timedelta(days=2))
    at = timezone.localtime(timezone.now() - timedelta(days=1), ZoneInfo("Europe/London"))
    typed = _layer(made.product(), at=f"{at:%d/%m/%Y %H:%M}")
    answer = _post(made.signed_in(), "bay_layer", stay, typed, follow=True)
    row = Layer.objects.get(visit=stay)
    assert (row.late, row.laid_at) == (True, at.replace(second=0, microsecond=0))
    assert "written down" in answer.content.decode()


def test_a_stop_needs_a_reason_from_somebody_who_may_give_one(stay: Visit) -> None:
    product = made.product(ProductClass.COATING_PROFESSIONAL, "Fulmar two-year coating")
    cold = _layer(product, surface_c="12,0")
    bench = _post(made.signed_in(Rank.BENCH), "bay_layer", stay, cold)
    assert bench.status_code == 422
    assert "may not do this" in bench.content.decode()
    lead = made.signed_in(Rank.LEAD)
    asked = _post(lead, "bay_layer", stay, cold)
    page = asked.content.decode()
    assert asked.status_code == 422
    assert "dew point" in page
    assert "Say why it is done all the same." in page
    assert 'value="12,0"' in page
    assert not Layer.objects.filter(visit=stay).exists()
    _post(lead, "bay_layer", stay, {**cold, "over_warnings": "heater stands beside it"})
    assert Layer.objects.get(visit=stay).over_warnings == "heater stands beside it"


def test_the_live_check_is_quiet_where_all_is_well_and_speaks_where_not(stay: Visit) -> None:
    client = made.signed_in(Rank.BENCH)
    product = made.product(ProductClass.COATING_PROFESSIONAL, "Fulmar two-year coating")
    # 18.5 °C at 61 % gives a dew point of 10.8 °C: Magnus over water, Sonntag 1990.
    fine = _post(client, "bay_layer_check", stay, _layer(product), **HTMX).content.decode()
    assert "Dew point 10.8 °C, panel 6.1 K above it" in fine
    assert "data-stops" not in fine
    wet = _post(client, "bay_layer_check", stay, _layer(product, surface_c="12"), **HTMX).content.decode()
    assert "data-stops" in wet
    assert not Layer.objects.exists()


@pytest.mark.parametrize(
    "typed", [{}, {"product": "no", "surfaces": ["moon"], "air_c": "warm", "humidity": "900"}]
)
def test_the_live_check_says_nothing_of_a_form_that_is_not_finished(
    stay: Visit, typed: dict[str, Any]
) -> None:
    answer = _post(made.signed_in(), "bay_layer_check", stay, typed, **HTMX)
    assert (answer.status_code, answer.content.decode().strip()) == (200, "")


def test_the_batch_of_the_last_bottle_is_told_and_the_typed_one_is_left_alone(stay: Visit) -> None:
    client = made.signed_in()
    gannet = made.product(ProductClass.POLYMER_SEALANT, "Gannet paint sealant")
    other = made.product(ProductClass.WHEEL_COATING, "Skua wheel coating")
    _post(client, "bay_layer", stay, _layer(gannet, batch="GP-1108"))
    told = _post(client, "bay_layer_check", stay, {"product": gannet.pk, "batch": "typed"}, **HTMX)
    page = told.content.decode()
    assert f'data-last-batch="GP-1108" data-for="{gannet.pk}"' in page
    assert 'name="batch"' not in page
    none = _post(client, "bay_layer_check", stay, {"product": other.pk}, **HTMX).content.decode()
    assert f'data-last-batch="" data-for="{other.pk}"' in none
    wrong = _post(client, "bay_layer", stay, {"product": gannet.pk, "batch": ""}).content.decode()
    assert f'data-offered-for="{gannet.pk}"' in wrong


def test_products_are_a_short_list_and_letters_find_the_rest(stay: Visit) -> None:
    client = made.signed_in()
    for number in range(12):
        made.product(ProductClass.NATURAL_WAX, f"Dunlin wax {number:02}")
    gannet = made.product(ProductClass.POLYMER_SEALANT, "Gannet paint sealant")
    made.layer(stay, gannet, at=timezone.now())
    url = reverse("bay_products", args=[stay.pk])
    lately = client.get(url).content.decode()
    assert lately.count("<label") == 7
    assert lately.index("Gannet") < lately.index("Dunlin")
    assert "Dunlin wax 11" in client.get(url, {"product_q": "wax 11"}).content.decode()
    assert "Gannet" in client.get(url, {"product_q": "paint seal"}).content.decode()
    assert "Nothing on the shelf" in client.get(url, {"product_q": "albatross"}).content.decode()
    kept = client.get(url, {"product_q": "wax 1", "product": str(gannet.pk)}).content.decode()
    assert "checked" in kept


def test_looking_for_a_product_without_script_keeps_what_was_typed(stay: Visit) -> None:
    made.product(ProductClass.NATURAL_WAX, "Dunlin winter wax")
    typed = {
        "look": "1",
        "product_q": "dunlin",
        "air_c": "18,5",
        "surfaces": ["roof"],
        "note": "second bottle",
    }
    answer = _post(made.signed_in(), "bay_layer", stay, typed)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "Dunlin winter wax" in page
    assert 'value="18,5"' in page
    assert "second bottle" in page
    assert 'value="roof" checked' in page
    assert not Layer.objects.filter(visit=stay).exists()


def test_fresh_readings_of_the_visit_are_offered_and_old_ones_are_not() -> None:
    client = made.signed_in()
    product = made.product()
    fresh = made.visit(at=timezone.now() - timedelta(hours=5))
    _post(client, "bay_layer", fresh, _layer(product))
    assert _air_offered(client, fresh) == "18.5"
    stale = made.visit(at=timezone.now() - timedelta(days=2))
    made.layer(stale, product, at=timezone.now() - timedelta(hours=20), air_c=18)
    assert _air_offered(client, stale) is None


def _air_offered(client: Client, stay: Visit) -> str | None:
    page = client.get(reverse("bay_layer", args=[stay.pk])).content.decode()
    (box,) = re.findall(r'<input[^>]*name="air_c"[^>]*>', page)
    value = re.search(r'value="([^"]*)"', box)
    return value[1] if value else None


@pytest.mark.parametrize("name", ["bay_grade", "bay_step", "bay_layer"])
def test_the_same_entry_sent_twice_is_written_down_once(stay: Visit, name: str) -> None:
    client = made.signed_in()
    entries: dict[str, dict[str, Any]] = {
        "bay_grade": {"moment_of": "before_decon", "spots": ["roof"], "grade": "2"},
        "bay_step": {"processes": ["clay"], "surfaces": ["roof"]},
        "bay_layer": _layer(made.product()),
    }
    typed = entries[name]
    for _ in range(2):
        assert _post(client, name, stay, {**typed, "once": "x" * 22}).status_code == 302
    counted = (Grade.objects.count(), Step.objects.count(), Layer.objects.count())
    assert sum(counted) == 1
    assert _post(client, name, stay, {**typed, "once": "y" * 22}).status_code in (302, 422)


def test_a_refused_entry_can_be_sent_again_under_the_same_key(stay: Visit) -> None:
    lead = made.signed_in(Rank.LEAD)
    product = made.product(ProductClass.COATING_PROFESSIONAL, "Fulmar two-year coating")
    cold = _layer(product, surface_c="12", once="z" * 22)
    assert _post(lead, "bay_layer", stay, cold).status_code == 422
    assert _post(lead, "bay_layer", stay, {**cold, "over_warnings": "known"}).status_code == 302


def test_an_entry_by_htmx_swaps_the_whole_sheet_and_a_wrong_one_its_form(stay: Visit) -> None:
    client = made.signed_in()
    right = _post(client, "bay_step", stay, {"processes": ["clay"], "surfaces": ["roof"]}, **HTMX)
    page = right.content.decode()
    assert right.status_code == 200
    assert page.lstrip().startswith('<div class="bay-sheet" id="bay-sheet">')
    assert 'hx-swap-oob="true"' in page
    wrong = _post(client, "bay_step", stay, {"surfaces": ["roof"]}, **HTMX)
    assert wrong.status_code == 422
    assert wrong.headers["HX-Retarget"] == "#entry-step"
    assert "Choose what was done." in wrong.content.decode()


def test_same_as_last_offers_the_surfaces_of_the_last_entry(stay: Visit) -> None:
    client = made.signed_in()
    _post(client, "bay_step", stay, {"processes": ["clay"], "surfaces": ["left_sill", "right_sill"]})
    page = client.get(reverse("bay_step", args=[stay.pk])).content.decode()
    assert 'data-last="left_sill right_sill"' in page


def test_an_entry_taken_back_stays_on_record_and_no_longer_counts() -> None:
    car, client = made.car(), made.signed_in(Rank.BENCH)
    made.layer(car, made.product(ProductClass.POLYMER_SEALANT, "Gannet paint sealant"), at=made.NOW)
    stay = made.visit(car, at=timezone.now() - timedelta(hours=3))
    _post(client, "bay_step", stay, {"processes": ["clay"], "surfaces": ["bonnet", "roof"]})
    step = Step.objects.get(visit=stay)
    url = reverse("bay_take_back", args=[stay.pk, "step", step.pk])
    assert client.post(url, {"because": "  "}).status_code == 422
    answer = client.post(url, {"because": "it was the other car"}, follow=True)
    assert not Step.objects.filter(visit=stay).exists()
    assert Step.everything.get(pk=step.pk).taken_back_because == "it was the other car"
    assert live_surfaces(Layer.objects.get(car=car)) == PANELS
    assert "it was the other car" in answer.content.decode()
    assert client.get(url).status_code == 302


def test_taking_back_after_hand_over_is_for_the_lead() -> None:
    stay = made.visit(at=timezone.now() - timedelta(hours=9))
    row = made.layer(stay, made.product(), at=timezone.now() - timedelta(hours=8))
    made.close(stay, at=timezone.now() - timedelta(hours=7))
    url = reverse("bay_take_back", args=[stay.pk, "layer", row.pk])
    assert made.signed_in(Rank.BENCH).post(url, {"because": "wrong bottle"}).status_code == 422
    assert made.signed_in(Rank.LEAD).post(url, {"because": "wrong bottle"}).status_code == 302
    assert not Layer.objects.exists()


@pytest.mark.parametrize("kind", ["layers", "visit", "'; drop table"])
def test_taking_back_what_is_no_entry_is_no_page(stay: Visit, kind: str) -> None:
    url = reverse("bay_take_back", args=[stay.pk, "step", 1]).replace("step", kind)
    assert made.signed_in().get(url).status_code == 404


def test_the_desk_reads_the_sheet_and_cannot_record_on_it(stay: Visit) -> None:
    desk = made.signed_in(Rank.DESK)
    page = desk.get(reverse("bay", args=[stay.pk])).content.decode()
    assert reverse("bay_layer", args=[stay.pk]) not in page
    assert reverse("hand_over", args=[stay.pk]) in page
    for name in ("bay_step", "bay_grade", "bay_layer", "bay_layer_check", "visit_ready", "visit_back"):
        assert _post(desk, name, stay, {}).status_code == 403
    assert desk.get(reverse("bay_layer", args=[stay.pk])).status_code == 403


def test_the_bench_cannot_hand_over(stay: Visit) -> None:
    bench = made.signed_in(Rank.BENCH)
    assert (
        reverse("hand_over", args=[stay.pk]) not in bench.get(reverse("bay", args=[stay.pk])).content.decode()
    )
    assert _post(bench, "hand_over", stay, {}).status_code == 403


def test_the_sheet_asks_the_same_number_of_questions_of_a_short_and_a_long_record(
    stay: Visit, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    client = made.signed_in()
    product = made.product()
    for number in range(6):
        _post(client, "bay_step", stay, {"processes": ["clay", "iron_remover"], "surfaces": ["roof"]})
        spots = {"moment_of": "after_decon", "spots": ["roof"], "grade": str(number % 5)}
        _post(client, "bay_grade", stay, spots)
        made.layer(stay, product, at=timezone.now())
    with django_assert_max_num_queries(28):
        client.get(reverse("bay", args=[stay.pk]))


def test_what_the_car_came_with_is_shown_also_once_it_is_gone() -> None:
    car, client = made.car(), made.signed_in()
    made.layer(car, made.product(ProductClass.POLYMER_SEALANT, "Gannet paint sealant"), at=made.NOW)
    stay = made.visit(car, at=timezone.now() - timedelta(hours=3))
    (on_it,) = visit_page(stay, today=made.NOW.date()).on_it
    assert (on_it.product, on_it.where, on_it.live) == ("Gannet paint sealant", "all painted panels", True)
    _post(client, "bay_step", stay, {"processes": ["cut"], "surfaces": (PANELS & car.surfaces).keys()})
    (on_it,) = visit_page(stay, today=made.NOW.date()).on_it
    assert (on_it.where, on_it.live, on_it.until) == ("all painted panels", False, "ended since")
