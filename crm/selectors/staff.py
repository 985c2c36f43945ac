"""The people who sign in, those who may first."""

from __future__ import annotations

from django.db.models import QuerySet

from crm.models import User


def staff() -> QuerySet[User]:
    """Everybody who has or had an account, by name."""
    return User.objects.select_related("branch").order_by("-is_active", "first_name", "last_name", "username")
