"""A worker's time limit breaks a turn of the post off at any point: no letter is blamed, lost or sent twice for it.

The limit is raised as a worker raises it: by the signal that its pool sends, in the thread that does the work.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta
from types import ModuleType
from typing import Any

import pytest
from aiosmtpd.smtp import SMTP, Envelope, Session
from billiard.pool import SIG_SOFT_TIMEOUT, soft_timeout_sighandler
from celery.exceptions import SoftTimeLimitExceeded

from crm.models import Car, Message, Sheet
from crm.post import claim as claiming
from crm.post import deliver as delivering
from crm.post.deliver import BROKEN_OFF
from crm.post.headers import File
from crm.post.states import move
from crm.post.tick import LONGEST, Turn, tick
from crm.services import stale
from crm.services.stale import follow_stale, mark_all_stale
from crm.tasks import BEFORE_THE_POST, STOPS
from tests import factories
from tests.conftest import open_office
from tests.post.cast import MAY, FussyOffice, handed_over, message_of, no_papers

pytestmark = pytest.mark.django_db
Kind, State = Message.Kind, Message.State


@pytest.fixture(autouse=True)
def worker() -> Iterator[None]:
    """This process listens to the time limit as a process of a worker's pool does."""
    before = signal.signal(SIG_SOFT_TIMEOUT, soft_timeout_sighandler)
    yield
    signal.signal(SIG_SOFT_TIMEOUT, before)


def time_is_up(*_given: Any, **_named: Any) -> Any:
    """What the pool does to a process whose task takes too long."""
    signal.pthread_kill(threading.main_thread().ident or 0, SIG_SOFT_TIMEOUT)


def papers_too_slow(_sheet: Sheet) -> Sequence[File]:
    time_is_up()
    return ()


def _turn(now: datetime, papers: Callable[[Sheet], Sequence[File]] = no_papers) -> Turn:
    return tick(now=now, papers=papers, stops=STOPS)


def _note() -> Message:
    return message_of(handed_over(), Kind.AFTERCARE)


@pytest.mark.parametrize(("module", "step"), [(claiming, "verdict"), (claiming, "rendered")])
def test_message_that_was_only_being_claimed_waits_as_before(
    office: FussyOffice, monkeypatch: pytest.MonkeyPatch, module: ModuleType, step: str
) -> None:
    note = _note()
    with monkeypatch.context() as slow:
        slow.setattr(module, step, time_is_up)
        with pytest.raises(SoftTimeLimitExceeded):
            _turn(MAY)
    note.refresh_from_db()
    assert (note.state, note.because, note.attempts, note.claimed_at) == (State.WAITING, "", 0, None)
    assert _turn(MAY + timedelta(minutes=1)).sent == 1
    assert len(office.taken) == 1


def _is_uncertain_for_good(note: Message, office: FussyOffice, taken: int) -> None:
    note.refresh_from_db()
    assert (note.state, note.because) == (State.UNCERTAIN, BROKEN_OFF)
    for hours in (1, 30, 100):
        _turn(MAY + timedelta(hours=hours))
    note.refresh_from_db()
    assert note.state == State.UNCERTAIN
    assert [mail["Message-ID"] for mail in office.taken].count(f"<{note.message_id}>") == taken


def test_paper_that_takes_too_long_leaves_its_note_to_a_person(office: FussyOffice) -> None:
    note = _note()
    with pytest.raises(SoftTimeLimitExceeded):
        _turn(MAY, papers_too_slow)
    _is_uncertain_for_good(note, office, taken=0)


@pytest.mark.parametrize("step", ["as_email", "carry", "not_delivered"])
def test_delivery_that_is_broken_off_leaves_its_note_to_a_person(
    office: FussyOffice, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    note = _note()
    if step == "not_delivered":
        office.to_mail = "450 4.7.1 slow down"
    with monkeypatch.context() as slow:
        slow.setattr(delivering, step, time_is_up)
        with pytest.raises(SoftTimeLimitExceeded):
            _turn(MAY)
    office.to_mail = "250 OK"
    _is_uncertain_for_good(note, office, taken=0)


class _Dawdling(FussyOffice):
    """A mail server in whose midst the time is up: at the sender, or once it has the whole message."""

    at = ""

    async def handle_MAIL(  # noqa: N802 - the name aiosmtpd calls
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        if self.at == "sender":
            time_is_up()
        return await super().handle_MAIL(server, session, envelope, address, options)

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802
        answer = await super().handle_DATA(server, session, envelope)
        if self.at == "data":
            time_is_up()
        return answer


@pytest.mark.parametrize(("at", "taken"), [("sender", 0), ("data", 1)])
def test_conversation_with_the_mail_server_that_is_broken_off_leaves_its_note_to_a_person(
    settings: Any, at: str, taken: int
) -> None:
    note = _note()
    with open_office(_Dawdling(), settings) as office:
        office.at = at
        with pytest.raises(SoftTimeLimitExceeded):
            _turn(MAY)
        office.at = ""
        _is_uncertain_for_good(note, office, taken)


def test_message_that_is_written_down_as_sent_stays_sent(
    office: FussyOffice, monkeypatch: pytest.MonkeyPatch
) -> None:
    note = _note()
    real = move

    def move_then_stop(message: Message, to: Message.State, **columns: Any) -> bool:
        real(message, to, **columns)
        time_is_up()
        return True

    with monkeypatch.context() as slow:
        slow.setattr(delivering, "move", move_then_stop)
        with pytest.raises(SoftTimeLimitExceeded):
            _turn(MAY)
    note.refresh_from_db()
    assert (note.state, len(office.taken)) == (State.SENT, 1)


def test_forecast_that_takes_too_long_ends_the_round_and_stays_marked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    cars = [factories.car(), factories.car()]
    mark_all_stale()
    monkeypatch.setattr(stale, "reforecast_cars", time_is_up)
    with pytest.raises(SoftTimeLimitExceeded):
        follow_stale(limit=10, stops=STOPS)
    assert Car.objects.filter(forecast_stale=True).count() == len(cars)


def test_every_task_has_a_soft_limit_before_the_hard_one_and_a_turn_ends_long_before() -> None:
    from crm.config.celery import VISIBILITY_TIMEOUT, app
    from crm.post.retry import STUCK_AFTER

    soft, hard = app.conf.task_soft_time_limit, app.conf.task_time_limit
    assert (LONGEST + BEFORE_THE_POST).total_seconds() < soft < hard < VISIBILITY_TIMEOUT
    # What is being sent by a worker that still runs is never thought stuck.
    assert timedelta(seconds=hard) < STUCK_AFTER
    for name in ("tick", "follow", "housekeeping", "plan_winter"):
        task = app.tasks[f"crm.tasks.{name}"]
        assert (task.soft_time_limit, task.time_limit) == (soft, hard)
