"""Cars whose forecasts rest on dates or numbers that the studio has changed since."""

from __future__ import annotations

from django.db.models import QuerySet

from crm.models import Car


def stale_cars() -> QuerySet[Car]:
    """Cars that wait for their forecasts to be worked out again, in the order of their files."""
    return Car.objects.filter(forecast_stale=True).order_by("pk")


def stale_count() -> int:
    """How many cars wait."""
    return stale_cars().count()
