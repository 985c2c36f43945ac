"""Forecasts that follow a change of the studio's dates or numbers: marked at once, worked out bit by bit.

A change of season moves the forecast of every layer on every car. The request that makes the change only marks
the cars; a few are worked out right after it, the rest by the task that calls `follow_stale` every minute.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from datetime import timedelta

import structlog
from django.db import transaction
from django.db.models import QuerySet

from crm.models import Car
from crm.selectors.stale import stale_cars
from crm.services.forecasts import reforecast_cars

AT_ONCE = 150
"""Cars that a request works out itself after a change: a small studio sees the whole of it at once."""
AT_ONCE_FOR = timedelta(seconds=3)
"""A request stops then, however many are left."""
A_TURN = 3000
A_TURN_FOR = timedelta(seconds=40)
"""One turn of the task ends before the next begins."""

TOGETHER = 25
"""Cars that are worked out in one transaction: enough to share its queries, and no other writer waits for long."""

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


def follow_stale(
    *, limit: int, longest: timedelta = A_TURN_FOR, stops: tuple[type[BaseException], ...] = ()
) -> int:
    """Work out the forecasts of up to `limit` marked cars again, some at a time, each time in a transaction.

    Begins no more after `longest`. Returns how many were done. A car that cannot be worked out is logged and stays
    marked; it does not keep the others waiting. Several calls at once do each other no harm. `stops` is what breaks
    the whole round off, such as a worker's time limit: the cars in hand stay marked.
    """
    done, end = 0, time.monotonic() + longest.total_seconds()
    waiting = list(stale_cars().values_list("pk", flat=True)[:limit])
    for begin in range(0, len(waiting), TOGETHER):
        if time.monotonic() > end:
            break
        done += _follow_or_log(waiting[begin : begin + TOGETHER], stops)
    return done


def _follow_or_log(keys: Sequence[int], stops: tuple[type[BaseException], ...]) -> int:
    """How many of these cars were worked out: all together, or one by one where that fails."""
    try:
        return _follow(keys)
    except stops:
        raise
    except Exception:
        if len(keys) == 1:
            log.exception("forecast_not_followed", car=keys[0])
            return 0
    return sum(_follow_or_log([key], stops) for key in keys)


@transaction.atomic
def _follow(keys: Sequence[int]) -> int:
    """How many of these cars this call worked out.

    The mark goes first: the rows are then locked, so that a change of figures that comes meanwhile marks the cars
    again afterwards, and the figures read next are at least as new as the mark. A car that somebody else has in hand
    is left to the next turn: nobody who holds some cars may wait for others.
    """
    marked = Car.objects.filter(pk__in=keys, forecast_stale=True).order_by("pk")
    cars = list(marked.select_for_update(skip_locked=True))
    Car.objects.filter(pk__in=[car.pk for car in cars]).update(forecast_stale=False)
    reforecast_cars(cars)
    return len(cars)
