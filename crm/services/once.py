"""A form that is sent twice (a thick thumb, a lost signal, a page loaded again) is recorded once."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import IntegrityError, transaction

from crm.models import Once, User

KEPT = timedelta(days=30)
"""No page stays open for longer."""


def first_time(*, key: str, by: User | None, now: datetime) -> bool:
    """Whether this form comes for the first time. Call it inside the transaction that records what it says.

    Where that transaction fails, the key is forgotten with it and the form can be sent again. A form
    without a key always counts as new.
    """
    if not key:
        return True
    Once.objects.filter(at__lt=now - KEPT).delete()
    try:
        with transaction.atomic():
            Once.objects.create(key=key, by=by, at=now)
    except IntegrityError:
        return False
    return True
