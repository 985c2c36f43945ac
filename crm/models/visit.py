"""Visits: one stay of a car, what was done to which surfaces, and how water behaved on them."""

from __future__ import annotations

from typing import Any, ClassVar

from django.conf import settings
from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from crm.models import choices
from crm.models.car import Car
from crm.models.fields import SurfaceSetField
from crm.models.standing import StandingManager
from crm.models.studio import Branch


class Visit(models.Model):
    """One stay of a car, from booked to handed over."""

    class State(models.TextChoices):
        """Where the stay stands."""

        BOOKED = "booked", "booked"
        IN_BAY = "in_bay", "in the bay"
        READY = "ready", "ready to go"
        HANDED_OVER = "handed_over", "handed over"
        CANCELLED = "cancelled", "cancelled"

    class Purpose(models.TextChoices):
        """What the car comes for."""

        WASH = "wash", "maintenance wash"
        DETAIL = "detail", "maintenance detail"
        WINTER = "winter", "winter re-protection"
        SPRING = "spring", "spring decontamination"
        CORRECTION = "correction", "correction"
        COATING = "coating", "correction and coating"
        INSPECTION = "inspection", "inspection"

    car = models.ForeignKey(Car, on_delete=models.PROTECT, related_name="visits", db_index=False)
    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="visits")
    purpose = models.CharField(max_length=12, choices=Purpose, default=Purpose.DETAIL)
    state = models.CharField(max_length=12, choices=State, default=State.BOOKED)
    planned_in = models.DateTimeField()
    planned_out = models.DateTimeField(null=True, blank=True)
    arrived_at = models.DateTimeField(null=True, blank=True)
    ready_at = models.DateTimeField(null=True, blank=True)
    handed_over_at = models.DateTimeField(null=True, blank=True)
    handed_over_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    odometer_km = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(3_000_000)]
    )
    hours = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    scope = models.CharField("what was agreed", max_length=600, blank=True)
    left_out = models.CharField("what was left out", max_length=600, blank=True)
    arrival_note = models.CharField("condition on arrival", max_length=1000, blank=True)
    acknowledged_at = models.DateTimeField(null=True, blank=True)
    promise = models.CharField("promise, word for word", max_length=600, blank=True)
    promise_months = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(240)]
    )
    promise_reason = models.CharField("why it stands above our own expectation", max_length=300, blank=True)
    bay_min_c = models.DecimalField(
        "coldest in the bay overnight, °C", max_digits=4, decimal_places=1, null=True, blank=True
    )
    came_from = models.CharField("where this row came from", max_length=64, blank=True, editable=False)
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = ("-planned_in", "-pk")
        constraints = (
            models.CheckConstraint(
                condition=Q(state__in=("booked", "in_bay", "ready", "handed_over", "cancelled")),
                name="visit_state_known",
            ),
            models.CheckConstraint(
                condition=~Q(state="handed_over") | Q(handed_over_at__isnull=False),
                name="handed_over_has_a_time",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=("in_bay", "ready", "handed_over")) | Q(arrived_at__isnull=False),
                name="arrived_has_a_time",
            ),
            models.UniqueConstraint(
                fields=("came_from",), condition=~Q(came_from=""), name="brought_in_once"
            ),
            models.UniqueConstraint(
                fields=("car",), condition=Q(state__in=("in_bay", "ready")), name="in_the_bay_once_at_a_time"
            ),
        )
        indexes = (
            models.Index(fields=("car", "-planned_in"), name="visits_of_a_car"),
            models.Index(
                fields=("state", "planned_in"),
                condition=Q(state__in=("booked", "in_bay", "ready")),
                name="visits_not_over",
            ),
        )

    def __str__(self) -> str:
        return f"{self.car}, {self.get_purpose_display()}"


class Recorded(models.Model):
    """Who wrote a fact down, when it was true, and when it was written."""

    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    written_at = models.DateTimeField()
    late = models.BooleanField("entered later", default=False)
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_because = models.CharField(max_length=200, blank=True)

    class Meta:
        abstract = True


