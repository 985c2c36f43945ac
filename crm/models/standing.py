"""Rows that can be taken back: written down by mistake, kept on record, no longer counted."""

from __future__ import annotations

from typing import TypeVar

from django.db import models

Row = TypeVar("Row", bound=models.Model)


class StandingManager(models.Manager[Row]):
    """Only what stands. As the default manager it hides what was taken back from whoever does not ask for it.

    `everything` of the same model sees all rows.
    """

    def get_queryset(self) -> models.QuerySet[Row]:
        """The rows that were not taken back."""
        return super().get_queryset().filter(taken_back_at__isnull=True)
