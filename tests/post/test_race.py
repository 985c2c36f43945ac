"""Nothing is sent twice, whoever else is at it; and the post needs no broker."""

from __future__ import annotations

import ast
import contextlib
import threading
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection, connections

from crm.models import Matter, Message, Sheet, Studio
from crm.post.claim import claim
from crm.post.headers import File
from crm.post.plan import plan_letters
from crm.post.recheck import verdict
from crm.post.states import move
from crm.post.tick import tick
from tests import factories
from tests.post.cast import MAY, OCTOBER, FussyOffice, handed_over, no_papers, sealed_car

Kind, State = Message.Kind, Message.State


def _in_threads(count: int, work: object) -> list[BaseException]:
    """Run the same work in several threads that start together; what went wrong in them."""
    gate, wrong = threading.Barrier(count), []

    def run() -> None:
        try:
            gate.wait()
            work()  # type: ignore[operator]
        except BaseException as error:  # noqa: BLE001 - reported by the test
            wrong.append(error)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run) for _ in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return wrong


@pytest.fixture
def shared_database(transactional_db: None) -> None:
    """A database that threads see the same of: an in-memory one is locked whole, a file or a server is not."""
    if connection.vendor == "sqlite" and "mode=memory" in str(connection.settings_dict["NAME"]):
        pytest.skip("threads cannot write to a database in memory side by side")


@pytest.mark.usefixtures("shared_database")
def test_two_turns_at_once_send_each_message_once(office: FussyOffice) -> None:
    visits = [handed_over() for _ in range(4)]
    wrong = _in_threads(2, lambda: tick(now=MAY, papers=no_papers))
    assert wrong == []
    tick(now=MAY + timedelta(minutes=1), papers=no_papers)
    assert len(office.taken) == len(visits)
    assert len({str(mail["Message-ID"]) for mail in office.taken}) == len(visits)
    sent = Message.objects.filter(kind=Kind.AFTERCARE).values_list("state", flat=True)
    assert list(sent) == [State.SENT] * len(visits)


@pytest.mark.usefixtures("shared_database")
def test_two_rounds_at_once_write_each_letter_once() -> None:
    cars = [sealed_car() for _ in range(3)]
    wrong = _in_threads(2, lambda: plan_letters(now=OCTOBER))
    assert wrong == []
    assert Message.objects.count() == len(cars)


@pytest.mark.usefixtures("shared_database")
def test_two_letters_to_one_person_at_once_heed_the_cap(monkeypatch: pytest.MonkeyPatch) -> None:
    car = sealed_car()
    studio = factories.studio(letters_a_year=1)
    plan_letters(now=OCTOBER)
    first = Message.objects.get()
    matter = first.matters.filter(kind=Kind.WINTER).get()
    second = Message.objects.get(pk=first.pk)
    second.pk, second.message_id = None, "second@example.org"
    second.save()
    Matter.objects.create(message=second, kind=matter.kind, car=car, key="another", facts=matter.facts)
    # Whoever has decided waits a moment for the other to decide as well, with neither on its way yet.
    both = threading.Barrier(2, timeout=1.5)

    def decided_together(*args: Any, **known: Any) -> Any:
        found = verdict(*args, **known)
        with contextlib.suppress(threading.BrokenBarrierError):
            both.wait()
        return found

    monkeypatch.setattr("crm.post.claim.verdict", decided_together)
    pks = iter([first.pk, second.pk])
    wrong = _in_threads(2, lambda: claim(next(pks), now=OCTOBER, studio=studio))
    assert wrong == []
    assert sorted(Message.objects.values_list("state", flat=True)) == [State.CANCELLED, State.SENDING]


@pytest.mark.django_db
def test_row_that_was_claimed_between_reading_and_claiming_is_left_alone(
    office: FussyOffice, monkeypatch: pytest.MonkeyPatch
) -> None:
    handed_over()
    note = Message.objects.get(kind=Kind.AFTERCARE)

    def another_was_faster(message: Message, to: Message.State, **columns: object) -> bool:
        if to == State.SENDING:
            Message.objects.filter(pk=note.pk).update(
                state=State.SENDING, claimed_at=MAY - timedelta(seconds=1)
            )
        return move(message, to, **columns)  # type: ignore[arg-type]

    monkeypatch.setattr("crm.post.claim.move", another_was_faster)
    assert claim(note.pk, now=MAY, studio=factories.studio()) is None
    note.refresh_from_db()
    assert (note.state, note.claimed_at) == (State.SENDING, MAY - timedelta(seconds=1))
    assert office.taken == []


@pytest.mark.django_db
def test_a_turn_inside_a_turn_does_not_send_the_same_message(office: FussyOffice) -> None:
    handed_over()
    inner = []

    def meanwhile(_sheet: Sheet) -> Sequence[File]:
        inner.append(tick(now=MAY, papers=no_papers).sent)
        return ()

    assert tick(now=MAY, papers=meanwhile).sent == 1
    assert inner == [0]
    assert len(office.taken) == 1


@pytest.mark.django_db
def test_before_there_is_a_studio_a_turn_does_nothing() -> None:
    assert not Studio.objects.exists()
    assert tick(now=MAY, papers=no_papers).sent == 0


def test_post_knows_of_no_broker() -> None:
    folder = Path(__file__).resolve().parents[2] / "crm" / "post"
    imported = {
        name
        for path in folder.glob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in (
            [node.module or ""] if isinstance(node, ast.ImportFrom) else [alias.name for alias in node.names]
        )
    }
    assert {name.split(".")[0] for name in imported} & {"celery", "redis", "kombu", "weasyprint"} == set()
    assert {name for name in imported if name.startswith("crm.papers")} == set()
