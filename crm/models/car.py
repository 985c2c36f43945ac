"""Cars, their number plates, how they are kept, and who keeps them."""

from __future__ import annotations

from typing import Any, ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.crypto import get_random_string
from simple_history.models import HistoricalRecords

from crm.care.bodies import Body, surfaces_of_body
from crm.care.surfaces import Surfaces
from crm.models import choices
from crm.models.fields import KeyField, SurfaceSetField
from crm.models.person import Person

REFERENCE_LETTERS = "23456789CFGHJMPQRVWX"
"""Characters that cannot be mistaken for one another and spell nothing."""


def new_reference() -> str:
    """A short public reference for a car: 7 of 20 characters, about 1.3 thousand million of them."""
    return get_random_string(7, REFERENCE_LETTERS)


class Car(models.Model):
    """One car, whatever plates and people come and go."""

    class Status(models.TextChoices):
        """Where the car stands in life; only active and stored cars are written to."""

        ACTIVE = "active", "active"
        STORED = "stored", "in storage"
        SOLD = "sold", "sold"
        SCRAPPED = "scrapped", "scrapped or exported"
        STOLEN = "stolen", "stolen"

    ref = models.CharField("reference", max_length=7, unique=True, default=new_reference, editable=False)
    chassis = models.CharField("chassis number", max_length=20, blank=True)
    make = models.CharField(max_length=40, blank=True)
    model = models.CharField(max_length=60, blank=True)
    year = models.PositiveSmallIntegerField(
        "model year", null=True, blank=True, validators=[MinValueValidator(1886), MaxValueValidator(2100)]
    )
    colour = models.CharField(max_length=40, blank=True)
    paint = models.CharField("paint system", max_length=20, choices=choices.paints, default="unknown")
    paint_past = models.CharField(
        "paint before us", max_length=8, choices=choices.paint_pasts, default="unknown"
    )
    body = models.CharField(max_length=12, choices=choices.bodies, default=Body.HATCHBACK)
    aluminium = SurfaceSetField(default=Surfaces)
    plastic = SurfaceSetField(default=Surfaces)
    circumstances = models.JSONField(default=list, blank=True)
    wash_plan = models.CharField(max_length=16, choices=choices.wash_plans, default="none")
    plan_anchor = models.DateField("wash visits are counted from", null=True, blank=True)
    status = models.CharField(max_length=8, choices=Status, default=Status.ACTIVE)
    do_nots = models.CharField("what not to do on this car", max_length=400, blank=True)
    forecast_stale = models.BooleanField("forecasts rest on former figures", default=False, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    history: ClassVar[Any] = HistoricalRecords(excluded_fields=["forecast_stale"])

    class Meta:
        ordering = ("pk",)
        constraints = (
            models.UniqueConstraint(fields=("chassis",), condition=~Q(chassis=""), name="chassis_once"),
            models.CheckConstraint(
                condition=Q(status__in=("active", "stored", "sold", "scrapped", "stolen")),
                name="car_status_known",
            ),
        )
        indexes = (
            models.Index(fields=("wash_plan",), condition=~Q(wash_plan="none"), name="cars_on_a_plan"),
            # Read by one query, the one that takes the next cars to work out again: see selectors/stale.py.
            models.Index(fields=("id",), condition=Q(forecast_stale=True), name="cars_with_stale_forecasts"),
        )

    def __str__(self) -> str:
        return self.known_as

    @property
    def known_as(self) -> str:
        """Colour and model, as one would say it across the yard: "blue Halden Estate"."""
        return " ".join(part for part in (self.colour.lower(), self.make, self.model) if part) or "car"

    @property
    def surfaces(self) -> Surfaces:
        """Every surface this car can have."""
        return surfaces_of_body(Body(self.body))


class Plate(models.Model):
    """A registration mark that a car carries or carried."""

    car = models.ForeignKey(Car, on_delete=models.PROTECT, related_name="plates")
    mark = models.CharField("as shown", max_length=16)
    normal = models.CharField("normal form", max_length=12)
    since = models.DateField(null=True, blank=True)
    until = models.DateField(null=True, blank=True)
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = (F("until").desc(nulls_first=True), "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("normal",), condition=Q(until__isnull=True), name="plate_on_one_car_at_a_time"
            ),
            models.UniqueConstraint(
                fields=("car",), condition=Q(until__isnull=True), name="one_plate_on_a_car_at_a_time"
            ),
            models.CheckConstraint(condition=~Q(normal=""), name="plate_has_a_mark"),
        )
        indexes = (models.Index(fields=("normal",), name="plate_by_mark"),)

    def __str__(self) -> str:
        return self.mark


class Role(models.Model):
    """What a person is to a car, from when until when."""

    class Part(models.TextChoices):
        """Keeper, payer, driver; letters go to the keeper."""

        KEEPER = "keeper", "keeper"
        PAYER = "payer", "payer"
        DRIVER = "driver", "driver"

    car = models.ForeignKey(Car, on_delete=models.PROTECT, related_name="roles")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="roles")
    part = models.CharField(max_length=8, choices=Part)
    since = models.DateField(null=True, blank=True)
    until = models.DateField(null=True, blank=True)
    ended_by = models.ForeignKey(
        "crm.CarEvent", null=True, blank=True, on_delete=models.PROTECT, related_name="ended_roles"
    )
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = ("part", "pk")
        constraints = (
            models.UniqueConstraint(
                fields=("car",), condition=Q(part="keeper", until__isnull=True), name="one_keeper_at_a_time"
            ),
            models.UniqueConstraint(
                fields=("car", "person", "part"), condition=Q(until__isnull=True), name="role_once_at_a_time"
            ),
        )

    def __str__(self) -> str:
        return f"{self.person}, {self.get_part_display()}"


class Keeping(models.Model):
    """How a car is kept and used from a date on; no answer is null, never a guess."""

    car = models.ForeignKey(Car, on_delete=models.PROTECT, related_name="keepings", db_index=False)
    since = models.DateField()
    parking = models.CharField(max_length=20, choices=choices.parkings, null=True, blank=True)
    km_a_year = models.PositiveIntegerField(null=True, blank=True, validators=[MaxValueValidator(500_000)])
    salted_roads = models.BooleanField(null=True, blank=True)
    wash_summer = models.CharField(max_length=20, choices=choices.washes, null=True, blank=True)
    wash_winter = models.CharField(max_length=20, choices=choices.washes, null=True, blank=True)
    on_plan = models.BooleanField("four or more wash visits a year", default=False)
    stored = models.BooleanField(default=False)
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = ("since",)
        constraints = (models.UniqueConstraint(fields=("car", "since"), name="kept_one_way_at_a_time"),)

    def __str__(self) -> str:
        return f"{self.car} from {self.since:%-d %b %Y}"


class FindKey(models.Model):
    """A key under which a car is found while somebody types; written beside the plate, name or number it is for.

    Only the find screen reads it, by the start of the key.
    """

    kind = models.CharField(max_length=8)
    key = KeyField(max_length=40)
    car = models.ForeignKey(Car, null=True, blank=True, on_delete=models.CASCADE, related_name="find_keys")
    person = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.CASCADE, related_name="find_keys"
    )

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=Q(car__isnull=False, person__isnull=True)
                | Q(car__isnull=True, person__isnull=False),
                name="find_key_is_for_one",
            ),
        )
        indexes = (
            models.Index(
                fields=("kind", "key"),
                opclasses=("varchar_pattern_ops", "varchar_pattern_ops"),
                name="find_by_start",
            ),
        )

    def __str__(self) -> str:
        return f"{self.kind} {self.key}"
