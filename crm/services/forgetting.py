"""What is kept about the people who sign in for as long as it is of use, and no longer."""

from __future__ import annotations

from datetime import datetime, timedelta
from importlib import import_module

from axes.models import AccessAttempt
from django.conf import settings

TRIES_KEPT = timedelta(days=1)
"""Wrong passwords count for a quarter of an hour; the rest of the day is for whoever asks what happened."""


def forget_old_sign_ins(*, now: datetime) -> None:
    """Take out sessions that are over and tries to sign in, with their addresses, that count no more."""
    import_module(settings.SESSION_ENGINE).SessionStore.clear_expired()
    AccessAttempt.objects.filter(attempt_time__lt=now - TRIES_KEPT).delete()
