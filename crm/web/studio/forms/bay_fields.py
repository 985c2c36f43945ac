"""Fields for wet gloves: a moment that defaults to now, numbers with comma or point, sets of surfaces."""

from __future__ import annotations

import re
import secrets
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from crm.care.bodies import Body, surfaces_of_body
from crm.care.surfaces import NOTHING, Surfaces
from crm.care.words import describe

YEARS = range(1990, 2101)
"""Years in which a visit can have been."""
_PATTERNS = ("%d/%m/%Y %H:%M", "%d.%m.%Y %H:%M", "%d %b %Y %H:%M", "%d %B %Y %H:%M")
_CLOCK = re.compile(r"([01]?\d|2[0-3])[:.]([0-5]\d)")
_GROUPED = re.compile(r"\d{1,3}([ .,\u00a0\u202f\u2019']\d{3})+")
_LONGEST = 40


class MomentField(forms.Field):
    """A day and a time in the studio's zone. Empty is None, which the form reads as "now".

    Understands what a date-time input sends, "4/5/2026 15:10", and a bare "15:10", which is today.
    """

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateTimeInput({"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"))
        kwargs.setdefault("required", False)
        super().__init__(**kwargs)

    def prepare_value(self, value: Any) -> Any:
        """A moment as the input wants it: in the studio's zone, without the zone."""
        return (
            timezone.make_naive(value) if isinstance(value, datetime) and timezone.is_aware(value) else value
        )

    def to_python(self, value: Any) -> datetime | None:
        """The moment, aware. A time that the clocks skipped or had twice is read as the earlier one."""
        text = str(value or "").strip()
        if not text:
            return None
        found = _parsed(text) if len(text) <= _LONGEST else None
        if found is None:
            raise ValidationError("Write the day and the time like 4/5/2026 15:10, or only the time: 15:10.")
        if found.year not in YEARS:
            raise ValidationError(
                f"The year {found.year} cannot be right. Write the day like 4/5/2026 15:10."
            )
        if timezone.is_aware(found):
            return found
        return found.replace(tzinfo=timezone.get_current_timezone())


def _parsed(text: str) -> datetime | None:
    clock = _CLOCK.fullmatch(text)
    if clock:
        return timezone.localtime().replace(
            hour=int(clock[1]), minute=int(clock[2]), second=0, microsecond=0, tzinfo=None
        )
    try:
        found = parse_datetime(text)
    except ValueError:
        return None
    for pattern in _PATTERNS if found is None else ():
        try:
            return datetime.strptime(text, pattern)  # noqa: DTZ007 - the zone is the studio's, set by the field
        except ValueError:
            continue
    return found


class ReadingField(forms.Field):
    """A measured number with one place, typed with a comma or a point. `low` to `high` is what can be."""

    places = Decimal("0.1")

    def __init__(self, *, low: int, high: int, unit: str = "", **kwargs: Any) -> None:
        self.low, self.high, self.unit = low, high, unit
        kwargs.setdefault("required", False)
        super().__init__(**kwargs)
        self.widget.attrs |= {"inputmode": "decimal", "min": low, "max": high, "autocomplete": "off"}
        self.widget.attrs.setdefault("step", "0.5")

    widget = forms.TextInput

    def to_python(self, value: Any) -> Decimal | None:
        """The number, rounded. ValidationError with a sentence where it is none, or cannot be."""
        text = re.sub(r"[\s\u00a0\u202f%°CK]", "", str("" if value is None else value)).replace("\u2212", "-")
        if not text:
            return None
        try:
            number = Decimal(text.replace(",", "."))
        except InvalidOperation:
            raise ValidationError(f"Write a plain number, such as {self.example()}.") from None
        if not number.is_finite() or not self.low <= number <= self.high:
            raise ValidationError(
                f"That cannot be right: it has to be from {self.low} to {self.high}{self.unit}."
            )
        return number.quantize(self.places)

    def example(self) -> str:
        """A number that would do."""
        return f"{min(max(self.low, 17), self.high)}.5" if self.high > 17 else f"{self.low}"


class WholeField(forms.Field):
    """A whole number that may be typed with marks between the thousands: 61,240 or 61 240."""

    widget = forms.TextInput

    def __init__(self, *, low: int, high: int, **kwargs: Any) -> None:
        self.low, self.high = low, high
        kwargs.setdefault("required", False)
        super().__init__(**kwargs)
        self.widget.attrs |= {"inputmode": "numeric", "min": low, "max": high, "autocomplete": "off"}
        self.widget.attrs.setdefault("step", "1")

    def to_python(self, value: Any) -> int | None:
        """The number. ValidationError with a sentence where it is none, or cannot be."""
        text = str("" if value is None else value).strip()
        if not text:
            return None
        if _GROUPED.fullmatch(text):
            text = re.sub(r"\D", "", text)
        if not re.fullmatch(r"-?\d{1,12}", text):
            raise ValidationError("Write a whole number, in digits only.")
        number = int(text)
        if not self.low <= number <= self.high:
            raise ValidationError(f"That cannot be right: it has to be from {self.low:,} to {self.high:,}.")
        return number


class SurfacesField(forms.Field):
    """A set of surfaces from the picker, which sends a key a surface."""

    widget = forms.MultipleHiddenInput

    def __init__(self, *, body: Body, **kwargs: Any) -> None:
        self.body = body
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> Surfaces:
        """The set. A surface that is not known, or that this car does not have, is refused by name."""
        try:
            chosen = Surfaces.from_keys(value or ())
        except ValueError as error:
            raise ValidationError(str(error)[:120]) from error
        missing = chosen - surfaces_of_body(self.body)
        if missing:
            raise ValidationError(f"This car has no {describe(missing, self.body)}.")
        return chosen

    def validate(self, value: Any) -> None:
        """At least one, where the form needs one."""
        if self.required and not value:
            raise ValidationError("Choose the surfaces.")


def chosen_surfaces(keys: Sequence[str]) -> Surfaces:
    """What a picker should show as chosen again: the keys that are surfaces, the rest left aside."""
    found = NOTHING
    for key in keys:
        try:
            found |= Surfaces.from_keys([key])
        except ValueError:
            continue
    return found


class OnceField(forms.CharField):
    """The key by which the same form sent twice is recognised. What is no key of ours is no key."""

    widget = forms.HiddenInput

    def __init__(self) -> None:
        super().__init__(required=False, initial=lambda: secrets.token_urlsafe(16))

    def clean(self, value: Any) -> str:
        """The key, or nothing."""
        text = str(value or "")
        return text if re.fullmatch(r"[A-Za-z0-9_-]{16,64}", text) else ""
