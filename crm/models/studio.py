"""The studio itself: one row of settings, its branches and its people."""

from __future__ import annotations

from functools import cache
from typing import Any, ClassVar
from zoneinfo import ZoneInfo, available_timezones

from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords


@cache
def _time_zones() -> frozenset[str]:
    """Every name of the time-zone database: some six hundred files, looked through once."""
    return frozenset(available_timezones())


def check_time_zone(name: str) -> None:
    """Refuse a name that is not in the time-zone database."""
    if name not in _time_zones():
        raise ValidationError(
            f"“{name}” is not a time zone. An example of one is Europe/London.", code="time_zone"
        )


def check_month_day(text: str) -> None:
    """Refuse what is not a month and a day such as 11-01."""
    from crm.care.seasons import MonthDay  # noqa: PLC0415

    try:
        MonthDay.parse(text)
    except ValueError as error:
        raise ValidationError(
            "Write the month and the day as MM-DD, for example 11-01.", code="month_day"
        ) from error


class Units(models.TextChoices):
    """How distances are shown."""

    KM = "km", "kilometres"
    MILES = "miles", "miles"


class Paper(models.TextChoices):
    """The paper in the printer."""

    A4 = "A4", "A4"
    LETTER = "Letter", "Letter"


class Studio(models.Model):
    """Settings that the owner-manager changes on a screen; exactly one row."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    name = models.CharField(max_length=80)
    postal_address = models.CharField(max_length=240, blank=True)
    phone = models.CharField(max_length=20, blank=True)
    reply_to = models.EmailField(blank=True)
    signature = models.CharField("signed by", max_length=80, blank=True)
    time_zone = models.CharField(max_length=64, default="Europe/London", validators=[check_time_zone])
    phone_region = models.CharField("country for telephone numbers", max_length=2, default="GB")
    units = models.CharField(max_length=5, choices=Units, default=Units.MILES)
    paper = models.CharField(max_length=6, choices=Paper, default=Paper.A4)
    salt_from = models.CharField(max_length=5, default="11-01", validators=[check_month_day])
    salt_until = models.CharField(max_length=5, default="03-31", validators=[check_month_day])
    hot_from = models.CharField(max_length=5, default="06-01", validators=[check_month_day])
    hot_until = models.CharField(max_length=5, default="08-31", validators=[check_month_day])
    winter_prompt_from = models.CharField(max_length=5, default="09-01", validators=[check_month_day])
    winter_prompt_until = models.CharField(max_length=5, default="11-15", validators=[check_month_day])
    letters_a_year = models.PositiveSmallIntegerField(default=4, validators=[MaxValueValidator(12)])
    letter_gap_days = models.PositiveSmallIntegerField(default=45, validators=[MaxValueValidator(366)])
    top_up_lead_days = models.PositiveSmallIntegerField(
        "days before a layer's low date that its reminder leaves",
        default=21,
        validators=[MaxValueValidator(120)],
    )
    weekday_from = models.TimeField(default="09:00")
    weekday_until = models.TimeField(default="19:00")
    saturday_from = models.TimeField(default="09:30")
    saturday_until = models.TimeField(default="13:00")
    post_on_sundays = models.BooleanField(default=False)
    home_washing = models.BooleanField("washing at home is allowed here", default=True)
    engine_overrides = models.JSONField(default=dict, blank=True)
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        constraints = (models.CheckConstraint(condition=Q(id=1), name="studio_is_one_row"),)
        verbose_name_plural = "studio"

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        """The studio's time zone."""
        return ZoneInfo(self.time_zone)


class Branch(models.Model):
    """A place where cars are worked on."""

    name = models.CharField(max_length=80)
    town = models.CharField(max_length=80, blank=True)
    is_open = models.BooleanField(default=True)
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = ("name",)
        verbose_name_plural = "branches"
        constraints = (models.UniqueConstraint(fields=("name",), name="branch_name_once"),)

    def __str__(self) -> str:
        return self.name


class Rank(models.TextChoices):
    """What a person does in the studio, and so what they may see and change."""

    BENCH = "bench", "bench"
    LEAD = "lead", "lead"
    DESK = "desk", "front of house"
    MANAGER = "manager", "owner-manager"


class User(AbstractUser):
    """Somebody who signs in."""

    rank = models.CharField(max_length=8, choices=Rank, default=Rank.BENCH)
    branch = models.ForeignKey(Branch, null=True, blank=True, on_delete=models.PROTECT, related_name="users")
    initials = models.CharField(max_length=4, blank=True)

    class Meta(AbstractUser.Meta):
        constraints = (models.CheckConstraint(condition=Q(rank__in=Rank.values), name="user_rank_known"),)

    def __str__(self) -> str:
        return self.get_full_name() or self.username
