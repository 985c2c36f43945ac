"""Whatever is typed into a form of a stay: a sentence beside it, what was typed kept, nothing lost, never a 500."""

from __future__ import annotations

from datetime import timedelta
from itertools import product
from typing import Any
from urllib.parse import urlencode

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django.utils.html import escape

from crm.models import CorrectionNote, GaugeSpot, Grade, Layer, LeftForNextTime, Step, Visit
from tests import factories as made

pytestmark = pytest.mark.django_db

TEXTS = {
    "empty": "",
    "emoji": "🧽🚗" * 20,
    "right to left": "שלום \u202e abc مرحبا",
    "nul": "a\0b",
    "huge": "x" * 20_000,
    "markup and SQL": "<script>alert(1)</script>'); DROP TABLE crm_visit; -- {{ 7|add:7 }}",
    "number": "-99999999999999999999999999999999",
    "endless": "9" * 5000,
    "exponent": "1e999999999",
    "not a number": "NaN",
    "arabic digits": "\u0661\u0667",
    "year one": "0001-01-01T00:00",
    "year one, far east": "0001-01-01T00:00+14:00",
    "year 9999": "9999-12-31T23:59",
    "the future": "2099-01-01T10:00",
    "no such day": "2026-02-30T10:00",
    "no such hour": "2026-03-29T01:30",
    "surface of another car": "soft_top",
    "surrogate": "\ud800",
}
FORMS: dict[str, tuple[str, ...]] = {
    "visit_agree": ("scope", "left_out", "promise", "promise_months", "hours", "bay_min_c", "once"),
    "left_new": ("text", "surfaces", "once"),
    "visit_arrive": ("odometer", "arrival_note", "acknowledged", "at", "once"),
    "bay_grade": ("moment_of", "spots", "grade", "at", "once"),
    "bay_step": ("processes", "surfaces", "weight", "note", "over_warnings", "at", "once"),
    "bay_gauge": (
        "panel", "label", "um_1", "um_3", "um_9", "mode", "lower", "place", "film", "finish", "gauge", "unit",
        "next", "at", "once",
    ),
    "bay_correction": ("surfaces", "low", "high", "lights", "wiped", "stages", "method", "at", "once"),
    "bay_layer": (
        "product", "product_q", "surfaces", "coats", "coat_gap_minutes", "batch", "prep", "panel_wiped",
        "air_c", "surface_c", "humidity", "bay_min_c", "flash_seconds", "lamp", "note", "over_warnings", "at", "once",
    ),
    "bay_layer_check": ("product", "surfaces", "air_c", "humidity", "surface_c", "bay_min_c", "at"),
    "hand_over": ("at", "reason", "once"),
}  # fmt: skip


def _right(name: str) -> dict[str, Any]:
    """A form that would be taken."""
    sealant = made.product().pk
    right: dict[str, dict[str, Any]] = {
        "bay_grade": {"moment_of": "before_decon", "spots": ["roof"], "grade": "2"},
        "bay_step": {"processes": ["clay"], "surfaces": ["roof"]},
        "bay_layer": {"product": sealant, "surfaces": ["roof"], "coats": "1", "over_warnings": "known"},
        "bay_layer_check": {"product": sealant, "surfaces": ["roof"]},
        "bay_gauge": {"panel": "bonnet", "label": "1", "um_1": "91,5", "mode": "eddy"},
        "bay_correction": {"surfaces": ["roof"], "low": "65", "lights": ["sun"], "method": "soft foam"},
        "left_new": {"text": "halo"},
    }
    return right.get(name, {})


def _stay(name: str) -> Visit:
    state = Visit.State.BOOKED if name == "visit_arrive" else Visit.State.IN_BAY
    return made.visit(state=state, at=timezone.now() - timedelta(hours=2))


def _sweeper() -> Client:
    """Somebody whose broken pages are gathered; what broke stands in the log that pytest prints."""
    client = made.signed_in()
    client.raise_request_exception = False
    return client


def _send(client: Client, url: str, fields: dict[str, Any]) -> Any:
    """Post as a browser does, also what no text can hold; whatever is written is undone again."""
    sent = urlencode(fields, doseq=True, errors="surrogatepass")
    with transaction.atomic():
        answer = client.post(url, sent, content_type="application/x-www-form-urlencoded")
        transaction.set_rollback(True)
    return answer


@pytest.mark.unmeasured
@pytest.mark.parametrize("name", FORMS)
def test_every_field_of_every_form_takes_or_refuses_every_input(name: str) -> None:
    client, stay, right = _sweeper(), _stay(name), _right(name)
    wrong = []
    for field, (kind, text) in product(FORMS[name], TEXTS.items()):
        answer = _send(client, reverse(name, args=[stay.pk]), {**right, field: text})
        page = answer.content.decode()
        answered = answer.status_code in (200, 302, 422)
        told = answer.status_code != 422 or "errorlist" in page
        if not answered or not told or "<script>alert" in page:
            wrong.append((field, kind, answer.status_code))
    assert wrong == [], "\n".join(map(str, wrong))


@pytest.mark.unmeasured
def test_a_new_visit_takes_or_refuses_every_input() -> None:
    client, car = _sweeper(), made.car()
    right = {"purpose": "detail", "planned_in": "2026-05-04T09:00"}
    fields = ("purpose", "planned_in", "planned_out", "odometer", "arrival_note", "at", "once")
    wrong = []
    for field, (kind, text) in product(fields, TEXTS.items()):
        for do in ("here", "book", text):
            answer = _send(client, reverse("visit_new", args=[car.ref]), {**right, "do": do, field: text})
            if answer.status_code not in (302, 422):
                wrong.append((field, kind, do, answer.status_code))
    assert wrong == [], "\n".join(map(str, wrong))


