"""Forms of the shelf: what a product is, and what it is held to do from today on."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any
from urllib.parse import urlsplit

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import URLValidator
from django.forms.boundfield import BoundWidget

from crm.care.names import CLASS_NAMES
from crm.care.tables import Tables
from crm.care.terms import ProductClass
from crm.models import Product
from crm.selectors.shelf import GROUP_NAMES, group_of
from crm.services.shelf import Figures, OnTheShelf
from crm.web.studio.forms.desk_fields import DayField, chips
from crm.web.studio.forms.entry import OnceForm, text_field

MOST_HOURS = 24 * 120
MOST_MONTHS = 240
LEAST_MONTHS = Decimal("0.1")
_HOURS = re.compile(r"(\d{1,5})\s*(h|hours?|d|days?)?", re.IGNORECASE)
_LONGEST = 20


class SheetAddressField(forms.CharField):
    """The address of a data sheet on the web; nothing that a browser would run or send."""

    widget = forms.TextInput

    def to_python(self, value: Any) -> str:
        """The address, with https where no scheme was written. ValidationError with a sentence where it is none."""
        text = str(super().to_python(value) or "").strip()
        if not text:
            return ""
        sentence = "Write the address of the data sheet as the browser shows it: https://…"
        try:
            address = text if urlsplit(text).scheme and "://" in text else f"https://{text}"
            URLValidator(schemes=["http", "https"])(address)
        except (ValidationError, ValueError) as error:
            raise ValidationError(sentence) from error
        return address


class MonthsField(forms.Field):
    """Months with up to two places, typed with a comma or a point."""

    widget = forms.TextInput

    def __init__(self, *, required: bool = False, **kwargs: Any) -> None:
        super().__init__(required=required, **kwargs)
        self.widget.attrs |= {"inputmode": "decimal", "autocomplete": "off"}

    def to_python(self, value: Any) -> Decimal | None:
        """The months. ValidationError with a sentence where they cannot be."""
        text = str("" if value is None else value).strip().replace(",", ".")
        if not text:
            return None
        try:
            months = Decimal(text) if len(text) <= _LONGEST else Decimal("nan")
        except InvalidOperation:
            months = Decimal("nan")
        if not months.is_finite():
            raise ValidationError("Write the months as a plain number, such as 6 or 4.5.")
        if not LEAST_MONTHS <= months <= MOST_MONTHS:
            raise ValidationError(f"That cannot be right: it has to be from {LEAST_MONTHS} to {MOST_MONTHS}.")
        return months.quantize(Decimal("0.01"))


class HoursField(forms.Field):
    """A wait in hours, or in days with a d behind: 12, 12 h, 7 d, 7 days."""

    widget = forms.TextInput

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, **kwargs)
        self.widget.attrs |= {"autocomplete": "off"}

    def to_python(self, value: Any) -> int | None:
        """Whole hours. ValidationError with a sentence where it is none."""
        text = str("" if value is None else value).strip()
        if not text:
            return None
        found = _HOURS.fullmatch(text) if len(text) <= _LONGEST else None
        if found is None:
            raise ValidationError("Write hours or days: 12 h, or 7 days.")
        hours = int(found[1]) * (24 if (found[2] or "h").lower().startswith("d") else 1)
        if hours > MOST_HOURS:
            raise ValidationError(f"That cannot be right: {MOST_HOURS // 24} days are the most.")
        return hours


@dataclass(frozen=True)
class ClassGroup:
    """Classes of product for one part of the car, as chips."""

    words: str
    options: Sequence[BoundWidget]
    open: bool


class ProductForm(OnceForm):
    """What a product is."""

    name = text_field("Name on the bottle", 80, required=True)
    product_class = chips("Class", CLASS_NAMES, required=True)
    family = text_field("Maker's system", 40, help_text="Where layers of one maker belong together.")
    data_sheet = SheetAddressField(
        label="Address of the data sheet", required=False, max_length=200, empty_value=""
    )
    cautions = text_field("Cautions", 1000, rows=4, help_text="From its own data sheet, in plain words.")
    scent_free = forms.BooleanField(label="Without scent", required=False)

    def __init__(self, *args: Any, tables: Tables, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.tables = tables

    def class_groups(self) -> Iterator[ClassGroup]:
        """The classes by part of the car; the part of the chosen one is open."""
        field = self["product_class"]
        chosen = str(field.value() or "")
        for group, words in GROUP_NAMES.items():
            options = [
                option
                for option in field.subwidgets
                if group_of(ProductClass(str(option.data["value"])), self.tables) is group
            ]
            yield ClassGroup(words, options, any(str(option.data["value"]) == chosen for option in options))

    def plain_fields(self) -> list[forms.BoundField]:
        """The fields after name and class."""
        return [self[name] for name in ("family", "data_sheet", "cautions", "scent_free")]

    def product(self, *, on_shelf: bool = True) -> OnTheShelf:
        """What was typed, for the service."""
        data = self.cleaned_data
        return OnTheShelf(
            name=data["name"],
            product_class=ProductClass(data["product_class"]),
            family=data["family"],
            data_sheet=data["data_sheet"],
            cautions=data["cautions"],
            scent_free=data["scent_free"],
            on_shelf=on_shelf,
        )


def as_it_stands(row: Product, *, on_shelf: bool) -> OnTheShelf:
    """A stored product for the service, on or off the shelf."""
    return OnTheShelf(
        name=row.name,
        product_class=ProductClass(row.product_class),
        family=row.family,
        data_sheet=row.data_sheet,
        cautions=row.cautions,
        scent_free=row.scent_free,
        on_shelf=on_shelf,
    )


class LifeForm(OnceForm):
    """New figures from today. What is left empty is the class's own."""

    low = MonthsField(label="Low, months", help_text="One in ten is gone by then.")
    likely = MonthsField(label="Likely, months", help_text="Half are gone by then.")
    high = MonthsField(label="High, months", help_text="Nine in ten are gone by then.")
    dry_hours = HoursField(label="Keep dry", help_text="12 h, or 2 days")
    wash_hours = HoursField(label="Wash from")
    topper_hours = HoursField(label="Topper from")
    cure_hours = HoursField(label="Fully set")
    cold_lengthens = forms.BooleanField(label="Cold makes it set more slowly", required=False, initial=True)
    because = text_field(
        "Why these figures",
        200,
        rows=2,
        required=True,
        help_text="Its data sheet, what you saw on your own cars, what somebody told you.",
    )

    def months(self) -> list[forms.BoundField]:
        return [self[name] for name in ("low", "likely", "high")]

    def waits(self) -> list[forms.BoundField]:
        return [self[name] for name in ("dry_hours", "wash_hours", "topper_hours", "cure_hours")]

    def clean(self) -> dict[str, Any]:
        """Three months that rise, or none."""
        cleaned = super().clean() or self.cleaned_data
        _check_months(self, cleaned, "Give all three, low, likely and high, or none for the class's own.")
        return cleaned

    def figures(self) -> Figures:
        """What was typed, for the service."""
        return Figures(**{name: value for name, value in self.cleaned_data.items() if name != "once"})


