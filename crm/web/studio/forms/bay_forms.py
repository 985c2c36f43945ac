"""Forms of the bench: water grades, processes, layers."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Any

from django import forms

from crm.care.bodies import Body
from crm.care.names import GRADE_WORDS, MOMENT_NAMES, PREP_NAMES, PROCESS_NAMES
from crm.care.paint_terms import WEIGHT_NAMES, CutWeight
from crm.care.surfaces import NOTHING, Surfaces
from crm.care.terms import Moment, Prep, Process, WaterGrade
from crm.models import Product
from crm.selectors.visit_page import spots_of
from crm.services.bench import NewLayer
from crm.services.polishing import Polishing
from crm.web.studio.forms.bay_fields import ReadingField, WholeField
from crm.web.studio.forms.desk_fields import chips
from crm.web.studio.forms.entry import EntryForm, OnSurfaces, text_field

STAGES: tuple[tuple[str, tuple[Process, ...]], ...] = (
    ("Wash", (Process.WHEELS_CLEANED, Process.PRE_WASH_MILD, Process.PRE_WASH_STRONG, Process.CONTACT_WASH)),
    (
        "Decontaminate",
        (
            Process.IRON_REMOVER,
            Process.TAR_REMOVER,
            Process.MINERAL_REMOVER,
            Process.CLAY,
            Process.STRIP_WASH,
        ),
    ),
    ("Correct", (Process.FINE_POLISH, Process.ONE_STEP_POLISH, Process.CUT, Process.SANDING)),
    ("Prepare and cure", (Process.PANEL_WIPE, Process.LAMP_CURE, Process.FILM_REMOVED)),
    ("Inside", (Process.INTERIOR_CLEAN, Process.LEATHER_CLEAN, Process.FABRIC_CLEAN)),
)
"""What is done at the bench, in the order of a visit."""

GRADES = tuple((grade.value, GRADE_WORDS[grade]) for grade in sorted(WaterGrade, reverse=True))
"""The five grades, best first, in words."""


class GradeForm(EntryForm):
    """How water behaves on the spots that were looked at: choose the spots, then press the grade."""

    moment_of = forms.ChoiceField(
        label="Graded",
        choices=[(moment.value, MOMENT_NAMES[moment]) for moment in Moment],
        widget=forms.RadioSelect,
    )
    spots = forms.MultipleChoiceField(
        label="Where",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose where the water was looked at."},
    )
    grade = forms.TypedChoiceField(
        label="How water behaves",
        choices=GRADES,
        coerce=int,
        error_messages={"required": "Press the grade that fits, 4 to 0."},
    )
    grades = GRADES

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.known = spots_of(Body(self.visit.car.body))
        field = self.fields["spots"]
        assert isinstance(field, forms.MultipleChoiceField)  # noqa: S101
        field.choices = [(key, words) for key, (words, _) in self.known.items()]

    def surfaces(self) -> list[tuple[str, Surfaces]]:
        """The chosen spots: words and surfaces."""
        return [self.known[key] for key in self.cleaned_data["spots"]]


class StepForm(OnSurfaces, EntryForm):
    """One process or several, on surfaces."""

    processes = forms.MultipleChoiceField(
        label="What was done",
        choices=[
            (title, [(process.value, PROCESS_NAMES[process]) for process in stage]) for title, stage in STAGES
        ],
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose what was done."},
    )
    weight = chips("How hard it was cut", WEIGHT_NAMES, unknown="not said")
    note = text_field("Note", 300)
    over_warnings = text_field("It was done all the same, because", 400, rows=2)

    def stages(self) -> list[tuple[str, list[tuple[str, str, bool]]]]:
        """The chips by stage: value, words, whether chosen."""
        chosen = {str(value) for value in self["processes"].value() or ()}
        return [
            (title, [(process.value, PROCESS_NAMES[process], process.value in chosen) for process in stage])
            for title, stage in STAGES
        ]

    def done(self) -> list[Process]:
        """What was done, in the order in which it is done."""
        chosen = set(self.cleaned_data["processes"])
        return [process for _, stage in STAGES for process in stage if process.value in chosen]

    def polishing(self, process: Process) -> Polishing:
        """What belongs to a polish alone; the weight goes with the cut."""
        weight = self.cleaned_data["weight"] if process is Process.CUT else ""
        return Polishing(
            weight=CutWeight(weight) if weight else None, over_warnings=self.cleaned_data["over_warnings"]
        )


class LayerForm(OnSurfaces, EntryForm):
    """One product on surfaces, in the conditions that were measured."""

    product = forms.ModelChoiceField(
        Product.objects.filter(on_shelf=True),
        label="Product",
        widget=forms.RadioSelect,
        empty_label=None,
        error_messages={
            "required": "Choose the product.",
            "invalid_choice": "That product is not on the shelf. Choose another.",
        },
    )
    product_q = text_field("Look for a product", 80)
    coats = WholeField(low=1, high=20, label="Coats", initial=1)
    coat_gap_minutes = WholeField(low=0, high=20_160, label="Minutes between coats")
    batch = text_field("Batch", 40)
    prep = forms.ChoiceField(
        label="Prepared",
        required=False,
        widget=forms.RadioSelect,
        choices=[(prep.value, PREP_NAMES[prep]) for prep in Prep],
    )
    panel_wiped = forms.ChoiceField(
        label="Panel wipe",
        required=False,
        widget=forms.RadioSelect,
        choices=[("yes", "wiped"), ("no", "not wiped")],
    )
    air_c = ReadingField(low=-40, high=55, unit=" °C", label="Air, °C")
    surface_c = ReadingField(low=-40, high=95, unit=" °C", label="Panel, °C")
    humidity = ReadingField(low=1, high=100, unit=" %", label="Humidity, %")
    bay_min_c = ReadingField(low=-40, high=45, unit=" °C", label="Coldest in the bay while it sets, °C")
    flash_seconds = WholeField(low=0, high=86_400, label="Flash, seconds")
    lamp = text_field("Lamp: panels, minutes, panel temperature", 120)
    note = text_field("Note", 300)
    over_warnings = text_field("It goes on all the same, because", 400, rows=2)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, start in {
            "air_c": 18,
            "surface_c": 16,
            "humidity": 55,
            "bay_min_c": 10,
            "flash_seconds": 60,
        }.items():
            self.fields[name].widget.attrs["data-start"] = start
        self.fields["humidity"].widget.attrs["step"] = 1
        self.fields["flash_seconds"].widget.attrs["step"] = 15
        self.fields["coat_gap_minutes"].widget.attrs |= {"step": 15, "data-start": 60}

    def product_chosen(self) -> Product | None:
        """The product that is chosen so far, also while the form is not finished."""
        return product_numbered(str(self["product"].value() or ""))

    def layer(self, now: datetime) -> NewLayer | None:
        """What is to be laid, or None while product or surfaces are missing."""
        data = self.cleaned_data
        product, surfaces = data.get("product"), data.get("surfaces") or NOTHING
        if product is None or not surfaces:
            return None
        return NewLayer(
            product=product,
            surfaces=surfaces,
            at=self.moment(now),
            coats=data.get("coats") or 1,
            coat_gap_minutes=data.get("coat_gap_minutes"),
            batch=data.get("batch", ""),
            prep=Prep(data["prep"]) if data.get("prep") else None,
            panel_wiped={"yes": True, "no": False}.get(data.get("panel_wiped", "")),
            air_c=data.get("air_c"),
            surface_c=data.get("surface_c"),
            humidity=data.get("humidity"),
            bay_min_c=data.get("bay_min_c"),
            flash_seconds=data.get("flash_seconds"),
            lamp=data.get("lamp", ""),
            note=data.get("note", ""),
            over_warnings=data.get("over_warnings", ""),
        )


def product_numbered(text: str) -> Product | None:
    """The product on the shelf that a form names by its number; None for whatever else it says."""
    if not re.fullmatch(r"[0-9]{1,18}", text):
        return None
    return Product.objects.filter(pk=int(text), on_shelf=True).first()
