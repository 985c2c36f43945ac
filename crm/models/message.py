"""The post: every message to an owner, from the moment it is planned."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.timezone import localtime

from crm.models.car import Car
from crm.models.person import Contact, Person
from crm.models.visit import Visit


class Sheet(models.Model):
    """The exact advice given at one hand-over: words, version of the texts, and the clocks they were given with."""

    visit = models.OneToOneField(Visit, on_delete=models.PROTECT, related_name="sheet")
    text_version = models.CharField(max_length=20)
    content = models.JSONField()
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"Aftercare sheet of {localtime(self.made_at):%-d %b %Y}"


class Message(models.Model):
    """One message to one person. A row first, then an action."""

    class Kind(models.TextChoices):
        """What it is for."""

        AFTERCARE = "aftercare", "aftercare note"
        WASH_NOW = "wash_now", "you may wash it now"
        WASH_DUE = "wash_due", "maintenance wash"
        TOP_UP = "top_up", "top-up reminder"
        WINTER = "winter", "winter prompt"

    class State(models.TextChoices):
        """Where it stands."""

        WAITING = "waiting", "waiting"
        HELD = "held", "held"
        SENDING = "sending", "being sent"
        SENT = "sent", "sent"
        FAILED = "failed", "failed"
        MISSED = "missed", "too late to send"
        CANCELLED = "cancelled", "cancelled"
        UNCERTAIN = "uncertain", "uncertain"

    SERVICE_KINDS = (Kind.AFTERCARE, Kind.WASH_NOW)

    kind = models.CharField(max_length=10, choices=Kind)
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="messages", db_index=False)
    visit = models.ForeignKey(Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="messages")
    sheet = models.ForeignKey(Sheet, null=True, blank=True, on_delete=models.PROTECT, related_name="messages")
    contact = models.ForeignKey(
        Contact, null=True, blank=True, on_delete=models.SET_NULL, related_name="messages"
    )
    address = models.CharField("address it went to", max_length=254, blank=True)
    subject = models.CharField(max_length=200, blank=True)
    text = models.TextField(blank=True)
    html = models.TextField(blank=True)
    text_version = models.CharField(max_length=20, blank=True)
    not_before = models.DateTimeField()
    at_once_until = models.DateTimeField("may leave outside sending hours until", null=True, blank=True)
    expires_at = models.DateTimeField()
    attempts = models.PositiveSmallIntegerField(default=0)
    next_try_at = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    because = models.CharField("why it stands as it does", max_length=300, blank=True)
    message_id = models.CharField(max_length=120, unique=True)
    created_at = models.DateTimeField()
    touched_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ("-not_before", "-pk")
        constraints = (
            models.CheckConstraint(
                condition=~Q(state="sent") | Q(sent_at__isnull=False), name="sent_has_a_time"
            ),
            models.CheckConstraint(
                condition=~Q(state="sending") | Q(claimed_at__isnull=False), name="sending_was_claimed"
            ),
            models.CheckConstraint(
                condition=Q(
                    state__in=(
                        "waiting",
                        "held",
                        "sending",
                        "sent",
                        "failed",
                        "missed",
                        "cancelled",
                        "uncertain",
                    )
                ),
                name="message_state_known",
            ),
        )
        indexes = (
            # Read by one query, the tick that claims what is due: see post/claim.py.
            models.Index(fields=("next_try_at",), condition=Q(state="waiting"), name="post_to_claim"),
            models.Index(fields=("claimed_at",), condition=Q(state="sending"), name="post_stuck"),
            models.Index(fields=("person", "-sent_at"), name="post_of_a_person"),
            models.Index(fields=("state", "-not_before"), name="post_by_state"),
        )

    def __str__(self) -> str:
        return f"{self.get_kind_display()} to {self.person}"

    @property
    def is_letter(self) -> bool:
        """Whether it is a letter (marketing) rather than a note (service)."""
        return self.kind not in self.SERVICE_KINDS


class Matter(models.Model):
    """One thing that a message is about. Its key is written once, so the same thing is never written about twice."""

    message = models.ForeignKey(Message, on_delete=models.PROTECT, related_name="matters")
    kind = models.CharField(max_length=10, choices=Message.Kind)
    car = models.ForeignKey(Car, on_delete=models.PROTECT, related_name="matters")
    key = models.CharField(max_length=120, unique=True)
    facts = models.JSONField("what it says, as data", default=dict)
    dropped_because = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ("pk",)
        constraints = (models.CheckConstraint(condition=~Q(key=""), name="matter_has_a_key"),)

    def __str__(self) -> str:
        return f"{self.get_kind_display()} for {self.car}"


class PlanDay(models.Model):
    """A day on which letters were looked for, so that the whole stock of cars is gone through once a day."""

    on = models.DateField("day in the studio", primary_key=True)
    begun_at = models.DateTimeField()
    done_at = models.DateTimeField(null=True, blank=True)
    planned = models.PositiveIntegerField("matters written down", default=0)

    def __str__(self) -> str:
        return f"Letters of {self.on:%-d %b %Y}"
