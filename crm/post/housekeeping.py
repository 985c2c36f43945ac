"""What grows old in the post, put away once an hour."""

from __future__ import annotations

from datetime import datetime, timedelta

from crm.models import Message, PlanDay
from crm.post.states import move

State = Message.State

PLAN_DAYS_KEPT = timedelta(days=400)


def tidy(*, now: datetime) -> int:
    """Close messages that were held or put off until they were of no use. Returns how many."""
    PlanDay.objects.filter(begun_at__lt=now - PLAN_DAYS_KEPT).delete()
    stale = Message.objects.filter(state__in=(State.WAITING, State.HELD), expires_at__lte=now)
    return sum(move(message, State.MISSED, because="its time has passed") for message in stale.iterator())
