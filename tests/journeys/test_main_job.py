"""The main job in a real browser: find the car that comes back, write its visit down, send its owner home."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from pytest_django.live_server_helper import LiveServer

from crm import tasks
from crm.care.surfaces import PANELS, Surface, Surfaces
from crm.models import Grade, Layer, Step, Visit
from tests.conftest import PostOffice
from tests.factories import NOW
from tests.journeys import job
from tests.journeys.conftest import Windows
from tests.journeys.letters import calendar_ends, enclosed, paper_text, subjects
from tests.journeys.scene import a_scene, newest_visit

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

NOT_ON = Surfaces.of([Surface.LEFT_REAR_WING, Surface.LEFT_REAR_WING_LOWER])
LAID = NOW + timedelta(hours=3)
"""18:10 on a Monday in May in Skerrin."""
WASH_FROM = datetime(2026, 5, 11, 17, 10, tzinfo=UTC)
"""Seven days after it was laid, the longest no-wash time of a paint sealant (common practice, no source)."""


def test_a_visit_is_recorded_with_a_thumb_and_the_owner_gets_the_sheet(
    live_server: LiveServer, windows: Windows, clock: time_machine.Traveller, post_office: PostOffice
) -> None:
    scene = a_scene()
    page = windows.phone().page
    job.sign_in(page, live_server.url)
    job.find_the_car(page)
    told = job.read_the_file(page)
    assert list(told) == ["On it", "Holds", "Offer"]
    assert "Curlew hand wax" in told["On it"]

    job.take_it_in(page)
    job.grade(page, "before decontamination", ("roof", "bonnet"), 2)
    clock.shift(timedelta(hours=2))
    job.decontaminate(page)
    job.grade(page, "after decontamination", ("roof",), 1)
    clock.move_to(LAID)
    job.lay_the_sealant(page)
    clock.shift(timedelta(minutes=30))
    job.hand_over(page)

    visit = newest_visit(scene.car)
    assert visit.state == Visit.State.HANDED_OVER
    assert sorted(Grade.objects.filter(visit=visit).values_list("grade", flat=True)) == [1, 2, 2]
    assert [step.process for step in Step.objects.filter(visit=visit).order_by("pk")] == [
        "iron_remover",
        "clay",
    ]
    layer = Layer.objects.get(visit=visit)
    assert (layer.product, layer.surfaces, layer.batch) == (scene.sealant, PANELS - NOT_ON, "G-114")
    assert (layer.laid_at, layer.wash_from) == (LAID, WASH_FROM)

    assert post_office.taken == []
    tasks.tick()
    tasks.tick()
    assert subjects(post_office.taken) == [
        ("Ada Quill <ada@example.com>", "How to look after your blue Halden Estate")
    ]
    files = enclosed(post_office.taken[0])
    assert set(files) == {"application/pdf", "text/calendar"}
    paper = paper_text(files["application/pdf"])
    for words in ("Gannet paint sealant", job.LEFT_OUT, "Tuesday 5 May, 18:10", "the end of Monday 11 May"):
        assert words in paper
    assert WASH_FROM in calendar_ends(files["text/calendar"])
