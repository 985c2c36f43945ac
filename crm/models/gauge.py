"""Paint thickness and correction: spots with their readings, and what a correction achieved by eye."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.db.models import BigIntegerField, F, Q
from django.db.models.expressions import Combinable, CombinedExpression
from django.db.models.functions import Cast
from django.db.models.lookups import Exact
from simple_history.models import HistoricalRecords

from crm.care.paint_terms import Light
from crm.care.surfaces import Surface
from crm.models import choices
from crm.models.fields import SurfaceSetField
from crm.models.standing import StandingManager
from crm.models.visit import Recorded, Visit

_BITS = Cast("surfaces", BigIntegerField())
_WITHOUT_THE_LOWEST = CombinedExpression(_BITS, Combinable.BITAND, _BITS - 1)


class GaugeSpot(Recorded):
    """A place on one panel that was measured with the paint gauge: readings taken within about 4 cm.

    `label` is its number on the sketch of the panel, by which it is found again. `surfaces` holds exactly one.
    """

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="gauge_spots")
    surfaces = SurfaceSetField("panel")
    label = models.CharField("number of the spot", max_length=8)
    place = models.CharField("where on the panel", max_length=8, choices=choices.spot_places, default="flat")
    film = models.BooleanField("film lies on it", default=False)
    gauge = models.CharField("which gauge", max_length=40, blank=True)
    finish = models.CharField(
        "what the paint is", max_length=20, choices=choices.finishes, null=True, blank=True
    )
    objects = StandingManager["GaugeSpot"]()
    everything = models.Manager["GaugeSpot"]()
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = ("at", "pk")
        constraints = (
            models.CheckConstraint(
                condition=Q(Exact(_WITHOUT_THE_LOWEST, 0), surfaces__gt=0), name="spot_is_on_one_panel"
            ),
            models.CheckConstraint(condition=~Q(label=""), name="spot_has_a_number"),
        )

    def __str__(self) -> str:
        return f"spot {self.label}"

    @property
    def surface(self) -> Surface:
        """The panel it is on, or the lower third of it."""
        return next(iter(self.surfaces))


class GaugeReading(models.Model):
    """One value of the gauge, µm. It is written with its spot and never changed: a wrong spot is taken back.

    Where nothing can be measured the mode says so and there is no figure: plastic is never 0.
    """

    spot = models.ForeignKey(GaugeSpot, on_delete=models.PROTECT, related_name="readings", db_index=False)
    position = models.PositiveSmallIntegerField()
    um = models.DecimalField("µm", max_digits=5, decimal_places=1, null=True, blank=True)
    mode = models.CharField(max_length=16, choices=choices.gauge_modes)

    class Meta:
        ordering = ("position", "pk")
        constraints = (
            models.UniqueConstraint(fields=("spot", "position"), name="reading_once_in_its_place"),
            models.CheckConstraint(
                condition=Q(mode="not_measurable", um__isnull=True)
                | Q(~Q(mode="not_measurable"), um__isnull=False, um__gt=0, um__lte=5000),
                name="reading_is_a_thickness_or_none",
            ),
        )

    def __str__(self) -> str:
        return self.get_mode_display() if self.um is None else f"{self.um} µm"


class CorrectionNote(Recorded):
    """What a correction took away, as a share of the marks from 0 to 1: by eye, under named lights, no promise."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="corrections")
    surfaces = SurfaceSetField()
    low = models.DecimalField("at least", max_digits=3, decimal_places=2)
    high = models.DecimalField("at most", max_digits=3, decimal_places=2)
    lights = models.CharField("seen under, words with a space between", max_length=60)
    method = models.CharField("how it was done", max_length=200)
    wiped = models.BooleanField("looked at after panel wipe", null=True, blank=True)
    stages = models.CharField(max_length=12, choices=choices.stages, null=True, blank=True)
    objects = StandingManager["CorrectionNote"]()
    everything = models.Manager["CorrectionNote"]()
    history: ClassVar[Any] = HistoricalRecords()

    class Meta:
        ordering = ("at", "pk")
        constraints = (
            models.CheckConstraint(condition=Q(surfaces__gt=0), name="correction_is_of_something"),
            models.CheckConstraint(
                condition=Q(low__gte=0, high__lt=1, low__lte=F("high")), name="correction_is_a_share"
            ),
            models.CheckConstraint(condition=~Q(lights="") & ~Q(method=""), name="correction_says_how_seen"),
        )

    def __str__(self) -> str:
        return "correction"

    @property
    def seen_under(self) -> frozenset[Light]:
        """The lights."""
        return frozenset(Light(word) for word in self.lights.split())
