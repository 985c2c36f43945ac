"""The tasks that beat sends and a worker does: primitives in, plain calls out. Nobody imports this module.

A task may be done twice or side by side with itself. That does no harm: what is sent is claimed row by row.
"""

from __future__ import annotations

from datetime import timedelta

from celery import shared_task
from celery.exceptions import SoftTimeLimitExceeded
from django.utils import timezone

from crm.papers.attached import aftercare_files
from crm.post.housekeeping import tidy
from crm.post.tick import tick as one_turn
from crm.services.forgetting import forget_old_sign_ins
from crm.services.stale import A_TURN, follow_stale
from crm.services.winter_planning import plan_what_waits
from crm.services.winter_round import close_what_is_over

STOPS = (SoftTimeLimitExceeded,)
"""What breaks a task off between two steps of anything it does; nobody below may take it for a fault of their own."""
BEFORE_THE_POST = timedelta(seconds=10)
"""So long a turn of the post waits for forecasts that are marked; what is left is not written about in it."""


@shared_task(name="crm.tasks.tick", acks_late=True, ignore_result=True)
def tick() -> None:
    """One turn of the post: plan what has become due, send what may leave. Marked forecasts are followed first."""
    follow_stale(limit=A_TURN, longest=BEFORE_THE_POST, stops=STOPS)
    one_turn(now=timezone.now(), papers=aftercare_files, stops=STOPS)


@shared_task(name="crm.tasks.housekeeping", acks_late=True, ignore_result=True)
def housekeeping() -> None:
    """What grows old: messages that nobody released in time, marks of past days, sign-ins, and winter rounds."""
    now = timezone.now()
    tidy(now=now)
    forget_old_sign_ins(now=now)
    close_what_is_over(now=now)


@shared_task(name="crm.tasks.follow", acks_late=True, ignore_result=True)
def follow() -> None:
    """Forecasts that have to follow a change of the studio's dates or numbers, so many in a turn."""
    follow_stale(limit=A_TURN, stops=STOPS)


@shared_task(name="crm.tasks.plan_winter", acks_late=True, ignore_result=True)
def plan_winter() -> None:
    """Winter rounds whose plan no longer holds: a new day, an answer, a change of hours."""
    plan_what_waits(now=timezone.now(), stops=STOPS)
