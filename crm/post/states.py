"""The states of a message: which may follow which, who may cause it, and the one place that writes them."""

from __future__ import annotations

from enum import StrEnum
from typing import Any

from crm.models import Message, User

State = Message.State

Stops = tuple[type[BaseException], ...]
"""What breaks work off from outside, such as a worker's time limit. It says nothing about the message in hand,
and is let through. Handed in, so that the post needs to know of no worker."""


class Cause(StrEnum):
    """Who brings a change about."""

    MACHINE = "machine"
    PERSON = "person"


_MACHINE = frozenset({Cause.MACHINE})
_PERSON = frozenset({Cause.PERSON})
_EITHER = _MACHINE | _PERSON

TRANSITIONS: dict[tuple[State, State], frozenset[Cause]] = {
    (State.WAITING, State.SENDING): _MACHINE,
    (State.WAITING, State.HELD): _PERSON,
    (State.WAITING, State.CANCELLED): _EITHER,
    (State.WAITING, State.MISSED): _MACHINE,
    (State.HELD, State.WAITING): _PERSON,
    (State.HELD, State.CANCELLED): _EITHER,
    (State.HELD, State.MISSED): _MACHINE,
    (State.SENDING, State.SENT): _MACHINE,
    # Taken back before anything left: the server was busy, it is night, or the studio's own settings are wrong.
    (State.SENDING, State.WAITING): _MACHINE,
    (State.SENDING, State.HELD): _MACHINE,
    (State.SENDING, State.FAILED): _MACHINE,
    (State.SENDING, State.CANCELLED): _MACHINE,
    (State.SENDING, State.MISSED): _MACHINE,
    (State.SENDING, State.UNCERTAIN): _MACHINE,
    # A worker that was held up for long may still bring the server's receipt.
    (State.UNCERTAIN, State.SENT): _EITHER,
    (State.UNCERTAIN, State.WAITING): _PERSON,
    (State.FAILED, State.WAITING): _PERSON,
}
"""Every change that may happen. A pair that is not here never happens; sent, missed and cancelled are the end."""


class NotAllowed(ValueError):
    """A change of state that nobody, or not this one, may bring about."""


def may(was: State, to: State, cause: Cause) -> bool:
    """Whether that change may be caused by a person, or by the machine."""
    return cause in TRANSITIONS.get((was, to), frozenset())


def move(message: Message, to: State, *, because: str, by: User | None = None, **columns: Any) -> bool:
    """Change the state of a message, and `columns` with it. The only writer of the state column.

    The change is made only if the row still stands as `message` says, so of two that try the same, one wins.
    Returns whether it was this one; if so, `message` is brought up to date. `by` is the person who causes it;
    without one it is the machine. Raises NotAllowed where the table has no such change for them.
    """
    was = State(message.state)
    cause = Cause.PERSON if by else Cause.MACHINE
    if not may(was, to, cause):
        raise NotAllowed(f"A message that is {was.label} cannot be made {to.label} by a {cause.value}.")
    values = {**columns, "state": to, "because": because[:300]}
    if by is not None:
        values["touched_by"] = by
    unchanged = Message.objects.filter(pk=message.pk, state=was)
    if was == State.SENDING:
        # A row that was taken back and claimed again is another claim, not ours.
        unchanged = unchanged.filter(claimed_at=message.claimed_at)
    if unchanged.update(**values) != 1:
        return False
    for name, value in values.items():
        setattr(message, name, value)
    return True
