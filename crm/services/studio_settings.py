"""The studio's own settings: who it is, when its roads are salted, how often and when it writes."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import time

import phonenumbers
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction

from crm.care.seasons import MonthDay, Season, SeasonError
from crm.care.telephone import NotANumber, spoken, to_e164
from crm.models import Studio, User
from crm.services.errors import Refused
from crm.services.rights import Right, require
from crm.services.stale import mark_all_stale
from crm.services.storing import store

FORECASTS_REST_ON = ("time_zone", "salt_from", "salt_until", "hot_from", "hot_until")
"""Settings whose change moves forecasts: the seasons, and the zone that says on which day a layer was laid."""
SHORTEST_HOURS = 60
"""Minutes a day in which post has to be able to leave (own choice)."""


@dataclass(frozen=True, kw_only=True)
class StudioSettings:
    """Every setting that a person changes on the screen. Days of the year are written MM-DD."""

    name: str
    postal_address: str
    phone: str
    reply_to: str
    signature: str
    time_zone: str
    phone_region: str
    units: str
    paper: str
    salt_from: str
    salt_until: str
    hot_from: str
    hot_until: str
    winter_prompt_from: str
    winter_prompt_until: str
    letters_a_year: int
    letter_gap_days: int
    top_up_lead_days: int
    weekday_from: time
    weekday_until: time
    saturday_from: time
    saturday_until: time
    post_on_sundays: bool
    home_washing: bool


def locked_studio() -> Studio:
    """The row of settings, held against changes at the same moment until the transaction ends."""
    return Studio.objects.select_for_update().get()


def store_studio(row: Studio, *, by: User | None, because: str = "") -> None:
    """Save the settings with who changed them and why; the former ones stay in the history."""
    row._history_user = by  # type: ignore[attr-defined]  # noqa: SLF001 - how the history takes it
    row._change_reason = because or None  # type: ignore[attr-defined]  # noqa: SLF001
    store(row)


@transaction.atomic
def change_settings(*, settings: StudioSettings, by: User | None) -> int:
    """Write down the settings. Returns how many cars were marked because their forecasts have to follow.

    Raises Refused with the field that cannot be meant. Settings that are as they were leave no trace.
    """
    require(by, Right.SETTINGS)
    row = locked_studio()
    wanted = _checked(settings)
    changed = [name for name, value in wanted.items() if getattr(row, name) != value]
    if not changed:
        return 0
    for name in changed:
        setattr(row, name, wanted[name])
    store_studio(row, by=by)
    return mark_all_stale() if set(changed) & set(FORECASTS_REST_ON) else 0


def _checked(settings: StudioSettings) -> dict[str, object]:
    """The settings as they are stored, by name. Raises Refused."""
    wanted: dict[str, object] = {}
    for column in fields(settings):
        value = getattr(settings, column.name)
        wanted[column.name] = " ".join(value.split()) if isinstance(value, str) else value
    if not wanted["name"]:
        raise Refused("Give the studio's name: letters begin and end with it.", field="name")
    region = settings.phone_region.strip().upper()
    if region not in phonenumbers.SUPPORTED_REGIONS:
        raise Refused(
            "Write the country as two letters: GB, IE, NO or DE, for example.", field="phone_region"
        )
    wanted["phone_region"] = region
    wanted["phone"] = _phone(settings.phone, region)
    _check_address(settings.reply_to.strip())
    for season in ("salt", "hot", "winter_prompt"):
        _check_season(wanted, f"{season}_from", f"{season}_until")
    _check_hours(settings)
    return wanted


def _phone(text: str, region: str) -> str:
    """The number as it is read out, which is how it stands on letters."""
    if not text.strip():
        return ""
    try:
        return spoken(to_e164(text, region), region)
    except NotANumber as error:
        raise Refused(str(error), field="phone") from error


def _check_address(address: str) -> None:
    if not address:
        return
    try:
        validate_email(address)
    except ValidationError as error:
        raise Refused(
            "That is not an e-mail address: it looks like name@example.org.", field="reply_to"
        ) from error


def _check_season(wanted: dict[str, object], first: str, last: str) -> None:
    days = []
    for name in (first, last):
        try:
            days.append(MonthDay.parse(str(wanted[name])))
        except SeasonError as error:
            raise Refused(str(error), field=name) from error
        wanted[name] = str(days[-1])
    try:
        Season(*days)
    except SeasonError as error:
        raise Refused(str(error), field=last) from error


def _check_hours(settings: StudioSettings) -> None:
    if _minutes(settings.weekday_from, settings.weekday_until) < SHORTEST_HOURS:
        raise Refused(
            "Leave at least an hour, and the later time second: post that may never leave is lost.",
            field="weekday_until",
        )
    if settings.saturday_until < settings.saturday_from:
        raise Refused(
            "Put the later time second. The same time twice keeps Saturdays free of post.",
            field="saturday_until",
        )
    if settings.post_on_sundays and settings.saturday_from == settings.saturday_until:
        raise Refused(
            "Sundays have Saturday's hours: give Saturday some, or leave Sundays out.",
            field="post_on_sundays",
        )


def _minutes(start: time, end: time) -> int:
    return (end.hour - start.hour) * 60 + end.minute - start.minute
