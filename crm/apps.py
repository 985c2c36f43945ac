"""The one Django application."""

from __future__ import annotations

from django.apps import AppConfig


class CrmConfig(AppConfig):
    """The studio's record, its messages and its screens."""

    name = "crm"
    label = "crm"
    verbose_name = "Overwinter"
    default_auto_field = "django.db.models.BigAutoField"
