"""Every screen, looked at: no fault that axe-core finds, no sideways scrolling, nothing in the console."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from crm.care.terms import ProductClass
from crm.models import Visit
from tests import factories
from tests.factories import NOW
from tests.journeys.conftest import Window, Windows
from tests.journeys.looking import faults
from tests.web.addresses import address, all_routes
from tests.web.world import World, a_world

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

NOT_A_SCREEN = {"bay_products", "message_as_read", "sheet_pdf", "sheet_ics"}
"""Routes that answer with something else than a page of ours: a piece of one, a letter, a file."""


@pytest.fixture
def world(clock: time_machine.Traveller) -> World:
    return a_world()


def _enter(window: Window, at: str, client: Client) -> Page:
    """The window of somebody who is signed in already."""
    cookie = {"name": "sessionid", "value": client.cookies["sessionid"].value, "url": at}
    window.context.add_cookies([cookie])  # type: ignore[list-item]
    return window.page


def test_every_screen_is_without_fault(world: World, live_server: LiveServer, windows: Windows) -> None:
    client = factories.signed_in()
    answers = {name: client.get(address(name, world)) for name in all_routes()}
    opened = {name for name, answer in answers.items() if answer.status_code == 200}
    screens = {name for name in opened if b'id="main"' in b"".join(answers[name])}
    assert opened - screens == NOT_A_SCREEN

    page = _enter(windows.desk(), live_server.url, client)
    stranger = windows.desk().page
    found = {}
    for name in sorted(screens):
        looking = stranger if name in ("sign_in", "stop") else page
        looking.goto(live_server.url + address(name, world))
        found[name] = faults(looking)
    assert {name: wrong for name, wrong in found.items() if wrong} == {}


@dataclass(frozen=True)
class Moment:
    """A screen in a state that its address alone does not show."""

    at: str
    do: Callable[[Page], None] = lambda _page: None


def _press(role: str, name: str, then: str) -> Callable[[Page], None]:
    def press(page: Page) -> None:
        page.get_by_role(role, name=name, exact=True).first.click()  # type: ignore[arg-type]
        expect(page.locator(then).first).to_be_visible()

    return press


def _type_ahead(page: Page) -> None:
    page.get_by_role("combobox").press_sequentially("z6d")
    expect(page.get_by_role("option")).to_have_count(1)
    page.keyboard.press("ArrowDown")


def _all_but_one(page: Page) -> None:
    page.get_by_role("button", name="All painted, except…").click()
    page.locator("[data-surface=left_rear_wing]").click()
    expect(page.locator("[data-words]")).to_have_text("all painted panels except left rear wing")
    page.get_by_role("button", name="As a list").click()


def _moments(world: World) -> dict[str, Moment]:
    bay = reverse("bay", args=[world.visit.pk])
    booked = factories.visit(factories.car("QF55 BKD"), state=Visit.State.BOOKED, at=NOW + timedelta(days=2))
    cancelled = factories.visit(factories.car(), state=Visit.State.CANCELLED)
    factories.product(ProductClass.COATING_PROFESSIONAL, "Fulmar two-year coating")
    wrong = ".field-wrong, .form-wrong"
    return {
        "cars found": Moment("/find/?q=z6d"),
        "no car found": Moment("/find/?q=zzzzzz"),
        "type-ahead": Moment("/", _type_ahead),
        "your menu": Moment("/", lambda page: page.locator(".menu > summary").click()),
        "whole history": Moment(f"/car/{world.car.ref}/?span=all"),
        "car without a layer": Moment(f"/car/{booked.car.ref}/"),
        "booking": Moment(reverse("visit", args=[booked.pk])),
        "cancelled visit": Moment(reverse("visit", args=[cancelled.pk])),
        "visit that is over": Moment(reverse("bay", args=[world.handed_over.pk])),
        "process on the sheet": Moment(bay, _press("link", "Process", "#steps form")),
        "layer on the sheet": Moment(bay, _press("link", "Layer", "#layers form")),
        "all but one": Moment(reverse("bay_step", args=[world.visit.pk]), _all_but_one),
        "layer with errors": Moment(
            reverse("bay_layer", args=[world.visit.pk]), _press("button", "Lay it", wrong)
        ),
        "product with errors": Moment("/shelf/new/", _press("button", "Put it on the shelf", wrong)),
        "visit with errors": Moment(
            reverse("visit_new", args=[world.car.ref]), _press("button", "Book it in", wrong)
        ),
        "nothing due": Moment("/due-back/?q=nothing+like+it"),
        "no such post": Moment("/post/?q=nothing+like+it"),
    }


def test_screens_in_other_states_are_without_fault(
    world: World, live_server: LiveServer, windows: Windows
) -> None:
    window = windows.desk()
    # A form that is refused answers with 422, which Chromium writes into its console.
    window.expected = ("Failed to load resource: the server responded with a status of 422",)
    page = _enter(window, live_server.url, factories.signed_in())
    found = {}
    for name, moment in _moments(world).items():
        page.goto(live_server.url + moment.at)
        moment.do(page)
        found[name] = faults(page)
    assert {name: wrong for name, wrong in found.items() if wrong} == {}


def test_first_day_of_a_studio_and_pages_that_are_not_there_are_without_fault(
    clock: time_machine.Traveller, live_server: LiveServer, windows: Windows
) -> None:
    keeper = factories.person(letters=True)
    window = windows.desk()
    window.expected = ("Failed to load resource: the server responded with a status of 40",)
    page = _enter(window, live_server.url, factories.signed_in())
    found = {}
    for at in ("/", "/due-back/", "/post/", "/shelf/", "/nothing/here/"):
        page.goto(live_server.url + at)
        found[at] = faults(page)
    stranger = windows.desk()
    stranger.expected = window.expected
    stranger.page.goto(f"{live_server.url}/s/not-a-link-of-ours")
    found["unknown link"] = faults(stranger.page)
    stranger.page.goto(f"{live_server.url}/s/{keeper.stop_key}")
    stranger.page.get_by_role("button", name="No more letters").click()
    expect(stranger.page.get_by_role("heading", level=1)).to_have_text(
        re.compile("You will get no more letters")
    )
    found["letters ended"] = faults(stranger.page)
    assert {name: wrong for name, wrong in found.items() if wrong} == {}
