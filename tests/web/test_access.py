"""Who may open what: every route is public by name or stands in the matrix below."""

from __future__ import annotations

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from crm.models import Rank, User
from crm.services.rights import RIGHTS, Right
from crm.web.access import PUBLIC
from tests import factories
from tests.web.addresses import address, all_routes
from tests.web.world import World, a_world

pytestmark = pytest.mark.django_db

OK, ELSEWHERE, ONLY_POST = 200, 302, 405
NO_PAGE = {"message_as_read"}
"""Answers that are no page of ours: a letter as its receiver sees it, in a frame that runs nothing."""
MATRIX: dict[str, tuple[Right, Right, int]] = {
    # name: the right to look, the right to change, what a GET answers to somebody who may
    "today": (Right.LOOK, Right.LOOK, OK),
    "find": (Right.LOOK, Right.LOOK, OK),
    "describe_surfaces": (Right.LOOK, Right.LOOK, ONLY_POST),
    "car_new": (Right.CARS, Right.CARS, OK),
    "car": (Right.LOOK, Right.LOOK, OK),
    "car_facts": (Right.LOOK, Right.CARS, OK),
    "car_plate": (Right.LOOK, Right.CARS, OK),
    "plate_called_off": (Right.CARS, Right.CARS, ONLY_POST),
    "car_kept": (Right.LOOK, Right.CARS, OK),
    "car_elsewhere": (Right.LOOK, Right.CARS, OK),
    "event_take_back": (Right.CARS, Right.CARS, OK),
    "left_done": (Right.RECORD, Right.RECORD, ONLY_POST),
    "car_people": (Right.PEOPLE, Right.PEOPLE, OK),
    "role_end": (Right.PEOPLE, Right.PEOPLE, ONLY_POST),
    "layer_end": (Right.LOOK, Right.RECORD, OK),
    "ending_take_back": (Right.LOOK, Right.RECORD, OK),
    "person": (Right.PEOPLE, Right.PEOPLE, OK),
    "person_change": (Right.PEOPLE, Right.PEOPLE, OK),
    "contact_add": (Right.PEOPLE, Right.PEOPLE, ONLY_POST),
    "contact": (Right.PEOPLE, Right.PEOPLE, OK),
    "consent": (Right.PEOPLE, Right.PEOPLE, ONLY_POST),
    "pause": (Right.PEOPLE, Right.PEOPLE, ONLY_POST),
    "pause_end": (Right.PEOPLE, Right.PEOPLE, ONLY_POST),
    "visit_new": (Right.CARS, Right.CARS, OK),
    "visit": (Right.LOOK, Right.LOOK, ELSEWHERE),
    "visit_arrive": (Right.CARS, Right.CARS, ONLY_POST),
    "visit_agree": (Right.CARS, Right.CARS, OK),
    "visit_ready": (Right.RECORD, Right.RECORD, ONLY_POST),
    "visit_back": (Right.RECORD, Right.RECORD, ONLY_POST),
    "visit_cancel": (Right.CARS, Right.CARS, ONLY_POST),
    "left_new": (Right.CARS, Right.CARS, OK),
    "visit_left_done": (Right.RECORD, Right.RECORD, ONLY_POST),
    "bay": (Right.LOOK, Right.LOOK, OK),
    "bay_step": (Right.RECORD, Right.RECORD, OK),
    "bay_grade": (Right.RECORD, Right.RECORD, ELSEWHERE),
    "bay_layer": (Right.RECORD, Right.RECORD, OK),
    "bay_layer_check": (Right.RECORD, Right.RECORD, ONLY_POST),
    "bay_products": (Right.RECORD, Right.RECORD, OK),
    "bay_gauge": (Right.RECORD, Right.RECORD, OK),
    "bay_correction": (Right.RECORD, Right.RECORD, OK),
    "bay_take_back": (Right.RECORD, Right.RECORD, OK),
    "hand_over": (Right.HAND_OVER, Right.HAND_OVER, OK),
    "sheet": (Right.LOOK, Right.LOOK, OK),
    "sheet_pdf": (Right.LOOK, Right.LOOK, OK),
    "sheet_ics": (Right.LOOK, Right.LOOK, OK),
    "due_back": (Right.LOOK, Right.LOOK, OK),
    "post": (Right.POST, Right.POST, OK),
    "message": (Right.POST, Right.POST, OK),
    "message_as_read": (Right.POST, Right.POST, OK),
    "message_hold": (Right.POST, Right.POST, ONLY_POST),
    "message_release": (Right.POST, Right.POST, ONLY_POST),
    "message_send": (Right.POST, Right.POST, ONLY_POST),
    "message_cancel": (Right.POST, Right.POST, ONLY_POST),
    "message_resolve": (Right.POST, Right.POST, ONLY_POST),
    "shelf": (Right.LOOK, Right.LOOK, OK),
    "product_new": (Right.SHELF, Right.SHELF, OK),
    "product": (Right.LOOK, Right.LOOK, OK),
    "product_edit": (Right.SHELF, Right.SHELF, OK),
    "life_new": (Right.SHELF, Right.SHELF, OK),
    "product_lasted": (Right.LOOK, Right.SHELF, OK),
    "product_place": (Right.SHELF, Right.SHELF, ONLY_POST),
    "winter": (Right.LOOK, Right.LOOK, OK),
    "winter_open": (Right.POST, Right.POST, OK),
    "winter_weeks": (Right.POST, Right.POST, OK),
    "winter_again": (Right.POST, Right.POST, ONLY_POST),
    "winter_close": (Right.POST, Right.POST, OK),
    "winter_reopen": (Right.POST, Right.POST, ONLY_POST),
    "winter_week": (Right.LOOK, Right.LOOK, OK),
    "winter_ask": (Right.POST, Right.POST, ONLY_POST),
    "winter_not_asked": (Right.LOOK, Right.LOOK, OK),
    "winter_asked": (Right.LOOK, Right.LOOK, OK),
    "winter_leave_out": (Right.POST, Right.POST, OK),
    "winter_take_up": (Right.POST, Right.POST, ONLY_POST),
    "winter_ask_car": (Right.POST, Right.POST, OK),
    "winter_invitation": (Right.LOOK, Right.POST, OK),
    "winter_take_back": (Right.POST, Right.POST, ONLY_POST),
    "settings": (Right.SETTINGS, Right.SETTINGS, OK),
    "staff": (Right.SETTINGS, Right.SETTINGS, OK),
    "staff_new": (Right.SETTINGS, Right.SETTINGS, OK),
    "staff_member": (Right.SETTINGS, Right.SETTINGS, OK),
    "staff_password": (Right.SETTINGS, Right.SETTINGS, ONLY_POST),
    "staff_end": (Right.SETTINGS, Right.SETTINGS, ONLY_POST),
    "numbers": (Right.SETTINGS, Right.SETTINGS, OK),
    "number": (Right.SETTINGS, Right.SETTINGS, OK),
    "number_back": (Right.SETTINGS, Right.SETTINGS, ONLY_POST),
    "password": (Right.LOOK, Right.LOOK, OK),
}


