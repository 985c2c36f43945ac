"""The whole job on PostgreSQL and Redis, with gunicorn, a worker and beat as a server runs them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import expect

from crm.management.testing.servers import Servers
from tests.factories import NOW
from tests.journeys import job
from tests.journeys.conftest import Windows
from tests.journeys.letters import calendar_ends, enclosed, paper_text, subjects
from tests.journeys.studio_served import ServedStudio, served_studio

pytestmark = [pytest.mark.served, pytest.mark.browser]

WEIGHT = 100_000
"""Bytes that signing in and Today may take over the wire, fonts and script included (own choice)."""
WASH_FROM = datetime(2026, 5, 11, 17, 10, tzinfo=UTC)
"""Seven days after it was laid, the longest no-wash time of a paint sealant (common practice, no source)."""
ADA = "Ada Quill <ada@example.com>"


@pytest.fixture(scope="module")
def studio(servers: Servers, tmp_path_factory: pytest.TempPathFactory) -> Iterator[ServedStudio]:
    """A studio that runs at three on a Monday in May."""
    with served_studio(servers, tmp_path_factory.mktemp("served"), at=NOW) as started:
        yield started


def test_the_first_pages_are_light(studio: ServedStudio, windows: Windows) -> None:
    studio.show(NOW)
    window = windows.phone()
    weights = []
    window.context.on("requestfinished", lambda request: weights.append(request.sizes()))
    job.sign_in(window.page, studio.url)
    window.page.wait_for_load_state("networkidle")
    assert len(weights) > 10
    total = sum(weight["responseBodySize"] + weight["responseHeadersSize"] for weight in weights)
    assert total < WEIGHT


def test_the_job_from_the_plate_to_the_winter_letter(studio: ServedStudio, windows: Windows) -> None:
    office = studio.office
    studio.show(NOW)
    office.taken.clear()
    page = windows.phone().page
    job.sign_in(page, studio.url)
    job.find_the_car(page)
    job.take_it_in(page)
    job.grade(page, "before decontamination", ("roof", "bonnet"), 2)
    studio.show(NOW + timedelta(hours=3))
    job.decontaminate(page)
    job.lay_the_sealant(page)
    job.hand_over(page)

    files = enclosed(studio.wait_for_mail(1)[0])
    assert subjects(office.taken) == [(ADA, "How to look after your blue Halden Estate")]
    paper = paper_text(files["application/pdf"])
    for words in ("Gannet paint sealant", job.LEFT_OUT, "Tuesday 5 May, 18:1", "the end of Monday 11 May"):
        assert words in paper
    ends = calendar_ends(files["text/calendar"])
    assert any(timedelta() <= end - WASH_FROM < timedelta(minutes=5) for end in ends)

    studio.show(WASH_FROM - timedelta(hours=1))
    studio.tick(2)
    assert len(office.taken) == 1
    studio.show(WASH_FROM + timedelta(minutes=6))
    assert subjects(studio.wait_for_mail(2)[1:]) == [(ADA, "You may wash your blue Halden Estate now")]

    # In the night of its day the reminder waits; in the morning it leaves.
    due = studio.ask("SELECT min(due_on) FROM crm_forecast WHERE due_on > '2026-06-01'")[0][0]
    day = datetime(due.year, due.month, due.day, 2, tzinfo=UTC) - timedelta(days=14)
    studio.show(day)
    studio.tick(2)
    assert len(office.taken) == 2
    studio.show(day + timedelta(hours=8))
    assert studio.wait_for_mail(3)[2]["To"] == ADA
    studio.show(datetime(2026, 11, 3, 10, tzinfo=UTC))
    assert studio.wait_for_mail(4)[3]["To"] == ADA
    sent = "SELECT kind FROM crm_message WHERE state = 'sent' AND NOT kind = 'aftercare' ORDER BY sent_at"
    assert studio.ask(sent) == [("wash_now",), ("top_up",), ("winter",)]
    studio.show(datetime(2026, 12, 3, 10, tzinfo=UTC))
    studio.tick(2)
    assert len(office.taken) == len({mail["Message-ID"] for mail in office.taken}) == 4


def test_a_worker_killed_while_it_sends_leaves_the_note_to_a_person(
    studio: ServedStudio, windows: Windows
) -> None:
    office = studio.office
    studio.show(NOW)
    office.taken.clear()
    office.silent = True
    page = windows.phone().page
    job.sign_in(page, studio.url)
    page.goto(f"{studio.url}/find/?q=QB11")
    page.locator("#found a").tap()
    job.take_it_in(page)
    page.get_by_role("link", name="Hand over").tap()
    page.get_by_role("button", name="Hand over").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("Aftercare sheet")

    # The mail server has the note and has not answered: nobody knows whether it left.
    studio.wait_for_mail(1, ticks=0)
    studio.kill_the_worker()
    office.silent = False
    note = (
        "SELECT state FROM crm_message WHERE kind = 'aftercare'"
        " AND person_id <> (SELECT id FROM crm_person WHERE name = 'Ada Quill')"
    )
    assert studio.ask(note) == [("sending",)]
    studio.start_a_worker()
    studio.tick(2)
    assert studio.ask(note) == [("sending",)]
    studio.show(NOW + timedelta(minutes=30))
    studio.tick(2)
    assert studio.ask(note) == [("uncertain",)]
    assert len(office.taken) == 1
    page.goto(f"{studio.url}/")
    expect(page.locator("main")).to_contain_text("nobody knows whether it left")
