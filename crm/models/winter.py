"""The winter round of a branch: its weeks, what was planned for each car, who was asked, and what they said."""

from __future__ import annotations

from typing import Any, ClassVar

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from simple_history.models import HistoricalRecords

from crm.models import choices
from crm.models.car import Car
from crm.models.message import Message
from crm.models.person import Person
from crm.models.standing import StandingManager
from crm.models.studio import Branch
from crm.models.visit import Visit


class WinterRound(models.Model):
    """The invitations of one branch before one salted season.

    The plan is made again when `changes` has moved since it was made, and on every new day. `value` and `bound` are
    those of the plan: expected unprotected salted days avoided, and the most that any plan could avoid.
    """

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="winter_rounds", db_index=False)
    salt_from = models.DateField("first salted day")
    salt_until = models.DateField("last salted day")
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    changes = models.PositiveIntegerField("changes that the plan has to follow", default=1)
    planned_changes = models.PositiveIntegerField("changes that the plan knows of", default=0)
    planned_for = models.DateField("day the plan was made for", null=True, blank=True)
    planned_at = models.DateTimeField(null=True, blank=True)
    planning_since = models.DateTimeField(null=True, blank=True)
    value = models.FloatField(null=True, blank=True)
    bound = models.FloatField(null=True, blank=True)
    how = models.CharField("how the plan was come by", max_length=12, blank=True)
    history: ClassVar[Any] = HistoricalRecords(
        excluded_fields=[
            "changes",
            "planned_changes",
            "planned_for",
            "planned_at",
            "planning_since",
            "value",
            "bound",
            "how",
        ]
    )

    class Meta:
        ordering = ("-salt_from", "pk")
        constraints = (
            models.UniqueConstraint(fields=("branch", "salt_from"), name="winter_round_once_a_season"),
            models.CheckConstraint(
                condition=Q(salt_until__gt=F("salt_from")), name="salt_ends_after_it_began"
            ),
        )

    def __str__(self) -> str:
        return f"Winter round {self.season_name}, {self.branch}"

    @property
    def season_name(self) -> str:
        """The winter in figures: 2026/27, or 2027 where it lies within one year."""
        first, last = self.salt_from.year, self.salt_until.year
        return str(first) if first == last else f"{first}/{last % 100:02}"

    @property
    def is_going(self) -> bool:
        """Whether invitations of this round may still leave."""
        return self.closed_at is None


OF_THE_PLAN = (
    "spoken_hours",
    "spoken_nights",
    "room_hours",
    "room_nights",
    "asked_hours",
    "asked_nights",
    "is_open",
)
"""Columns of a week that every plan writes anew."""


class WinterWeek(models.Model):
    """What a week can give, and how the newest plan sees it: spoken for before it, room, and what it would ask."""

    round = models.ForeignKey(WinterRound, on_delete=models.PROTECT, related_name="weeks", db_index=False)
    monday = models.DateField()
    hours = models.DecimalField(
        "hands-on hours",
        max_digits=5,
        decimal_places=1,
        validators=[MinValueValidator(0), MaxValueValidator(999)],
    )
    nights = models.DecimalField(
        "nights in the bay",
        max_digits=4,
        decimal_places=1,
        validators=[MinValueValidator(0), MaxValueValidator(99)],
    )
    spoken_hours = models.FloatField(default=0)
    spoken_nights = models.FloatField(default=0)
    room_hours = models.FloatField(default=0)
    room_nights = models.FloatField(default=0)
    asked_hours = models.FloatField(default=0)
    asked_nights = models.FloatField(default=0)
    is_open = models.BooleanField("somebody may still be asked into it", default=False)
    history: ClassVar[Any] = HistoricalRecords(excluded_fields=list(OF_THE_PLAN))

    class Meta:
        ordering = ("monday",)
        constraints = (
            models.UniqueConstraint(fields=("round", "monday"), name="winter_week_once"),
            models.CheckConstraint(
                condition=Q(hours__gte=0, nights__gte=0), name="winter_week_gives_something"
            ),
        )

    def __str__(self) -> str:
        return f"Week of {self.monday:%-d %b %Y}"


