"""Nothing is written to the browser's console, whatever a person does to a form before it is refused or breaks."""

from __future__ import annotations

import pytest
import time_machine
from django.urls import reverse
from playwright.sync_api import Locator, Page, expect
from pytest_django.live_server_helper import LiveServer

from crm.web.owner import stop
from tests import factories
from tests.journeys.conftest import Windows
from tests.journeys.looking import faults
from tests.web.world import World, a_world

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

REFUSED = "Failed to load resource: the server responded with a status of 422"
"""What Chromium says of a form that is refused; everything else would fail the test."""


@pytest.fixture
def world(clock: time_machine.Traveller) -> World:
    return a_world()


def _pull_larger(page: Page, area: Locator) -> None:
    """Drag the corner of a box for words, as one does to see all of what one writes."""
    area.scroll_into_view_if_needed()
    box = area.bounding_box()
    assert box is not None
    corner = (box["x"] + box["width"] - 5, box["y"] + box["height"] - 5)
    page.mouse.move(*corner)
    page.mouse.down()
    page.mouse.move(corner[0], corner[1] + 60, steps=4)
    page.mouse.up()
    pulled = area.bounding_box()
    assert pulled is not None
    assert pulled["height"] > box["height"] + 30


def test_box_that_was_pulled_larger_breaks_no_policy_when_its_form_is_refused(
    world: World, live_server: LiveServer, windows: Windows
) -> None:
    window = windows.desk()
    window.expected = (REFUSED,)
    page = window.enter(live_server.url, factories.signed_in())
    page.goto(live_server.url + reverse("bay", args=[world.visit.pk]))
    page.locator("#bay-sheet").get_by_role("link", name="Take back").first.click()
    entry = page.locator(".bay-entry form", has=page.locator("textarea"))
    _pull_larger(page, entry.locator("textarea"))
    entry.locator("button[type=submit]").click()
    expect(entry.locator(".errorlist, .form-wrong").first).to_be_visible()
    # The new form is settled some time after it is there.
    page.wait_for_function("() => !document.querySelector('.htmx-settling, .htmx-added, .htmx-request')")
    assert window.wrong == []


def test_page_for_what_broke_is_without_fault_beside_the_others(
    world: World, live_server: LiveServer, windows: Windows, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_key: str) -> None:
        raise RuntimeError("a mistake of ours")

    monkeypatch.setattr(stop, "person_of", broken)
    window = windows.desk()
    window.expected = ("Failed to load resource: the server responded with a status of 500",)
    window.page.goto(f"{live_server.url}/s/{world.keeper.stop_key}")
    expect(window.page.get_by_role("heading", level=1)).to_have_text("Something broke on our side")
    assert window.page.evaluate("getComputedStyle(document.body).fontFamily").startswith("Hyperlegible,")
    expect(window.page.get_by_role("banner").get_by_role("link", name="Overwinter")).to_be_visible()
    assert faults(window.page) == []
