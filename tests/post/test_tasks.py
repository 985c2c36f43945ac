"""The tasks that beat sends: named, safe to do twice, and nothing in them but plain calls."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
import time_machine
from axes.models import AccessAttempt, AccessLog
from django.contrib.sessions.models import Session
from django.test import Client

from crm.models import Message
from crm.tasks import housekeeping, tick
from tests import factories
from tests.post.cast import MAY, FussyOffice, handed_over, message_of

Kind, State = Message.Kind, Message.State


def test_tasks_have_the_names_that_beat_sends_and_are_taken_back_when_a_worker_dies() -> None:
    assert (tick.name, housekeeping.name) == ("crm.tasks.tick", "crm.tasks.housekeeping")
    assert tick.acks_late
    assert housekeeping.acks_late


@pytest.mark.django_db
def test_tick_sends_the_note_with_its_papers_once(office: FussyOffice) -> None:
    visit = handed_over()
    with time_machine.travel(MAY, tick=False):
        tick()
        tick()
    assert message_of(visit, Kind.AFTERCARE).state == State.SENT
    (mail,) = office.taken
    types = [part.get_content_type() for part in mail.iter_attachments()]
    assert types == ["application/pdf", "text/calendar"]


@pytest.mark.django_db
def test_housekeeping_closes_what_is_of_no_use_any_more() -> None:
    visit = handed_over()
    with time_machine.travel(MAY + timedelta(days=30), tick=False):
        housekeeping()
    assert {row.state for row in Message.objects.filter(visit=visit)} == {State.MISSED}


@pytest.mark.django_db
def test_housekeeping_forgets_sessions_that_are_over_and_tries_that_count_no_more() -> None:
    with time_machine.travel(MAY - timedelta(days=15), tick=False):
        factories.signed_in()
        Client().post("/sign-in/", {"username": "somebody", "password": "no"})
    with time_machine.travel(MAY, tick=False):
        factories.signed_in()
        housekeeping()
    assert (Session.objects.count(), AccessAttempt.objects.count()) == (1, 0)


@pytest.mark.django_db
def test_signing_in_leaves_no_list_of_addresses_behind() -> None:
    factories.studio()
    name = factories.user().username
    assert Client().post("/sign-in/", {"username": name, "password": factories.PASSWORD}).status_code == 302
    assert not AccessLog.objects.exists()


def test_nobody_imports_the_tasks() -> None:
    root = Path(__file__).resolve().parents[2] / "crm"
    importers = [
        path for path in root.rglob("*.py") if "crm.tasks import" in path.read_text(encoding="utf-8")
    ]
    assert importers == []
