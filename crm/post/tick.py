"""One turn of the post: plan what has become due, then claim and send one message after the other."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

import structlog
from django.db import DatabaseError

from crm.models import Studio
from crm.post.carry import OurOwnFault, Unreachable
from crm.post.claim import claim, due, standing_still
from crm.post.deliver import MakePapers, deliver
from crm.post.plan import plan_once_a_day
from crm.post.retry import declare_uncertain
from crm.post.states import Stops

log = structlog.get_logger(__name__)

LONGEST = timedelta(minutes=4)
"""A turn ends after this; well before what it has claimed would be thought stuck."""


@dataclass(slots=True)
class Turn:
    """What a turn of the post came to."""

    sent: int = 0
    not_sent: int = 0
    stuck: int = 0
    planned: int = 0


def tick(*, now: datetime, papers: MakePapers, stops: Stops = ()) -> Turn:
    """One turn. Several at once do each other no harm: whoever claims a message sends it.

    Does nothing before there is a studio. `papers` makes the files that go with an aftercare sheet; `stops` is
    what may break the turn off.
    """
    turn = Turn()
    studio = Studio.objects.first()
    if studio is None:
        return turn
    # It runs while the day is planned, too: what leaves afterwards must not be taken for what leaves now.
    clock = _running(now)
    turn.stuck = declare_uncertain(now=now)
    turn.planned = _plan(now)
    for pk in due(now=now):
        if clock() - now > LONGEST or standing_still() is not None:
            break
        message = claim(pk, now=clock(), studio=studio, stops=stops)
        if message is None:
            continue
        error = deliver(message, papers=papers, now=clock(), studio=studio, stops=stops)
        turn.sent += error is None
        turn.not_sent += error is not None
        if isinstance(error, Unreachable | OurOwnFault):
            # The next message would fare no better.
            break
    return turn


def _plan(now: datetime) -> int:
    """The day's round of planning. What keeps it from being made must not keep the post from leaving."""
    try:
        planned = plan_once_a_day(now=now)
    except DatabaseError:
        log.exception("letters_not_planned")
        return 0
    return planned.matters if planned else 0


def _running(now: datetime) -> Callable[[], datetime]:
    """A clock that starts at `now` and runs on."""
    start = time.monotonic()
    return lambda: now + timedelta(seconds=time.monotonic() - start)
