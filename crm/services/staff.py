"""The people who sign in: taking them on, what they may do, and the end of their access."""

from __future__ import annotations

import re
from dataclasses import dataclass

import structlog
from axes.utils import reset
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from crm.models import Branch, Rank, User
from crm.services.errors import Refused
from crm.services.rights import Right, require
from crm.services.storing import store

_SIGN_IN = re.compile(r"[\w.@+-]{2,40}")

log = structlog.get_logger(__name__)


@dataclass(frozen=True, kw_only=True)
class StaffFacts:
    """What is known of somebody who signs in. Without initials, those of the name are taken."""

    name: str
    rank: Rank
    initials: str = ""
    branch: Branch | None = None
    """Where they work; None is everywhere."""


@transaction.atomic
def take_on_staff(*, sign_in: str, facts: StaffFacts, password: str, by: User | None) -> User:
    """Give somebody an account with a first password. Raises Refused where a name or the password will not do."""
    require(by, Right.SETTINGS)
    sign_in = User.normalize_username(sign_in.strip())
    if not _SIGN_IN.fullmatch(sign_in):
        raise Refused(
            "Two to forty letters, digits or . - _ + @, without spaces: ada or a.quill, for example.",
            field="username",
        )
    if User.objects.filter(username__iexact=sign_in).exists():
        raise Refused(
            f"Somebody signs in as “{sign_in}” already. Names stay taken when access has ended.",
            field="username",
        )
    row = User(username=sign_in)
    _fill(row, facts)
    _give_password(row, password)
    store(row)
    log.info("staff_taken_on", user=row.pk, rank=row.rank, by=by.pk if by else None)
    return row


@transaction.atomic
def change_staff(*, row: User, facts: StaffFacts, by: User | None) -> User:
    """Correct what is known of somebody, or give them another rank. The last owner-manager keeps theirs."""
    require(by, Right.SETTINGS)
    before = row.rank
    if row.is_active and before == Rank.MANAGER and facts.rank != Rank.MANAGER:
        _another_manager(row, field="rank")
    _fill(row, facts)
    store(row)
    if row.rank != before:
        log.info("staff_rank_changed", user=row.pk, before=before, rank=row.rank, by=by.pk if by else None)
    return row


@transaction.atomic
def end_access(*, row: User, by: User | None) -> User:
    """End somebody's access this moment. What they wrote down stays under their name.

    Their password goes with it, so that no sign-in of theirs that still runs somewhere can come back to life.
    """
    require(by, Right.SETTINGS)
    if not row.is_active:
        return row
    if row.rank == Rank.MANAGER:
        _another_manager(row, field=None)
    row.is_active = False
    row.set_unusable_password()
    store(row)
    log.info("staff_access_ended", user=row.pk, by=by.pk if by else None)
    return row


@transaction.atomic
def set_password(*, row: User, password: str, by: User | None) -> User:
    """Give somebody a new password: they forgot theirs, or come back. Ended access is given back with it."""
    require(by, Right.SETTINGS)
    _give_password(row, password)
    if not row.is_active:
        row.is_active = True
        log.info("staff_access_given_back", user=row.pk, by=by.pk if by else None)
    store(row)
    # Whoever forgot a password has usually tried it too often by then.
    reset(username=row.username)
    return row


@transaction.atomic
def change_own_password(*, user: User, old: str, new: str) -> User:
    """A new password by somebody who knows the old one. Their other sign-ins end."""
    if not user.check_password(old):
        raise Refused("That is not your present password.", field="old")
    if old == new:
        raise Refused("That is the password you have.", field="new")
    _give_password(user, new, field="new")
    user.save(update_fields=["password"])
    return user


def _fill(row: User, facts: StaffFacts) -> None:
    name = " ".join(facts.name.split())
    if not name:
        raise Refused("Give a name: it stands beside everything they write down.", field="name")
    first, _, rest = name.partition(" ")
    initials = "".join(facts.initials.split()) or "".join(word[0] for word in name.split())[:4].upper()
    row.first_name, row.last_name, row.initials = first, rest, initials
    row.rank, row.branch = facts.rank, facts.branch


def _give_password(row: User, password: str, *, field: str = "password") -> None:
    try:
        validate_password(password, row)
    except ValidationError as error:
        raise Refused(" ".join(error.messages), field=field) from error
    row.set_password(password)


def _another_manager(row: User, *, field: str | None) -> None:
    """Raise Refused unless somebody else can still run the studio. Holds all managers until the transaction ends."""
    managers = User.objects.select_for_update().filter(rank=Rank.MANAGER, is_active=True)
    if not any(manager.pk != row.pk for manager in managers):
        raise Refused(
            f"{row} is the only owner-manager who can sign in. Make somebody else one first.", field=field
        )