@pytest.fixture
def world(clock: time_machine.Traveller) -> World:
    return a_world()


def test_every_route_is_public_by_name_or_stands_in_the_matrix() -> None:
    routes = all_routes()
    assert set(routes) - PUBLIC == set(MATRIX)


def test_every_view_behind_the_gate_asks_for_the_right_of_the_matrix() -> None:
    for name, pattern in all_routes().items():
        asked = getattr(pattern.callback, "right", None), getattr(pattern.callback, "to_change", None)
        assert asked == ((None, None) if name in PUBLIC else MATRIX[name][:2]), name


@pytest.mark.parametrize("rank", list(Rank))
def test_a_rank_opens_what_it_may_and_nothing_else(rank: Rank, world: World) -> None:
    browser = factories.signed_in(rank)
    answers = {name: browser.get(address(name, world)).status_code for name in MATRIX}
    assert answers == {
        name: answer if look in RIGHTS[rank] else 403 for name, (look, _, answer) in MATRIX.items()
    }


@pytest.mark.parametrize("rank", list(Rank))
def test_a_rank_cannot_change_what_is_not_for_it(rank: Rank, world: World) -> None:
    browser = factories.signed_in(rank)
    refused = {name for name, (_, change, _) in MATRIX.items() if change not in RIGHTS[rank]}
    answers = {name: browser.post(address(name, world)).status_code for name in refused}
    assert answers == dict.fromkeys(refused, 403)


def test_a_rank_without_the_right_is_told_in_a_sentence(world: World) -> None:
    page = factories.signed_in(Rank.BENCH).get(address("person", world))
    assert "Your rank (bench) may not do this. Ask the owner-manager." in page.content.decode()


