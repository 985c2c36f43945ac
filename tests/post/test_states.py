"""Every pair of states, for a person and for the machine; and one writer among many."""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import pytest

from crm.models import Message, User
from crm.post.states import TRANSITIONS, Cause, NotAllowed, may, move
from tests import factories
from tests.post.cast import MAY, handed_over, message_of

State = Message.State

MACHINE = {
    ("waiting", "sending"), ("waiting", "cancelled"), ("waiting", "missed"), ("held", "cancelled"),
    ("held", "missed"), ("sending", "sent"), ("sending", "waiting"), ("sending", "held"), ("sending", "failed"),
    ("sending", "cancelled"), ("sending", "missed"), ("sending", "uncertain"), ("uncertain", "sent"),
}  # fmt: skip
PERSON = {
    ("waiting", "held"), ("waiting", "cancelled"), ("held", "waiting"), ("held", "cancelled"),
    ("uncertain", "sent"), ("uncertain", "waiting"), ("failed", "waiting"),
}  # fmt: skip


def _message(state: State) -> Message:
    message = message_of(handed_over(), Message.Kind.AFTERCARE)
    columns = {"state": state, "claimed_at": MAY, "sent_at": MAY if state == State.SENT else None}
    Message.objects.filter(pk=message.pk).update(**columns)
    message.refresh_from_db()
    return message


@pytest.mark.parametrize("cause", Cause)
@pytest.mark.parametrize(("was", "to"), list(itertools.product(State, State)))
def test_every_pair_is_allowed_or_not(was: State, to: State, cause: Cause) -> None:
    allowed = MACHINE if cause is Cause.MACHINE else PERSON
    assert may(was, to, cause) == ((was.value, to.value) in allowed)


@pytest.mark.django_db
@pytest.mark.parametrize("by_person", [False, True])
def test_move_refuses_what_the_table_does_not_have(by_person: bool) -> None:
    by: User | None = factories.user() if by_person else None
    cause = Cause.PERSON if by_person else Cause.MACHINE
    message = _message(State.WAITING)
    for was, to in itertools.product(State, State):
        columns = {"sent_at": MAY} if to == State.SENT else {}
        Message.objects.filter(pk=message.pk).update(
            state=was, claimed_at=MAY, sent_at=MAY if was == State.SENT else None, touched_by=None
        )
        message.refresh_from_db()
        if may(was, to, cause):
            assert move(message, to, because="so", by=by, **columns) is True
            message.refresh_from_db()
            assert (message.state, message.because, message.touched_by) == (to, "so", by)
        else:
            with pytest.raises(NotAllowed):
                move(message, to, because="so", by=by, **columns)
            message.refresh_from_db()
            assert message.state == was


def test_end_states_have_no_way_out() -> None:
    ends = {State.SENT, State.MISSED, State.CANCELLED}
    assert {was for was, _ in TRANSITIONS} & ends == set()


@pytest.mark.django_db
def test_of_two_that_move_the_same_row_one_wins() -> None:
    message = _message(State.WAITING)
    same = Message.objects.get(pk=message.pk)
    assert move(message, State.SENDING, because="", claimed_at=MAY) is True
    assert move(same, State.SENDING, because="", claimed_at=MAY) is False
    assert same.state == State.WAITING


@pytest.mark.django_db
def test_an_old_claim_cannot_move_a_row_that_was_claimed_again() -> None:
    message = _message(State.SENDING)
    Message.objects.filter(pk=message.pk).update(claimed_at=MAY.replace(hour=20))
    assert move(message, State.SENT, because="", sent_at=MAY) is False


def test_state_is_written_in_one_place_only() -> None:
    root = Path(__file__).resolve().parents[2] / "crm"
    writers = [
        path.name
        for folder in ("post", "services", "web", "selectors")
        for path in (root / folder).rglob("*.py")
        if re.search(r"message\.state = |\.update\([^)]*\bstate=State", path.read_text(encoding="utf-8"))
    ]
    assert writers == []