class WinterProposal(models.Model):
    """A car that the newest plan would ask, the first to be asked first. Replaced by every plan."""

    round = models.ForeignKey(WinterRound, on_delete=models.CASCADE, related_name="proposals", db_index=False)
    car = models.ForeignKey(Car, on_delete=models.CASCADE, related_name="+")
    place = models.PositiveIntegerField()
    monday = models.DateField()
    work = models.CharField(max_length=12, choices=choices.winter_works)
    hours = models.FloatField()
    nights = models.FloatField()
    chance = models.FloatField()
    worth = models.FloatField("unprotected salted days avoided")
    promised = models.BooleanField(default=False)
    words = models.CharField(max_length=600)

    class Meta:
        ordering = ("place",)
        constraints = (models.UniqueConstraint(fields=("round", "car"), name="winter_proposal_once_a_car"),)

    def __str__(self) -> str:
        return f"{self.car}, week of {self.monday:%-d %b %Y}"


class WinterLeftOut(models.Model):
    """A car that the newest plan does not ask, and why. Replaced by every plan."""

    round = models.ForeignKey(WinterRound, on_delete=models.CASCADE, related_name="left_out", db_index=False)
    car = models.ForeignKey(Car, on_delete=models.CASCADE, related_name="+")
    why = models.CharField(max_length=16)
    words = models.CharField(max_length=400)

    class Meta:
        ordering = ("pk",)
        constraints = (models.UniqueConstraint(fields=("round", "car"), name="winter_left_out_once_a_car"),)
        indexes = (models.Index(fields=("round", "why"), name="winter_left_out_by_reason"),)

    def __str__(self) -> str:
        return f"{self.car}: {self.words}"


class WinterSetAside(models.Model):
    """A car that somebody of the studio leaves out of a round, and why."""

    round = models.ForeignKey(WinterRound, on_delete=models.PROTECT, related_name="set_aside", db_index=False)
    car = models.ForeignKey(Car, on_delete=models.PROTECT, related_name="+")
    because = models.CharField("why", max_length=200)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = ("pk",)
        constraints = (models.UniqueConstraint(fields=("round", "car"), name="winter_set_aside_once"),)

    def __str__(self) -> str:
        return f"{self.car}: {self.because}"


class WinterInvitation(models.Model):
    """A car that was asked into a week: by letter, or in person, and what came back. Kept for good.

    Hours, nights and chance are those it was planned with. After a yes, `visit` is the booking. What was asked by
    mistake is taken back, and no longer counted.
    """

    class How(models.TextChoices):
        """How it was asked."""

        LETTER = "letter", "by letter"
        TELEPHONE = "telephone", "by telephone"
        IN_PERSON = "in_person", "in person"

    class Answer(models.TextChoices):
        """What the owner said."""

        YES = "yes", "yes"
        LATER = "later", "later"
        NO_THANKS = "no_thanks", "no thanks"

    round = models.ForeignKey(
        WinterRound, on_delete=models.PROTECT, related_name="invitations", db_index=False
    )
    car = models.ForeignKey(Car, on_delete=models.PROTECT, related_name="winter_invitations")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="winter_invitations")
    how = models.CharField(max_length=10, choices=How, default=How.LETTER)
    message = models.ForeignKey(
        Message, null=True, blank=True, on_delete=models.PROTECT, related_name="winter_invitations"
    )
    monday = models.DateField()
    work = models.CharField(max_length=12, choices=choices.winter_works)
    hours = models.FloatField()
    nights = models.FloatField()
    chance = models.FloatField()
    promised = models.BooleanField("a look was promised this season", default=False)
    words = models.CharField("why it was asked", max_length=600, blank=True)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    answer = models.CharField(max_length=10, choices=Answer, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answer_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    note = models.CharField(max_length=300, blank=True)
    visit = models.OneToOneField(
        Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="winter_invitation"
    )
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    objects = StandingManager["WinterInvitation"]()
    everything = models.Manager["WinterInvitation"]()
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = ("monday", "pk")
        constraints = (
            models.CheckConstraint(condition=Q(chance__gt=0, chance__lte=1), name="winter_chance_is_a_share"),
            models.CheckConstraint(
                condition=Q(answer="", answered_at__isnull=True)
                | ~Q(answer="") & Q(answered_at__isnull=False),
                name="winter_answer_has_a_time",
            ),
            models.CheckConstraint(
                condition=Q(visit__isnull=True) | Q(answer="yes"), name="winter_visit_after_a_yes"
            ),
        )
        indexes = (models.Index(fields=("round", "monday"), name="winter_invitations_of_week"),)

    def __str__(self) -> str:
        return f"{self.car}, asked for the week of {self.monday:%-d %b %Y}"
