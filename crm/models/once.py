"""Forms that were dealt with, so that the same one sent twice is recorded once."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class Once(models.Model):
    """The key of one filled-in form. Written in the transaction that records what the form says."""

    key = models.CharField(max_length=64, primary_key=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    at = models.DateTimeField(db_index=True)

    def __str__(self) -> str:
        return self.key