class LearnedForm(OnceForm):
    """Figures that were learned, as a person takes them. `seen` is what they rested on when the page was opened."""

    low = MonthsField(label="Low, months", help_text="One in ten is gone by then.", required=True)
    likely = MonthsField(label="Likely, months", help_text="Half are gone by then.", required=True)
    high = MonthsField(label="High, months", help_text="Nine in ten are gone by then.", required=True)
    since = DayField(label="From")
    because = text_field("Why these figures", 200, rows=2, required=True)
    seen = forms.Field(widget=forms.HiddenInput, required=False)

    def months(self) -> list[forms.BoundField]:
        return [self[name] for name in ("low", "likely", "high")]

    def clean(self) -> dict[str, Any]:
        """Three months that rise."""
        cleaned = super().clean() or self.cleaned_data
        _check_months(self, cleaned, "Give all three: low, likely and high.")
        return cleaned

    def figures(self) -> Figures:
        """What was typed, for the service."""
        return Figures(**{name: self.cleaned_data[name] for name in ("low", "likely", "high", "because")})


def _check_months(form: OnceForm, cleaned: dict[str, Any], incomplete: str) -> None:
    """Put a sentence beside the likely figure where the three do not rise, or are not all there."""
    if any(name in form.errors for name in ("low", "likely", "high")):
        return
    given = [cleaned.get(name) for name in ("low", "likely", "high")]
    known = [months for months in given if months is not None]
    if known and len(known) < len(given):
        form.add_error("likely", incomplete)
    elif known != sorted(known):
        form.add_error("likely", "Low, likely and high must rise: for example 4, 6 and 9 months.")
