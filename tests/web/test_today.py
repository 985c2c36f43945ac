"""The first screen of the day."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.urls import reverse

from crm.models import Message, Rank, User, Visit
from tests import factories
from tests.factories import NOW
from tests.web.world import a_message

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


def page(rank: str = Rank.MANAGER, by: User | None = None, address: str = "") -> str:
    return factories.signed_in(rank, by=by).get(address or reverse("today")).content.decode()


def part(html: str, heading: str) -> str:
    """What stands under a heading."""
    return html.partition(f">{heading}</h2>")[2].partition("<h2")[0]


def test_a_new_studio_is_shown_its_first_steps() -> None:
    html = page()
    assert "Put a product on the shelf" in html
    assert reverse("car_new") in html
    assert "Needs a person" not in html


def test_first_steps_go_away_once_they_are_taken() -> None:
    factories.layer(factories.car())
    assert "First steps" not in page()


def test_a_car_in_the_bay_stands_under_in_the_bay_with_its_bay_sheet() -> None:
    visit = factories.visit(factories.car("QA26 DEM"), out=NOW + timedelta(days=2))
    section = part(page(), "In the bay")
    assert "QA26 DEM" in section
    assert "Bay sheet" in section
    assert reverse("visit", args=[visit.pk]) in section


def test_a_car_that_is_due_out_today_or_ready_stands_under_going_out() -> None:
    factories.visit(factories.car("QA26 DEM"), out=NOW + timedelta(hours=2))
    factories.visit(factories.car("QB26 LOM"), state=Visit.State.READY, at=NOW - timedelta(hours=5))
    html = page()
    assert "QA26 DEM" in part(html, "Going out today")
    assert "Hand over" in part(html, "Going out today")
    assert "No other car is in." in part(html, "In the bay")


@pytest.mark.parametrize(
    ("planned", "shown"),
    [
        # 00:30 and 23:30 in Skerrin's summer time, seen from the noon between them: both are today.
        (datetime(2026, 7, 13, 23, 30, tzinfo=UTC), "00:30"),
        (datetime(2026, 7, 14, 22, 30, tzinfo=UTC), "23:30"),
        (datetime(2026, 7, 14, 23, 30, tzinfo=UTC), "Wed 15 Jul, 00:30"),
    ],
)
def test_a_booking_is_today_by_the_day_of_the_studio(
    clock: time_machine.Traveller, planned: datetime, shown: str
) -> None:
    clock.move_to(datetime(2026, 7, 14, 11, tzinfo=UTC))
    factories.visit(factories.car("QA26 DEM"), state=Visit.State.BOOKED, at=planned)
    assert f'<span class="soft">{shown}</span>' in part(page(), "Expected")


def test_bookings_of_the_week_are_expected_and_later_ones_are_not() -> None:
    factories.visit(factories.car("QA26 DEM"), state=Visit.State.BOOKED, at=NOW + timedelta(days=3))
    factories.visit(factories.car("QB26 LOM"), state=Visit.State.BOOKED, at=NOW + timedelta(days=30))
    section = part(page(), "Expected")
    assert "QA26 DEM" in section
    assert "QB26 LOM" not in section


def test_a_visit_past_its_time_and_a_car_that_did_not_come_need_a_person() -> None:
    factories.visit(factories.car("QA26 DEM"), at=NOW - timedelta(days=2), out=NOW - timedelta(hours=3))
    factories.visit(factories.car("QB26 LOM"), state=Visit.State.BOOKED, at=NOW - timedelta(hours=3))
    section = part(page(), "Needs a person")
    assert "QA26 DEM, blue Halden Estate" in section
    assert "Past the time it was to go out." in section
    assert "Booked, and not taken in yet." in section


def test_post_that_is_uncertain_or_failed_needs_a_person() -> None:
    ada = factories.person("Ada Quill")
    a_message(ada, state=Message.State.UNCERTAIN, because="The server went away while it was being sent.")
    a_message(ada, state=Message.State.WAITING)
    section = part(page(), "Needs a person")
    assert "Aftercare note to Ada Quill" in section
    assert "The server went away while it was being sent." in section
    assert section.count("badge-needs") == 1


def test_a_layer_past_its_window_on_a_car_in_the_bay_is_to_be_looked_at() -> None:
    car = factories.car("QA26 DEM")
    factories.layer(car, at=NOW - timedelta(days=900))
    factories.visit(car, at=NOW - timedelta(hours=2), out=NOW + timedelta(days=1))
    assert "on all painted panels is past its window: grade the water once the car is clean." in part(
        page(), "Needs a person"
    )


def test_a_keeper_whose_every_address_is_dead_is_to_be_asked() -> None:
    ada = factories.person("Ada Quill", phone=None)
    ada.contacts.update(dead_since=NOW, dead_because="returned")
    factories.visit(factories.car("QA26 DEM", keeper=ada), out=NOW + timedelta(days=1))
    section = part(page(), "Needs a person")
    assert "Ada Quill" in section
    assert reverse("person", args=[ada.pk]) in section
    assert reverse("person", args=[ada.pk]) not in part(page(Rank.BENCH), "Needs a person")


def test_the_page_shows_the_readers_branch_or_every_one() -> None:
    factories.visit(factories.car("QA26 DEM"), out=NOW + timedelta(days=1))
    elsewhere = factories.user(branch=factories.branch("Quay Street"))
    assert "QA26 DEM" not in page(by=elsewhere)
    assert "QA26 DEM" in page(by=elsewhere, address=reverse("today") + "?branch=all")


def test_the_page_takes_the_same_few_queries_for_one_car_and_for_ten(
    django_assert_num_queries: object,
) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    browser = factories.signed_in()
    counts = []
    for number in (1, 9):
        for _ in range(number):
            factories.visit(factories.car(), out=NOW + timedelta(days=1))
        with CaptureQueriesContext(connection) as queries:
            browser.get(reverse("today"))
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 11
