"""People: who keeps, pays for or drives a car, how to reach them, and what they allow."""

from __future__ import annotations

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.crypto import get_random_string
from simple_history.models import HistoricalRecords


def short_secret() -> str:
    """22 characters from 62, which is 131 random bits: for links that are the key themselves."""
    return get_random_string(22)


class Person(models.Model):
    """A private person or a company."""

    class Sort(models.TextChoices):
        """Private people and companies are told apart because the law does."""

        PRIVATE = "private", "private person"
        COMPANY = "company", "company"

    name = models.CharField(max_length=120)
    greeting = models.CharField("how a letter begins", max_length=80, blank=True)
    sort = models.CharField(max_length=8, choices=Sort, default=Sort.PRIVATE)
    note = models.CharField(max_length=400, blank=True)
    deceased = models.BooleanField(default=False)
    moved_away = models.BooleanField(default=False)
    stop_key = models.CharField(max_length=22, default=short_secret, unique=True, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = ("name", "pk")
        verbose_name_plural = "people"

    def __str__(self) -> str:
        return self.name

    @property
    def greeted_as(self) -> str:
        """What stands after "Hello": never empty."""
        return self.greeting or self.name


class Contact(models.Model):
    """One way to reach a person."""

    class Kind(models.TextChoices):
        """Channels."""

        EMAIL = "email", "e-mail"
        PHONE = "phone", "telephone"
        POST = "post", "postal address"

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="contacts", db_index=False)
    kind = models.CharField(max_length=8, choices=Kind)
    value = models.CharField("normal form", max_length=254)
    as_given = models.CharField(max_length=254, blank=True)
    preferred = models.BooleanField(default=False)
    dead_since = models.DateTimeField(null=True, blank=True)
    dead_because = models.CharField(max_length=200, blank=True)
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = ("-preferred", "pk")
        constraints = (
            models.UniqueConstraint(fields=("person", "kind", "value"), name="contact_once_a_person"),
            models.CheckConstraint(condition=~Q(value=""), name="contact_has_a_value"),
        )
        indexes = (models.Index(fields=("kind", "value"), name="contact_by_value"),)

    def __str__(self) -> str:
        return self.as_given or self.value


class Consent(models.Model):
    """One answer to one question, kept for ever; the newest answer counts."""

    class Purpose(models.TextChoices):
        """What the person said yes or no to."""

        LETTERS = "letters", "reminders and offers"
        PHOTOS = "photos", "publishing photos"

    BY_LINK: ClassVar[str] = "the link in a letter"
    """How somebody said no who told nobody: the page behind that link did as they asked."""
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="consents", db_index=False)
    purpose = models.CharField(max_length=8, choices=Purpose)
    channel = models.CharField(max_length=8, choices=Contact.Kind)
    given = models.BooleanField()
    wording = models.CharField(max_length=400)
    how = models.CharField(max_length=120)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ("-at", "-pk")
        indexes = (models.Index(fields=("person", "purpose", "channel", "-at"), name="consent_newest"),)

    def __str__(self) -> str:
        return (
            f"{self.get_purpose_display()} by {self.get_channel_display()}: {'yes' if self.given else 'no'}"
        )


class Suppression(models.Model):
    """A time in which an address gets no letters, at its owner's word: until they say yes again, or for ever.

    Only the hash of the address is kept, so it survives erasure. One that was lifted stays as its history.
    """

    address_hash = models.CharField(max_length=64)
    because = models.CharField("how they said it", max_length=120)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    lifted_at = models.DateTimeField(null=True, blank=True)
    lifted_because = models.CharField("how they said yes again", max_length=120, blank=True)
    lifted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ("at", "pk")
        constraints = (
            models.UniqueConstraint(
                fields=("address_hash",),
                condition=Q(lifted_at__isnull=True),
                name="address_shut_once_at_a_time",
            ),
        )
        indexes = (models.Index(fields=("address_hash",), name="suppressions_of_an_address"),)

    def __str__(self) -> str:
        return f"{self.address_hash[:8]}: {self.because}"


class Pause(models.Model):
    """A time in which a person gets no letters: an open complaint, a dispute, a bereavement."""

    class Why(models.TextChoices):
        """Reasons that the studio sees; a bereavement is shown without words."""

        COMPLAINT = "complaint", "open complaint"
        DISPUTE = "dispute", "dispute over a bill"
        BEREAVEMENT = "bereavement", "paused"
        ASKED = "asked", "asked for a rest"

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="pauses")
    why = models.CharField(max_length=12, choices=Why)
    since = models.DateField()
    until = models.DateField(null=True, blank=True)
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = ("-since",)
        constraints = (
            models.CheckConstraint(
                condition=Q(until__isnull=True) | Q(until__gte=F("since")), name="pause_ends_after_it_starts"
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_why_display()} since {self.since:%-d %b %Y}"
