"""Forecasts that follow a change of the studio's dates or numbers: marked at once, worked out bit by bit.

A change of season moves the forecast of every layer on every car. The request that makes the change only marks
the cars; a few are worked out right after it, the rest by the task that calls `follow_stale` every minute.
"""

from __future__ import annotations

import time
from datetime import timedelta

import structlog
from django.db import transaction
from django.db.models import QuerySet

from crm.models import Car
from crm.selectors.stale import stale_cars
from crm.services.forecasts import reforecast_car

AT_ONCE = 150
"""Cars that a request works out itself after a change: a small studio sees the whole of it at once."""
AT_ONCE_FOR = timedelta(seconds=3)
"""A request stops then, however many are left."""
A_TURN = 3000
A_TURN_FOR = timedelta(seconds=40)
"""One turn of the task ends before the next begins."""

log = structlog.get_logger(__name__)


def mark_all_stale() -> int:
    """Mark every car, in one UPDATE inside the transaction of the change. Returns how many.

    Cars that are marked already are written again: one of them may be cleared at this very moment by somebody
    who still reads the old figures.
    """
    return Car.objects.update(forecast_stale=True)


def mark_stale(cars: QuerySet[Car]) -> int:
    """Mark some cars: those that carry a product whose figures have changed. Returns how many."""
    return Car.objects.filter(pk__in=cars.order_by().values("pk")).update(forecast_stale=True)


def follow_stale(*, limit: int, longest: timedelta = A_TURN_FOR) -> int:
    """Work out the forecasts of up to `limit` marked cars again, each in a transaction of its own.

    Begins no car after `longest`. Returns how many were done. A car that cannot be worked out is logged and stays
    marked; it does not keep the others waiting. Several calls at once do each other no harm.
    """
    done, end = 0, time.monotonic() + longest.total_seconds()
    for pk in list(stale_cars().values_list("pk", flat=True)[:limit]):
        if time.monotonic() > end:
            break
        try:
            done += _follow(pk)
        except Exception:
            log.exception("forecast_not_followed", car=pk)
    return done


@transaction.atomic
def _follow(pk: int) -> bool:
    """Whether this call worked the car out.

    The mark goes first: its row is then locked, so that a change of figures that comes meanwhile marks the car
    again afterwards, and the figures read next are at least as new as the mark.
    """
    if not Car.objects.filter(pk=pk, forecast_stale=True).update(forecast_stale=False):
        return False
    reforecast_car(Car.objects.get(pk=pk))
    return True
