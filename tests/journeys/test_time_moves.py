"""After the hand-over time moves: what leaves, when, to whom, and that it leaves once."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from email.message import EmailMessage
from email.utils import parsedate_to_datetime
from urllib.request import Request, urlopen
from zoneinfo import ZoneInfo

import pytest
import time_machine
from pytest_django import Settings
from pytest_django.live_server_helper import LiveServer

from crm import tasks
from crm.models import Consent, Forecast, Message, Studio
from crm.services.hand_over import hand_over
from tests import factories
from tests.conftest import PostOffice
from tests.factories import NOW
from tests.journeys.letters import subjects, words_of
from tests.journeys.scene import Scene, a_scene, lived_in

pytestmark = pytest.mark.django_db(transaction=True)

SKERRIN = ZoneInfo("Europe/London")
AUGUST, SEPTEMBER, FEBRUARY = date(2026, 8, 1), date(2026, 9, 1), date(2027, 2, 1)
SECURE = "https://studio.example.org"
"""Where letters link to; only there one click ends them (RFC 8058 section 3.1)."""
WASH_FROM = datetime(2026, 5, 11, 14, 10, tzinfo=UTC)
"""Seven days after it was laid, the longest no-wash time of a paint sealant (common practice, no source)."""


@pytest.fixture
def scene(clock: time_machine.Traveller) -> Scene:
    return a_scene()


def _seal_and_hand_over(scene: Scene, mark: str, colour: str = "Blue") -> None:
    """The keeper's car of that mark is sealed at ten past three in the afternoon and goes home at once."""
    car = scene.car if mark == "QA26 DEM" else lived_in(mark, scene.keeper, colour=colour)
    visit = factories.visit(car, at=NOW - timedelta(hours=6))
    factories.layer(visit, scene.sealant, at=NOW)
    hand_over(visit=visit, by=scene.manager, at=NOW, now=NOW)


def _days(first: date, last: date) -> Iterator[date]:
    return (first + timedelta(days=number) for number in range((last - first).days))


def _live_through(clock: time_machine.Traveller, first: date, last: date) -> None:
    """Beat ticks day and night; these are the ticks at three, at nine, at noon and at ten in the evening."""
    for day in _days(first, last):
        for hour in (3, 9, 12, 22):
            clock.move_to(datetime.combine(day, time(hour), SKERRIN))
            tasks.tick()


def _left_at(mail: EmailMessage) -> datetime:
    return parsedate_to_datetime(mail["Date"]).astimezone(SKERRIN)


def test_the_cure_note_leaves_when_the_clock_ends_and_not_before(
    scene: Scene, clock: time_machine.Traveller, post_office: PostOffice
) -> None:
    _seal_and_hand_over(scene, "QA26 DEM")
    tasks.tick()
    assert len(post_office.taken) == 1
    for early in (timedelta(days=3), timedelta(hours=12), timedelta(minutes=1)):
        clock.move_to(WASH_FROM - early)
        tasks.tick()
        assert len(post_office.taken) == 1
    clock.move_to(WASH_FROM)
    tasks.tick()
    tasks.tick()
    clock.shift(timedelta(days=30))
    tasks.tick()
    assert subjects(post_office.taken)[1:] == [
        ("Ada Quill <ada@example.com>", "You may wash your blue Halden Estate now")
    ]
    assert _left_at(post_office.taken[1]) == WASH_FROM


def test_reminder_and_winter_prompt_leave_once_each_in_sending_hours_for_all_cars_of_a_person(
    scene: Scene, clock: time_machine.Traveller, post_office: PostOffice, settings: Settings
) -> None:
    settings.BASE_URL = SECURE
    _seal_and_hand_over(scene, "QA26 DEM")
    _seal_and_hand_over(scene, "QD31 EST", colour="Green")
    _live_through(clock, NOW.date() + timedelta(days=1), date(2026, 5, 20))
    notes = len(post_office.taken)
    low = min(row.due_on for row in Forecast.objects.filter(layer__product=scene.sealant) if row.due_on)
    studio = Studio.objects.get()

    _live_through(clock, AUGUST, FEBRUARY)
    letters = post_office.taken[notes:]
    kinds = Message.objects.filter(kind__in=("top_up", "winter", "wash_due")).order_by("sent_at")
    assert [(row.kind, row.state) for row in kinds] == [("top_up", "sent"), ("winter", "sent")]
    assert [mail["Message-ID"] for mail in letters] == [f"<{row.message_id}>" for row in kinds]
    reminder, winter = letters
    assert low - timedelta(days=studio.top_up_lead_days) <= _left_at(reminder).date() <= low
    assert (9, 15) <= (_left_at(winter).month, _left_at(winter).day) <= (11, 15)
    for mail in letters:
        assert all(car in words_of(mail) for car in ("blue Halden Estate", "green Halden Estate"))
        left = _left_at(mail)
        assert left.weekday() < 6
        assert 9 <= left.hour < 19
        assert mail["Auto-Submitted"] == "auto-generated"
        assert mail["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"


def test_one_click_ends_letters_and_cancels_the_one_that_waits(
    scene: Scene,
    clock: time_machine.Traveller,
    post_office: PostOffice,
    live_server: LiveServer,
    settings: Settings,
) -> None:
    settings.BASE_URL = SECURE
    _seal_and_hand_over(scene, "QA26 DEM")
    _live_through(clock, AUGUST, SEPTEMBER)
    (reminder,) = [mail for mail in post_office.taken if "List-Unsubscribe" in mail]
    assert reminder["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    link = str(reminder["List-Unsubscribe"]).strip("<>").replace(SECURE, live_server.url)

    # In a night of the prompting weeks the winter prompt is written down; it waits for the morning.
    for day in _days(SEPTEMBER, date(2026, 11, 15)):
        clock.move_to(datetime.combine(day, time(3), SKERRIN))
        tasks.tick()
        if Message.objects.filter(kind="winter").exists():
            break
    winter = Message.objects.get(kind="winter")
    assert winter.state == Message.State.WAITING

    # Opening the link changes nothing; a mail program's POST does, without a cookie (RFC 8058 section 3.1).
    with urlopen(link, timeout=20) as page:
        assert b"<form" in page.read()
    assert Consent.objects.filter(person=scene.keeper, given=False).count() == 0
    with urlopen(Request(link, data=b"List-Unsubscribe=One-Click"), timeout=20) as answer:
        assert answer.status == 200

    before, today = len(post_office.taken), winter.created_at.date()
    _live_through(clock, today, today + timedelta(days=60))
    winter.refresh_from_db()
    assert winter.state == Message.State.CANCELLED
    assert winter.because == "no more letters: the link in a letter"
    assert len(post_office.taken) == before
