"""Layers, how they ended, and what is forecast for them."""

from __future__ import annotations

from typing import Any, ClassVar

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.timezone import localtime
from simple_history.models import HistoricalRecords

from crm.models import choices
from crm.models.car import Car
from crm.models.fields import SurfaceSetField
from crm.models.product import Product
from crm.models.standing import StandingManager
from crm.models.visit import CarEvent, Step, Visit


class Layer(models.Model):
    """One product laid on a set of surfaces at one time in known conditions."""

    car = models.ForeignKey(Car, on_delete=models.PROTECT, related_name="layers", db_index=False)
    visit = models.ForeignKey(Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="layers")
    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="layers", db_index=False)
    surfaces = SurfaceSetField()
    coats = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(20)]
    )
    coat_gap_minutes = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(20_160)]
    )
    batch = models.CharField("batch or lot", max_length=40, blank=True)
    laid_at = models.DateTimeField()
    prep = models.CharField(max_length=16, choices=choices.preps, null=True, blank=True)
    panel_wiped = models.BooleanField(null=True, blank=True)
    air_c = models.DecimalField("air, °C", max_digits=4, decimal_places=1, null=True, blank=True)
    surface_c = models.DecimalField("panel, °C", max_digits=4, decimal_places=1, null=True, blank=True)
    humidity = models.DecimalField(
        "humidity, %",
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
    )
    bay_min_c = models.DecimalField(
        "coldest while it set, °C", max_digits=4, decimal_places=1, null=True, blank=True
    )
    flash_seconds = models.PositiveIntegerField(null=True, blank=True, validators=[MaxValueValidator(86_400)])
    lamp = models.CharField("lamp: panels, minutes, panel temperature", max_length=120, blank=True)
    air = models.CharField("conditions against the product's window", max_length=8, null=True, blank=True)
    drive_from = models.DateTimeField()
    dry_until = models.DateTimeField()
    wash_from = models.DateTimeField()
    topper_from = models.DateTimeField(null=True, blank=True)
    cured_at = models.DateTimeField()
    got_wet_at = models.DateTimeField("got wet too early", null=True, blank=True)
    over_warnings = models.CharField("why it was laid all the same", max_length=400, blank=True)
    note = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    written_at = models.DateTimeField()
    late = models.BooleanField("entered later", default=False)
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_because = models.CharField(max_length=200, blank=True)
    objects = StandingManager["Layer"]()
    everything = models.Manager["Layer"]()
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = ("-laid_at", "-pk")
        constraints = (
            models.CheckConstraint(condition=Q(surfaces__gt=0), name="layer_is_on_something"),
            models.CheckConstraint(condition=Q(coats__gte=1), name="layer_has_a_coat"),
            models.CheckConstraint(
                condition=Q(
                    dry_until__gte=F("laid_at"), wash_from__gte=F("laid_at"), cured_at__gte=F("laid_at")
                ),
                name="clocks_run_forward",
            ),
        )
        indexes = (
            models.Index(fields=("car", "-laid_at"), name="layers_of_a_car"),
            models.Index(fields=("batch",), condition=~Q(batch=""), name="layers_by_batch"),
            models.Index(fields=("product", "car"), name="layers_of_a_product"),
        )

    def __str__(self) -> str:
        return f"{self.product} of {localtime(self.laid_at):%-d %b %Y}"


class Ending(models.Model):
    """Surfaces of a layer that stopped being protected by it: when, why, and what caused it."""

    layer = models.ForeignKey(Layer, on_delete=models.PROTECT, related_name="endings")
    surfaces = SurfaceSetField()
    at = models.DateTimeField()
    why = models.CharField(max_length=16, choices=choices.end_reasons)
    step = models.ForeignKey(Step, null=True, blank=True, on_delete=models.PROTECT, related_name="endings")
    event = models.ForeignKey(
        CarEvent, null=True, blank=True, on_delete=models.PROTECT, related_name="endings"
    )
    next_layer = models.ForeignKey(
        Layer, null=True, blank=True, on_delete=models.PROTECT, related_name="endings_caused"
    )
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    written_at = models.DateTimeField()
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_because = models.CharField(max_length=200, blank=True)
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = ("at", "pk")
        constraints = (models.CheckConstraint(condition=Q(surfaces__gt=0), name="ending_is_of_something"),)

    def __str__(self) -> str:
        return f"{self.get_why_display()} on {localtime(self.at):%-d %b %Y}"


class Forecast(models.Model):
    """When a layer on a zone is expected to be thin: a window with its reasons.

    Written when an input changes, never because a day passed. `due_on` is the low date, and is null where the
    layer has no live surface left in the zone or no forecast can be made; the list of what lapses reads it. Where a
    grade has moved the window, `figures_low` and its neighbours keep that of the figures alone.
    """

    layer = models.ForeignKey(Layer, on_delete=models.CASCADE, related_name="forecasts", db_index=False)
    car = models.ForeignKey(Car, on_delete=models.CASCADE, related_name="forecasts", db_index=False)
    zone = models.CharField(max_length=12)
    live = SurfaceSetField()
    low = models.DateField(null=True, blank=True)
    likely = models.DateField(null=True, blank=True)
    high = models.DateField(null=True, blank=True)
    figures_low = models.DateField(null=True, blank=True)
    figures_likely = models.DateField(null=True, blank=True)
    figures_high = models.DateField(null=True, blank=True)
    due_on = models.DateField(null=True, blank=True)
    reasons = models.JSONField(default=list)
    inputs = models.CharField("hash of the inputs", max_length=64)
    made_at = models.DateTimeField()

    class Meta:
        ordering = ("low", "pk")
        constraints = (
            models.UniqueConstraint(fields=("layer", "zone"), name="one_forecast_a_layer_and_zone"),
            models.CheckConstraint(
                condition=Q(low__isnull=True, likely__isnull=True, high__isnull=True)
                | Q(likely__gte=F("low"), high__gte=F("likely")),
                name="window_is_in_order",
            ),
        )
        indexes = (
            models.Index(fields=("car",), name="forecasts_of_a_car"),
            # Read by one query, the list of what is due: see selectors/due.py.
            models.Index(fields=("due_on",), condition=Q(due_on__isnull=False), name="forecasts_due"),
        )

    def __str__(self) -> str:
        return f"{self.layer}, {self.zone}"
