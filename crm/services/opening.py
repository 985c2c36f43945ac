"""The first day of a studio: its settings, its first branch and the person who runs it."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from crm.models import Branch, Rank, Studio, User
from crm.services.errors import Refused


@dataclass(frozen=True, kw_only=True)
class FirstDay:
    """What has to be known before anybody can sign in."""

    studio: str
    time_zone: str
    sign_in: str
    """The name the owner-manager signs in with."""
    password: str


@transaction.atomic
def open_studio(*, first_day: FirstDay) -> User:
    """Write down the studio, a branch of the same name, and the owner-manager's account.

    Raises Refused where somebody can sign in already, or where a name or the password will not do.
    """
    if User.objects.exists():
        raise Refused("Somebody can sign in here already: the first account is made once.")
    manager = User(username=first_day.sign_in.strip(), rank=Rank.MANAGER)
    try:
        studio = Studio.objects.first() or Studio(
            name=first_day.studio.strip(), time_zone=first_day.time_zone
        )
        studio.full_clean()
        studio.save()
        manager.branch, _ = Branch.objects.get_or_create(name=studio.name)
        validate_password(first_day.password, manager)
        manager.set_password(first_day.password)
        manager.full_clean()
    except ValidationError as error:
        raise Refused(" ".join(error.messages)) from error
    manager.save()
    return manager
