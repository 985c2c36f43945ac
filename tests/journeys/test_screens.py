"""Every screen, looked at: no fault that axe-core finds, no sideways scrolling, nothing in the console."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from crm.care.paint_terms import GaugeMode, Light
from crm.care.surfaces import PANELS, Surface
from crm.care.terms import ProductClass
from crm.models import Visit
from crm.services.gauge import NewCorrection, NewSpot, record_correction, record_spot
from tests import factories
from tests.factories import NOW
from tests.journeys.conftest import Windows
from tests.journeys.looking import faults
from tests.web.addresses import address, all_routes
from tests.web.world import FIRST_WEEK, World, a_message, a_world, an_invitation

pytestmark = [pytest.mark.browser, pytest.mark.alike, pytest.mark.django_db(transaction=True)]

NOT_A_SCREEN = {"bay_products", "message_as_read", "sheet_pdf", "sheet_ics"}
"""Routes that answer with something else than a page of ours: a piece of one, a letter, a file."""


@pytest.fixture
def world(clock: time_machine.Traveller) -> World:
    return a_world()


def test_every_screen_is_without_fault(world: World, live_server: LiveServer, windows: Windows) -> None:
    client = factories.signed_in()
    answers = {name: client.get(address(name, world)) for name in all_routes()}
    opened = {name for name, answer in answers.items() if answer.status_code == 200}
    screens = {name for name in opened if b'id="main"' in b"".join(answers[name])}
    assert opened - screens == NOT_A_SCREEN

    page = windows.desk().enter(live_server.url, client)
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


def _open_all(within: str) -> Callable[[Page], None]:
    def unfold(page: Page) -> None:
        page.eval_on_selector_all(f"{within} details", "all => all.forEach((one) => { one.open = true })")

    return unfold


def _spot_after_spot(page: Page) -> None:
    page.get_by_text("Measure a panel").click()
    page.get_by_role("link", name="Right rear wing").click()
    for number in (1, 2, 3):
        page.get_by_label(f"Reading {number}").fill("104,5")
    page.get_by_role("button", name="Write it down, next spot").click()
    expect(page.get_by_label("Number of the spot")).to_have_value("2")
    expect(page.get_by_label("Reading 1")).to_be_focused()


def _polish_the_roof(page: Page) -> None:
    page.get_by_label("fine polish").check()
    page.locator("[data-surface=roof]").click()
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text("Roof: its lowest spot is 76 µm.")).to_be_visible()
    expect(page.get_by_label("It was done all the same, because")).to_be_visible()


def _measured(world: World) -> None:
    """Spots on an earlier visit and on this one: thin, plastic, and twice the same."""
    earlier = Visit.objects.filter(car=world.car, state=Visit.State.HANDED_OVER).earliest("planned_in")
    for stay, um in ((earlier, 95), (world.visit, 88)):
        at = stay.planned_in + timedelta(hours=1)
        for surface, values in (
            (Surface.BONNET, (um,) * 3),
            (Surface.ROOF, (76,) * 3),
            (Surface.FRONT_BUMPER, ()),
        ):
            mode = GaugeMode.MAGNETIC if values else GaugeMode.NOT_MEASURABLE
            spot = NewSpot(surface=surface, label="1", values=tuple(map(Decimal, values)), mode=mode, at=at)
            record_spot(visit=stay, spot=spot, by=None, now=NOW)
    correction = NewCorrection(
        surfaces=PANELS,
        low=Decimal("0.7"),
        high=Decimal("0.8"),
        lights=frozenset({Light.SUN}),
        method="firm foam",
        at=NOW - timedelta(minutes=30),
    )
    record_correction(visit=world.visit, correction=correction, by=None, now=NOW)


def _booked_in_meanwhile(world: World) -> str:
    """The longest words that stand beside an invitation."""
    row = an_invitation(world.winter.season)
    factories.visit(
        row.car, state=Visit.State.BOOKED, at=NOW + timedelta(days=23), purpose=Visit.Purpose.WINTER
    )
    return reverse("winter_asked", args=[world.winter.season.pk])


def _unsent(world: World) -> str:
    row = an_invitation(world.winter.season, how="letter")
    row.message = a_message(row.person, state="cancelled", because="the car was sold")
    row.save()
    return reverse("winter_invitation", args=[row.pk])


def _no_hours(page: Page) -> None:
    page.get_by_label("Hours, week of 18 May").fill("a lot")
    page.get_by_role("button", name="Save the hours").click()
    expect(page.locator(".errorlist").first).to_be_visible()


def _plan_again(page: Page) -> None:
    page.get_by_role("button", name="Plan again").click()
    expect(page.get_by_role("link", name="Look again")).to_be_visible()


def _moments(world: World) -> dict[str, Moment]:
    bay = reverse("bay", args=[world.visit.pk])
    booked = factories.visit(factories.car("QF55 BKD"), state=Visit.State.BOOKED, at=NOW + timedelta(days=2))
    cancelled = factories.visit(factories.car(), state=Visit.State.CANCELLED)
    factories.product(ProductClass.COATING_PROFESSIONAL, "Fulmar two-year coating")
    _measured(world)
    wrong = ".field-wrong, .form-wrong"
    gauge = f"{reverse('bay_gauge', args=[world.visit.pk])}?panel="
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
        "paint on the car file": Moment(f"/car/{world.car.ref}/", _open_all("#paint")),
        "paint on the sheet": Moment(bay, _open_all("#gauge")),
        "spot to find again": Moment(f"{gauge}bonnet", _open_all("form")),
        "spot with errors": Moment(f"{gauge}left_front_door", _press("button", "Write it down", wrong)),
        "spot after spot": Moment(bay, _spot_after_spot),
        "correction on the sheet": Moment(
            bay, _press("link", "What the correction achieved", "#entry-correction form")
        ),
        "polish that is stopped": Moment(reverse("bay_step", args=[world.visit.pk]), _polish_the_roof),
        "layer with errors": Moment(
            reverse("bay_layer", args=[world.visit.pk]), _press("button", "Lay it", wrong)
        ),
        "product with errors": Moment("/shelf/new/", _press("button", "Put it on the shelf", wrong)),
        "visit with errors": Moment(
            reverse("visit_new", args=[world.car.ref]), _press("button", "Book it in", wrong)
        ),
        "nothing due": Moment("/due-back/?q=nothing+like+it"),
        "no such post": Moment("/post/?q=nothing+like+it"),
        "no winter round": Moment(f"/winter/?branch={factories.branch('Saltmarsh Lane').pk}"),
        "winter letter that did not leave": Moment(_unsent(world)),
        "booked in meanwhile": Moment(_booked_in_meanwhile(world)),
        "week with everything": Moment(reverse("winter_week", args=[world.winter.season.pk, FIRST_WEEK])),
        "answer with errors": Moment(
            reverse("winter_invitation", args=[world.winter.invitation.pk]),
            _press("button", "Write it down", wrong),
        ),
        "winter hours with errors": Moment(reverse("winter_weeks", args=[world.winter.season.pk]), _no_hours),
        "winter being planned": Moment("/winter/", _plan_again),
    }


def test_screens_in_other_states_are_without_fault(
    world: World, live_server: LiveServer, windows: Windows
) -> None:
    window = windows.desk()
    # A form that is refused answers with 422, which Chromium writes into its console.
    window.expected = ("Failed to load resource: the server responded with a status of 422",)
    page = window.enter(live_server.url, factories.signed_in())
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
    page = window.enter(live_server.url, factories.signed_in())
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