def test_a_stranger_is_asked_to_sign_in(world: World) -> None:
    let_in = []
    for name in MATRIX:
        here = address(name, world)
        for answer in (Client().get(here), Client().post(here)):
            to = answer.headers.get("Location", "")
            if answer.status_code != 302 or not to.startswith(reverse("sign_in")):
                let_in.append((name, answer.status_code, to))
    assert let_in == []


def test_a_signed_out_type_ahead_goes_to_the_sign_in_as_a_whole_page(world: World) -> None:
    here = "http://testserver/car/2345678/"
    answer = Client().get(
        reverse("find"), {"q": "26D"}, headers={"HX-Request": "true", "HX-Current-URL": here}
    )
    assert answer.headers["HX-Redirect"] == "/sign-in/?next=/car/2345678/"


@pytest.mark.parametrize(
    "nowhere",
    [
        "/car/2222222/",
        "/car/nothing/",
        "/car/%00%00/",
        "/car/QA26DEM/",
        "/person/999999/",
        "/person/99999999999999999999/",
        "/person/0/",
        "/nothing/here/",
        "/car/2222222/facts/",
        "/car/2222222/layer/1/end/",
    ],
)
def test_what_is_not_on_file_is_a_page_that_does_not_exist(nowhere: str, world: World) -> None:
    answer = factories.signed_in(Rank.MANAGER).get(nowhere)
    assert answer.status_code == 404
    assert "There is no such page" in answer.content.decode()


def test_a_layer_is_only_found_on_its_own_car(world: World) -> None:
    other = factories.car()
    browser = factories.signed_in(Rank.MANAGER)
    assert browser.get(reverse("layer_end", args=[other.ref, world.layer.pk])).status_code == 404


def test_somebody_whose_account_is_closed_is_a_stranger(world: World) -> None:
    who = factories.user(Rank.MANAGER)
    browser = factories.signed_in(by=who)
    User.objects.filter(pk=who.pk).update(is_active=False)
    assert browser.get(reverse("today")).status_code == 302


def test_name_and_password_open_the_page_that_was_asked_for(world: World) -> None:
    who = factories.user(Rank.DESK)
    browser = Client()
    answer = browser.post("/sign-in/?next=/find/", {"username": who.username, "password": factories.PASSWORD})
    assert (answer.status_code, answer.headers["Location"]) == (302, "/find/")


def test_a_next_page_elsewhere_is_not_followed(world: World) -> None:
    who = factories.user(Rank.DESK)
    answer = Client().post(
        "/sign-in/?next=https://elsewhere.example/",
        {"username": who.username, "password": factories.PASSWORD},
    )
    assert answer.headers["Location"] == reverse("today")


def test_six_wrong_passwords_lock_the_name_with_a_sentence(world: World) -> None:
    who = factories.user(Rank.DESK)
    browser = Client()
    wrong = [
        browser.post("/sign-in/", {"username": who.username, "password": "no"}).status_code for _ in range(6)
    ]
    assert wrong == [200] * 5 + [429]
    locked = browser.post("/sign-in/", {"username": who.username, "password": factories.PASSWORD})
    assert locked.status_code == 429
    assert "Wait a quarter of an hour and try again." in locked.content.decode()


def test_signing_out_needs_a_post(world: World) -> None:
    browser = factories.signed_in(Rank.BENCH)
    assert browser.get("/sign-out/").status_code == 405
    assert browser.post("/sign-out/").status_code == 302
    assert browser.get(reverse("today")).status_code == 302


def test_a_form_without_its_token_is_refused_with_a_sentence(world: World) -> None:
    browser = Client(enforce_csrf_checks=True)
    browser.force_login(factories.user(Rank.MANAGER), backend="django.contrib.auth.backends.ModelBackend")
    answer = browser.post(reverse("car_new"), {"mark": "QA26 NEW"})
    assert answer.status_code == 403
    assert "Go back, load it again and send it once more." in answer.content.decode()


def test_pages_allow_no_inline_script_or_style(world: World) -> None:
    browser = factories.signed_in(Rank.MANAGER)
    for name, (_, _, answer) in MATRIX.items():
        if answer != OK:
            continue
        page = browser.get(address(name, world))
        if name in NO_PAGE or not page.headers["Content-Type"].startswith("text/html"):
            continue
        html = page.content.decode()
        policy = page.headers["Content-Security-Policy"]
        assert "'unsafe-inline'" not in policy
        assert " style=" not in html, name
        assert " onclick=" not in html, name
        assert "<style" not in html, name