class Step(Recorded):
    """A process on surfaces."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="steps")
    process = models.CharField(max_length=20, choices=choices.processes)
    weight = models.CharField(
        "how hard it was cut", max_length=8, choices=choices.cut_weights, null=True, blank=True
    )
    surfaces = SurfaceSetField()
    over_warnings = models.CharField("why it was done all the same", max_length=400, blank=True)
    note = models.CharField(max_length=300, blank=True)
    objects = StandingManager["Step"]()
    everything = models.Manager["Step"]()
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = ("at", "pk")
        constraints = (
            models.CheckConstraint(condition=Q(surfaces__gt=0), name="step_is_on_something"),
            models.CheckConstraint(
                condition=Q(weight__isnull=True) | Q(process="cut"), name="only_a_cut_has_a_weight"
            ),
        )

    def __str__(self) -> str:
        return self.get_process_display()


class Grade(Recorded):
    """How water behaved on surfaces, before or after decontamination."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="grades")
    surfaces = SurfaceSetField()
    grade = models.PositiveSmallIntegerField()
    moment = models.CharField(max_length=12, choices=choices.moments)
    note = models.CharField(max_length=200, blank=True)
    objects = StandingManager["Grade"]()
    everything = models.Manager["Grade"]()
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = ("at", "pk")
        constraints = (
            models.CheckConstraint(condition=Q(grade__lte=4), name="grade_is_0_to_4"),
            models.CheckConstraint(condition=Q(surfaces__gt=0), name="grade_is_of_something"),
            models.CheckConstraint(
                condition=Q(moment__in=("before_decon", "after_decon")), name="grade_moment_known"
            ),
        )

    def __str__(self) -> str:
        return f"{self.grade} {self.get_moment_display()}"


class LeftForNextTime(models.Model):
    """Something seen or left undone, to be read when the car comes back."""

    car = models.ForeignKey(Car, on_delete=models.PROTECT, related_name="left_for_next_time")
    visit = models.ForeignKey(Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="left")
    text = models.CharField(max_length=300)
    surfaces = SurfaceSetField(default=0)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    done_at = models.DateTimeField(null=True, blank=True)
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = ("-at", "-pk")
        verbose_name_plural = "left for next time"

    def __str__(self) -> str:
        return self.text


class CarEvent(models.Model):
    """Something that happened to a car away from the bench, and how sure we are of it."""

    class Kind(models.TextChoices):
        """What happened."""

        RESPRAY = "respray", "resprayed"
        PANEL_REPLACED = "panel_replaced", "panel replaced"
        GLASS_REPLACED = "glass_replaced", "glass replaced"
        WHEEL_REFURBISH = "wheel_refurbish", "wheels refurbished"
        TYRES_REPLACED = "tyres_replaced", "tyres replaced"
        RETRIM = "retrim", "re-trimmed inside"
        LAMP_REPLACED = "lamp_replaced", "lamp replaced"
        FILM_REMOVED = "film_removed", "film removed"
        POLISHED_ELSEWHERE = "fine_polish", "polished elsewhere"
        TUNNEL_WASH = "tunnel_wash", "went through a brush tunnel"
        TOUCH_FREE_WASH = "touch_free_wash", "went through a touch-free wash"
        STRIP_WASH = "strip_wash", "strip-washed elsewhere"
        GOT_WET = "got_wet", "got wet before it should"
        WHEELS_ONE_ON = "wheels_one_on", "first set of wheels fitted"
        WHEELS_TWO_ON = "wheels_two_on", "second set of wheels fitted"
        SOLD = "sold", "sold"
        SCRAPPED = "scrapped", "scrapped or exported"
        STOLEN = "stolen", "stolen"
        OTHER = "other", "something else"

    class Certainty(models.TextChoices):
        """How the studio knows."""

        SEEN = "seen", "we saw it"
        TOLD = "told", "we were told"
        SUPPOSED = "supposed", "we suppose so"

    car = models.ForeignKey(Car, on_delete=models.PROTECT, related_name="events", db_index=False)
    kind = models.CharField(max_length=16, choices=Kind)
    on = models.DateField()
    surfaces = SurfaceSetField(default=0)
    certainty = models.CharField(max_length=8, choices=Certainty, default=Certainty.TOLD)
    baked = models.BooleanField("paint was baked", null=True, blank=True)
    note = models.CharField("who says so, who did it", max_length=300, blank=True)
    written_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_because = models.CharField(max_length=200, blank=True)
    objects = StandingManager["CarEvent"]()
    everything = models.Manager["CarEvent"]()
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = ("-on", "-pk")
        indexes = (models.Index(fields=("car", "-on"), name="events_of_a_car"),)

    def __str__(self) -> str:
        return f"{self.get_kind_display()} on {self.on:%-d %b %Y}"
