"""Bad input of every kind on every form: an answer with a sentence, what was typed kept, never a broken page."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from itertools import product
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from crm.models import Car, Person, Plate, Rank
from tests import factories
from tests.web.world import FIRST_WEEK, World, a_world

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]

BAD: dict[str, str] = {
    "empty": "",
    "spaces": "   \t \u00a0\u3000",
    "huge": "x" * 70_000,
    "nul": "a\x00b",
    "control": "\x01\x02\x1b[2J",
    "emoji": "\U0001f697\U0001f9fd\u200d\U0001f4a6",
    "right to left": "\u202e\u05d0\u05d1\u0627\u0628",
    "combining": "Z\u0351\u036b\u0343\u032a" * 30,
    "sql": "'; DROP TABLE crm_car; --",
    "html": "<script>alert('x')</script><img src=x onerror=y>",
    "template": "{% load nothing %}{{ request.user.password }}%s%(x)s",
    "list": "[1, 2, {}]",
    "number": "99999999999999999999999999",
    "negative": "-1",
    "decimal": "1e309",
    "not a number": "NaN",
    "day in year 1": "0001-01-01",
    "day in year 9999": "9999-12-31",
    "day to come": "2099-12-31",
    "no day": "2026-02-30",
    "moment": "2026-05-04T15:10:00Z",
    "path": "../../../../etc/passwd",
    "unpaired": "\ufffd\uffff",
}

FORMS: dict[str, Callable[[World], tuple[list[object], dict[str, Any]]]] = {
    "car_new": lambda _: (
        [],
        {
            "mark": "QX99 NEW",
            "colour": "Red",
            "make": "Corrie",
            "model": "3-door",
            "year": "2020",
            "body": "van",
            "chassis": "ABC123",
            "keeper-name": "Dov Brine",
            "keeper-phone": "07700 900777",
            "keeper-email": "dov@example.com",
            "keeper-letters": "yes",
            "once": "",
        },
    ),
    "car_facts": lambda world: (
        [world.car.ref],
        {
            "colour": "Red",
            "make": "Corrie",
            "model": "3-door",
            "year": "2020",
            "body": "estate",
            "paint": "matt",
            "paint_past": "used",
            "chassis": "ABC124",
            "circumstances": "dogs",
            "wash_plan": "none",
            "plan_anchor": "2026-01-01",
            "do_nots": "none",
            "aluminium": "bonnet",
            "plastic": "roof",
        },
    ),
    "car_plate": lambda world: (
        [world.car.ref],
        {"mark": "QX99 NEW", "since": "2026-05-01", "do": "", "until": ""},
    ),
    "car_kept": lambda world: (
        [world.car.ref],
        {
            "since": "2026-05-01",
            "parking": "garage",
            "distance": "9000",
            "salted_roads": "yes",
            "wash_summer": "tunnel",
            "wash_winter": "tunnel",
            "on_plan": "",
            "stored": "",
        },
    ),
    "car_elsewhere": lambda world: (
        [world.car.ref],
        {
            "kind": "respray",
            "on": "2026-05-01",
            "certainty": "told",
            "baked": "yes",
            "note": "x",
            "surfaces": "bonnet",
        },
    ),
    "car_people": lambda world: (
        [world.car.ref],
        {
            "part": "driver",
            "name": "Dov Brine",
            "person": "new",
            "phone": "07700 900777",
            "email": "dov@example.com",
            "letters": "no",
            "since": "2026-05-01",
        },
    ),
    "layer_end": lambda world: (
        [world.car.ref, world.layer.pk],
        {"surfaces": "bonnet", "why": "failed", "on": "2026-05-03", "note": "x"},
    ),
    "ending_take_back": lambda world: ([world.car.ref, world.ending.pk], {"because": "x"}),
    "event_take_back": lambda world: ([world.car.ref, world.event.pk], {"because": "x"}),
    "person_change": lambda world: (
        [world.keeper.pk],
        {
            "name": "Ada Quill",
            "sort": "private",
            "greeting": "Ada",
            "note": "x",
            "moved_away": "",
            "deceased": "",
        },
    ),
    "contact_add": lambda world: ([world.keeper.pk], {"kind": "post", "value": "1 Slipway Lane"}),
    "contact": lambda world: ([world.keeper.pk, world.contact.pk], {"because": "returned"}),
    "consent": lambda world: ([world.keeper.pk], {"given": "yes", "channel": "email", "how": "at the desk"}),
    "pause": lambda world: (
        [world.keeper.pk],
        {"why": "asked", "since": "2026-05-01", "until": "2026-06-01"},
    ),
    "winter_open": lambda _: (
        [],
        {"first_monday": "2026-09-07", "weeks": "11", "hours": "26", "nights": "4", "once": ""},
    ),
    "winter_weeks": lambda world: (
        [world.winter.season.pk],
        {f"{what}-2026-{day}": "4.5" for what in ("hours", "nights") for day in ("05-18", "05-25", "06-01")},
    ),
    "winter_leave_out": lambda world: ([world.winter.season.pk, world.car.ref], {"because": "x"}),
    "winter_ask_car": lambda world: (
        [world.winter.season.pk, world.car.ref],
        {"monday": "2026-05-18", "how": "telephone"},
    ),
    "winter_invitation": lambda world: (
        [world.winter.invitation.pk],
        {"answer": "yes", "comes_at": "2026-05-20 08:40", "note": "both keys"},
    ),
    "winter_ask": lambda world: ([world.winter.season.pk, FIRST_WEEK], {"seen": "x", "once": ""}),
    "describe_surfaces": lambda _: ([], {"surfaces": "bonnet", "body": "estate"}),
}


@pytest.fixture
def manager() -> Client:
    browser = factories.signed_in(Rank.MANAGER)
    browser.raise_request_exception = True
    return browser


@pytest.fixture
def sweeper(manager: Client) -> Client:
    """A manager whose broken pages are gathered; what broke stands in the log that pytest prints."""
    manager.raise_request_exception = False
    return manager


def _taken_back(browser: Client, address: str, body: Any, **known: Any) -> Any:
    """The answer to a form; whatever was written is undone again."""
    with transaction.atomic():
        answer = browser.post(address, body, **known)
        transaction.set_rollback(True)
    return answer


@pytest.mark.unmeasured
@pytest.mark.parametrize("name", list(FORMS))
def test_bad_input_in_any_field_of_a_form_is_answered(name: str, sweeper: Client) -> None:
    args, good = FORMS[name](a_world())
    wrong = []
    for field, kind in product(good, BAD):
        answer = _taken_back(sweeper, reverse(name, args=args), {**good, field: BAD[kind]})
        # Done and sent on, or shown again with a sentence.
        fine = answer.status_code in (200, 302)
        if answer.status_code == 422:
            html = answer.content.decode()
            fine = "<script>alert" not in html and ('class="errorlist' in html or "form-wrong" in html)
        if not fine:
            wrong.append((field, kind, answer.status_code))
    assert wrong == [], "\n".join(map(str, wrong))


ODD_BODIES: dict[str, Callable[[dict[str, Any]], tuple[Any, dict[str, Any]]]] = {
    "empty": lambda _: ({}, {}),
    "many values": lambda good: (
        {field: [value, BAD["sql"], BAD["emoji"], ""] for field, value in good.items()},
        {},
    ),
    "no text": lambda good: (
        "&".join(f"{field}=%ff%fe%80" for field in good),
        {"content_type": "application/x-www-form-urlencoded"},
    ),
}


@pytest.mark.parametrize("odd", list(ODD_BODIES))
def test_every_form_answers_a_body_that_no_page_sends(odd: str, sweeper: Client) -> None:
    world = a_world()
    answers = {}
    for name, form in FORMS.items():
        args, good = form(world)
        body, known = ODD_BODIES[odd](good)
        answers[name] = _taken_back(sweeper, reverse(name, args=args), body, **known).status_code
    assert {name: status for name, status in answers.items() if status not in (200, 302, 422)} == {}


@pytest.mark.parametrize(
    "content_type", ["application/json", "text/plain", "multipart/form-data", "nonsense"]
)
def test_a_body_that_is_no_form_is_answered(content_type: str, manager: Client) -> None:
    answer = manager.post(reverse("car_new"), b'{"mark": "QA26 DEM"', content_type=content_type)
    assert answer.status_code in (200, 400, 422)


def test_more_fields_than_a_form_can_have_are_answered_with_a_sentence(manager: Client) -> None:
    body = "&".join(f"f{number}=1" for number in range(2000))
    answer = manager.post(reverse("car_new"), body, content_type="application/x-www-form-urlencoded")
    assert answer.status_code == 400
    assert "nothing was changed" in answer.content.decode()


def test_markup_in_a_name_is_shown_as_it_was_typed(manager: Client) -> None:
    ada = factories.person("Ada <b>Quill</b>")
    car = factories.car("QA26 DEM", keeper=ada, colour="<i>Blue</i>", do_nots="<script>alert(1)</script>")
    for address in (reverse("car", args=[car.ref]), reverse("person", args=[ada.pk]), "/find/?q=26dem", "/"):
        html = manager.get(address).content.decode()
        assert "<script>alert" not in html
        assert "<b>Quill" not in html
    assert escape("<script>alert(1)</script>") in manager.get(reverse("car", args=[car.ref])).content.decode()


@pytest.mark.parametrize("kind", ["html", "sql", "emoji", "right to left", "template"])
def test_what_was_typed_is_kept_where_a_form_is_refused(kind: str, manager: Client) -> None:
    answer = manager.post(
        reverse("car_new"), {"colour": BAD[kind], "year": "tomorrow", "body": "van", "keeper-name": ""}
    )
    html = answer.content.decode()
    assert answer.status_code == 422
    assert escape(BAD[kind].strip()) in html
    assert 'value="tomorrow"' in html
    assert Car.objects.count() == 0


def test_letters_of_other_scripts_are_stored_as_they_are(manager: Client) -> None:
    data = {"mark": "FÜ AB 12", "colour": "Größenblau", "body": "van", "keeper-name": "Zoë Ó Brien יעל"}
    assert manager.post(reverse("car_new"), data).status_code == 302
    assert Plate.objects.get().normal == "FÜAB12"
    assert Person.objects.get().name == "Zoë Ó Brien יעל"
