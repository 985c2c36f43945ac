"""The main job without a mouse, on a wide screen: Tab, arrows, Space and Enter, and the picker as a list."""

from __future__ import annotations

import pytest
import time_machine
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from crm.care.surfaces import Surface, Surfaces
from crm.models import Layer, Visit
from tests.factories import PASSWORD
from tests.journeys.conftest import Windows
from tests.journeys.scene import MANAGER, SCRAP, a_scene, newest_visit

pytestmark = [pytest.mark.browser, pytest.mark.alike, pytest.mark.django_db(transaction=True)]

NAME = """() => {
  const at = document.activeElement;
  const words = at.getAttribute('aria-label') || at.labels?.[0]?.innerText || at.innerText || '';
  return words.trim().split('\\n')[0];
}"""


def _tab_to(page: Page, name: str, *, within: int) -> None:
    """Press Tab until something of that name has the focus, at most so many times."""
    passed = []
    for _ in range(within):
        page.keyboard.press("Tab")
        passed.append(page.evaluate(NAME))
        if passed[-1] == name:
            return
    raise AssertionError(f"{name!r} was not reached; the focus passed {passed}")


def _press(page: Page, name: str, *, within: int, key: str = "Enter") -> None:
    _tab_to(page, name, within=within)
    page.keyboard.press(key)


def test_the_main_job_is_done_with_a_keyboard(
    live_server: LiveServer, windows: Windows, clock: time_machine.Traveller
) -> None:
    scene = a_scene()
    page = windows.desk().page
    page.goto(f"{live_server.url}/sign-in/")
    page.keyboard.type(MANAGER)
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Today")
    page.wait_for_load_state()

    page.keyboard.press("/")
    page.keyboard.type(SCRAP)
    expect(page.get_by_role("option")).to_have_count(1)
    page.keyboard.press("ArrowDown")
    expect(page.get_by_role("option", selected=True)).to_contain_text("QA26 DEM")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Halden Estate")

    _press(page, "Book or take in", within=20)
    expect(page.get_by_role("heading", level=1)).to_contain_text("A visit for")
    _press(page, "Take it in", within=25)
    expect(page.locator(".page-head .badge")).to_have_text("in the bay")

    _press(page, "Layer", within=40)
    expect(page.get_by_role("heading", name="A layer goes on")).to_be_focused()
    _tab_to(page, "Look for a product", within=2)
    page.keyboard.type("gann")
    expect(page.locator("#bay-products label")).to_have_count(1)
    _press(page, "Gannet paint sealant", within=2, key="Space")
    _press(page, "As a list", within=6)
    for part in ("bonnet", "roof"):
        _press(page, part, within=30, key="Space")
    expect(page.locator("#layers [data-words]")).to_have_text("bonnet and roof")
    _press(page, "Lay it", within=90)
    expect(page.locator("#layers article")).to_contain_text("Gannet paint sealant")
    expect(page.get_by_role("heading", name="Layers")).to_be_focused()

    _press(page, "Ready", within=20)
    expect(page.locator(".page-head .badge")).to_contain_text("ready")
    _press(page, "Hand over", within=45)
    expect(page.get_by_role("heading", level=1)).to_contain_text("Hand over the")
    _press(page, "Hand over", within=40)
    expect(page.get_by_role("heading", level=1)).to_have_text("Aftercare sheet")

    visit = newest_visit(scene.car)
    assert visit.state == Visit.State.HANDED_OVER
    assert Layer.objects.get(visit=visit).surfaces == Surfaces.of([Surface.BONNET, Surface.ROOF])
