"""Forms of paint thickness and correction: a spot with its readings, and what a correction achieved."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django import forms

from crm.care.bodies import Body
from crm.care.paint_terms import (
    FINISH_NAMES,
    LIGHT_NAMES,
    MODE_NAMES,
    PLACE_NAMES,
    STAGE_NAMES,
    Finish,
    GaugeMode,
    Light,
    SpotPlace,
    Stages,
)
from crm.care.panels import panels_in_order, whole_panel
from crm.care.surfaces import Surface
from crm.care.thickness import MICROMETRES_IN_A_MIL
from crm.services.errors import Refused
from crm.services.gauge import MOST_READINGS, NewCorrection, NewSpot
from crm.web.studio.forms.bay_fields import ReadingField, WholeField
from crm.web.studio.forms.desk_fields import answered, chips, yes_no
from crm.web.studio.forms.entry import EntryForm, OnSurfaces, text_field

AT_ONCE = 3
"""Readings that make a spot; the boxes for more are folded away."""
UNITS = {"um": "µm", "mil": "mil, thousandths of an inch"}
_A_HUNDREDTH = Decimal("0.01")


class GaugeReadingField(ReadingField):
    """What a gauge shows, to two places: mil are read that finely."""

    places = _A_HUNDREDTH


class SpotForm(EntryForm):
    """One spot of one panel: up to nine readings, and what they were taken with."""

    label = text_field("Number of the spot", 8, required=True)
    mode = chips("What lies under the paint here", MODE_NAMES, required=True)
    lower = forms.BooleanField(label="In the lower third", required=False)
    place = chips("Where on the panel", PLACE_NAMES, initial=SpotPlace.FLAT.value)
    film = forms.BooleanField(label="Film or a wrap lies on it", required=False)
    finish = chips("What the paint is, looked at closely", FINISH_NAMES, unknown="not looked at")
    gauge = text_field("Which gauge", 40, help_text="Only where the studio has more than one.")
    unit = chips("The gauge shows", UNITS, initial="um")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order = panels_in_order(Body(self.visit.car.body))
        self.fields["panel"] = forms.ChoiceField(
            label="Panel",
            choices=[(panel.key, panel.key) for panel in self.order],
            widget=forms.HiddenInput,
            error_messages={"required": "Choose the panel.", "invalid_choice": "Choose one of these panels."},
        )
        for number in range(1, MOST_READINGS + 1):
            self.fields[f"um_{number}"] = GaugeReadingField(
                low=0, high=5000, unit=" µm", label=f"Reading {number}"
            )
        self.fields["label"].widget.attrs |= {"inputmode": "numeric"}

    @property
    def panel(self) -> Surface | None:
        """The panel that is chosen; None where it is not one of this car's."""
        key = str(self["panel"].value() or "")
        return next((panel for panel in self.order if panel.key == key), None)

    @property
    def has_lower(self) -> bool:
        """Whether the chosen panel has a lower third of its own."""
        return self.panel is not None and len(whole_panel(self.panel)) > 1

    @property
    def first(self) -> list[forms.BoundField]:
        """The boxes that are always there."""
        return [self[f"um_{number}"] for number in range(1, AT_ONCE + 1)]

    @property
    def more(self) -> list[forms.BoundField]:
        """The boxes for further readings."""
        return [self[f"um_{number}"] for number in range(AT_ONCE + 1, MOST_READINGS + 1)]

    @property
    def more_said(self) -> bool:
        """Whether any of the further boxes is filled in or wrong."""
        return any(box.value() or box.errors for box in self.more)

    @property
    def details_said(self) -> bool:
        """Whether anything about the spot is out of the ordinary."""
        folded = ("place", "film", "finish", "gauge", "unit")
        usual = {"place": ("", None, "flat"), "unit": ("", None, "um"), "gauge": (self.initial.get("gauge"),)}
        return any(
            self[name].errors or self[name].value() not in usual.get(name, ("", None, False))
            for name in folded
        )

    def spot(self, now: datetime) -> NewSpot:
        """What was measured."""
        data = self.cleaned_data
        panel = Surface[data["panel"].upper()]
        lower = [surface for surface in whole_panel(panel) if surface is not panel] if data["lower"] else []
        return NewSpot(
            surface=lower[0] if lower else panel,
            label=data["label"],
            values=self._values(),
            mode=GaugeMode(data["mode"]),
            at=self.moment(now),
            place=SpotPlace(data["place"] or SpotPlace.FLAT),
            film=data["film"],
            gauge=data["gauge"],
            finish=Finish(data["finish"]) if data["finish"] else None,
        )

    def _values(self) -> tuple[Decimal, ...]:
        read = (self.cleaned_data.get(f"um_{number}") for number in range(1, MOST_READINGS + 1))
        factor = Decimal(str(MICROMETRES_IN_A_MIL)) if self.cleaned_data["unit"] == "mil" else Decimal(1)
        return tuple(value * factor for value in read if value is not None)

    def take(self, refused: Refused) -> None:
        """A sentence about the readings stands beside the first of them."""
        if refused.field == "values":
            refused = Refused(refused.sentence, field="um_1")
        super().take(refused)


class CorrectionForm(OnSurfaces, EntryForm):
    """What a correction achieved, by eye."""

    low = WholeField(low=0, high=100, label="At least, %", required=True)
    high = WholeField(low=0, high=100, label="At most, %", help_text="Empty is the same.")
    lights = forms.MultipleChoiceField(
        label="Seen under",
        choices=[(light.value, words) for light, words in LIGHT_NAMES.items()],
        widget=forms.CheckboxSelectMultiple,
        error_messages={
            "required": "Say which light it was seen under: marks that hide in one show in another.",
            "invalid_choice": "Choose among these.",
        },
    )
    wiped = yes_no("After panel wipe", unknown="not recorded")
    stages = chips("How many stages it took", STAGE_NAMES, unknown="not said")
    method = text_field(
        "How it was done",
        200,
        rows=2,
        required=True,
        help_text="Machine, pad, polish, passes: so that it can be done again.",
    )

    def correction(self, now: datetime) -> NewCorrection:
        """What was seen."""
        data = self.cleaned_data
        high = data["low"] if data["high"] is None else data["high"]
        return NewCorrection(
            surfaces=data["surfaces"],
            low=Decimal(data["low"]) / 100,
            high=Decimal(high) / 100,
            lights=frozenset(Light(value) for value in data["lights"]),
            method=data["method"],
            at=self.moment(now),
            wiped=answered(data["wiped"]),
            stages=Stages(data["stages"]) if data["stages"] else None,
        )
