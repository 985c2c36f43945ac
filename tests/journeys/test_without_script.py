"""The main job where no script runs: everything but the type-ahead, with plain links, forms and tick boxes."""

from __future__ import annotations

import pytest
import time_machine
from playwright.sync_api import expect
from pytest_django.live_server_helper import LiveServer

from crm.care.surfaces import Surface, Surfaces
from crm.models import Layer, Message, Visit
from tests.journeys import job
from tests.journeys.conftest import Windows
from tests.journeys.scene import SCRAP, a_scene, newest_visit

pytestmark = [pytest.mark.browser, pytest.mark.alike, pytest.mark.django_db(transaction=True)]


def test_the_main_job_is_done_without_script(
    live_server: LiveServer, windows: Windows, clock: time_machine.Traveller
) -> None:
    scene = a_scene()
    page = windows.phone(java_script_enabled=False).page
    job.sign_in(page, live_server.url)

    page.get_by_role("combobox", name="Find a car").fill(SCRAP)
    page.get_by_role("button", name="Find").tap()
    found = page.locator("#found a")
    expect(found).to_have_count(1)
    found.tap()
    assert "Curlew hand wax" in job.read_the_file(page)["On it"]

    job.take_it_in(page)
    job.grade(page, "after decontamination", ("roof",), 1)

    page.get_by_role("link", name="Layer").tap()
    page.get_by_label("Look for a product").fill("gann")
    page.get_by_role("button", name="Look").tap()
    job.choose(page, "Gannet paint sealant")
    for part in ("bonnet", "roof"):
        page.locator(f"input[name=surfaces][value={part}]").check()
    page.get_by_role("textbox", name="Batch").fill("G-114")
    page.get_by_role("button", name="Lay it").tap()
    expect(page.locator("#layers article")).to_contain_text("bonnet and roof")

    page.get_by_role("button", name="Ready").tap()
    page.get_by_role("link", name="Hand over").tap()
    page.get_by_role("button", name="Hand over").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("Aftercare sheet")

    visit = newest_visit(scene.car)
    assert visit.state == Visit.State.HANDED_OVER
    layer = Layer.objects.get(visit=visit)
    assert (layer.surfaces, layer.batch) == (Surfaces.of([Surface.BONNET, Surface.ROOF]), "G-114")
    assert sorted(visit.messages.values_list("kind", flat=True)) == [
        Message.Kind.AFTERCARE,
        Message.Kind.WASH_NOW,
    ]
