"""The shelf: products, and what the studio held to be true of them from a day on."""

from __future__ import annotations

from typing import Any, ClassVar

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from simple_history.models import HistoricalRecords

from crm.models import choices


class Product(models.Model):
    """Something the studio puts on cars. Its class decides the arithmetic, its lives the numbers."""

    name = models.CharField(max_length=80, unique=True)
    product_class = models.CharField("class", max_length=24, choices=choices.product_classes)
    family = models.CharField("maker's system", max_length=40, blank=True)
    data_sheet = models.URLField("address of the data sheet", blank=True)
    cautions = models.TextField(blank=True, max_length=1000)
    scent_free = models.BooleanField(default=False)
    on_shelf = models.BooleanField(default=True)
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name


def _months() -> Any:
    return models.DecimalField(
        max_digits=5,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0.1), MaxValueValidator(240)],
    )


def _hours() -> Any:
    return models.PositiveIntegerField(null=True, blank=True, validators=[MaxValueValidator(24 * 120)])


def _count() -> Any:
    return models.PositiveIntegerField(default=0)


class Life(models.Model):
    """What the studio holds a product to do, from a day on. Empty columns mean the class's own figures.

    Of two of one day the one with the later key counts. Months are stated by a person, or learned from what was
    seen of the studio's own layers and accepted by a person (`by`); then the row says from how much.
    """

    class Source(models.TextChoices):
        """Where the months come from."""

        STATED = "stated", "stated"
        LEARNED = "learned", "learned from our own cars"

    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="lives", db_index=False)
    since = models.DateField()
    low = _months()
    likely = _months()
    high = _months()
    source = models.CharField(max_length=8, choices=Source, default=Source.STATED)
    from_layers = _count()
    from_cars = _count()
    seen_whole = _count()
    seen_finished = _count()
    seen_between = _count()
    graded_until = models.DateField(null=True, blank=True)
    dry_hours = _hours()
    wash_hours = _hours()
    topper_hours = _hours()
    cure_hours = _hours()
    cold_lengthens = models.BooleanField("cold makes it set more slowly", default=True)
    because = models.CharField("why these figures", max_length=200, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    written_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("-since", "-pk")
        verbose_name_plural = "lives"
        constraints = (
            models.UniqueConstraint(fields=("product", "since", "source"), name="one_life_a_day"),
            models.CheckConstraint(condition=Q(source__in=("stated", "learned")), name="life_source_known"),
            models.CheckConstraint(
                condition=~Q(source="learned")
                | Q(likely__isnull=False, from_layers__gt=0, from_cars__gt=0, graded_until__isnull=False),
                name="learned_life_says_from_what",
            ),
            models.CheckConstraint(
                condition=Q(low__isnull=True, likely__isnull=True, high__isnull=True)
                | Q(low__gt=0, likely__gte=F("low"), high__gte=F("likely")),
                name="life_is_in_order",
            ),
        )

    def __str__(self) -> str:
        return f"{self.product} since {self.since:%-d %b %Y}"