@pytest.mark.parametrize(
    ("name", "field", "typed", "sentence"),
    [
        ("bay_layer", "air_c", "warm", "Write a plain number"),
        ("bay_layer", "air_c", "900", "from -40 to 55 °C"),
        ("bay_layer", "humidity", "0", "from 1 to 100 %"),
        ("bay_layer", "coats", "two", "Write a whole number, in digits only."),
        ("bay_layer", "coats", "0", "from 1 to 20"),
        ("bay_layer", "at", "yesterday", "Write the day and the time like"),
        ("bay_layer", "at", "2099-01-01T10:00", "That time has not come yet."),
        ("bay_layer", "at", "0001-01-01T00:00", "The year 1 cannot be right."),
        ("bay_layer", "product", "999999", "That product is not on the shelf."),
        ("bay_layer", "product", "", "Choose the product."),
        ("bay_layer", "surfaces", "soft_top", "This car has no soft top."),
        ("bay_layer", "surfaces", "moon", "There is no surface called “moon”."),
        ("bay_layer", "surfaces", "", "There is no surface called “”."),
        ("bay_layer", "note", "a\0b", "It holds a character that cannot be kept. Type it again."),
        ("bay_layer", "note", "x" * 301, "and 300 are the most. Shorten it."),
        ("bay_step", "processes", "respray", "Choose one of those that are offered."),
        ("bay_step", "weight", "light", "Choose one of these."),
        ("bay_gauge", "panel", "moon", "Choose one of these panels."),
        ("bay_gauge", "panel", "", "Choose the panel."),
        ("bay_gauge", "panel", "windscreen", "Choose one of these panels."),
        ("bay_gauge", "label", "", "“Number of the spot” is empty."),
        ("bay_gauge", "label", "123456789", "and 8 are the most. Shorten it."),
        ("bay_gauge", "um_1", "thick", "Write a plain number"),
        ("bay_gauge", "um_1", "0", "A reading of 0 is not paint."),
        ("bay_gauge", "um_1", "-3", "from 0 to 5000 µm"),
        ("bay_gauge", "um_1", "5001", "from 0 to 5000 µm"),
        ("bay_gauge", "um_1", "", "Write down what the gauge shows."),
        ("bay_gauge", "um_9", "NaN", "has to be from 0 to 5000 µm"),
        ("bay_gauge", "mode", "", "Choose one of these."),
        ("bay_gauge", "mode", "not_measurable", "Where nothing can be measured there is no figure"),
        ("bay_gauge", "mode", "laser", "Choose one of these."),
        ("bay_gauge", "unit", "yard", "Choose one of these."),
        ("bay_gauge", "place", "middle", "Choose one of these."),
        ("bay_correction", "low", "", "“At least, %” is empty."),
        ("bay_correction", "low", "100", "Nobody can say that every mark went"),
        ("bay_correction", "high", "40", "the first is over the second"),
        ("bay_correction", "high", "101", "from 0 to 100"),
        ("bay_correction", "lights", "", "Choose among these."),
        ("bay_correction", "method", "", "“How it was done” is empty."),
        ("bay_correction", "surfaces", "left_front_wheel", "Choose the painted panels that were corrected."),
        ("bay_grade", "grade", "5", "Choose one of those that are offered."),
        ("bay_grade", "spots", "load_bed", "Choose one of those that are offered."),
    ],
)
def test_a_wrong_entry_is_told_in_a_sentence_and_nothing_is_written(
    name: str, field: str, typed: str, sentence: str
) -> None:
    client, stay = made.signed_in(), _stay(name)
    sent = {**_right(name), "note": "a note that stays", field: typed}
    answer = client.post(reverse(name, args=[stay.pk]), sent)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert escape(sentence) in page
    kinds = (Layer, Step, Grade, GaugeSpot, CorrectionNote)
    assert [kind for kind in kinds if kind.objects.exists()] == []
    if name in ("bay_layer", "bay_step") and field != "note":
        assert "a note that stays" in page


def test_no_surfaces_at_all_is_told() -> None:
    stay = _stay("bay_step")
    answer = made.signed_in().post(reverse("bay_step", args=[stay.pk]), {"processes": ["clay"]})
    assert answer.status_code == 422
    assert "Choose the surfaces." in answer.content.decode()


@pytest.mark.parametrize(
    "typed", ["🧽 sponge marks", "שלום \u202e abc", "<b>bold</b>", "'); DROP TABLE crm_visit; --"]
)
def test_odd_words_are_kept_as_they_were_typed(typed: str) -> None:
    client, stay = made.signed_in(), _stay("left_new")
    client.post(reverse("left_new", args=[stay.pk]), {"text": typed})
    assert LeftForNextTime.objects.get(visit=stay).text == typed
    assert escape(typed) in client.get(reverse("bay", args=[stay.pk])).content.decode()


@pytest.mark.parametrize(
    "body", ["convertible", "pick_up", "van", "saloon", "coupe", "hatchback", "hatchback_3"]
)
def test_every_body_has_a_sheet_and_its_own_grading_spots(body: str) -> None:
    client = made.signed_in()
    stay = made.visit(made.car(body=body), at=timezone.now() - timedelta(hours=2))
    assert client.get(reverse("bay_layer", args=[stay.pk])).status_code == 200
    page = client.get(reverse("bay", args=[stay.pk])).content.decode()
    assert ('value="soft_top"' in page, 'value="roof"' in page) == (
        body == "convertible",
        body != "convertible",
    )
