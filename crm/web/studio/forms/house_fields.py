"""Fields of the studio's own pages: a day of the year, a time of the clock, a time zone, a branch, a figure."""

from __future__ import annotations

import re
from datetime import time
from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.core.exceptions import ValidationError

from crm.care.months import MONTH_NAMES
from crm.care.numbers import plain
from crm.care.seasons import MonthDay, SeasonError

_WORDS = re.compile(r"(\d{1,2})\.?\s*([A-Za-z]{3,9})|([A-Za-z]{3,9})\s*(\d{1,2})", re.ASCII)
_DASHED = re.compile(r"(\d{1,2})-(\d{1,2})", re.ASCII)
_SLASHED = re.compile(r"(\d{1,2})\s*[/.]\s*(\d{1,2})\.?", re.ASCII)
_CLOCK = re.compile(r"([01]?\d|2[0-3])(?:[:.]?([0-5]\d))?(?::00)?", re.ASCII)
_FIGURE = re.compile(r"\d{1,7}(?:[.,]\d{1,4})?", re.ASCII)
_GROUPED = re.compile(r"[1-9]\d{0,2},\d{3}", re.ASCII)


class MonthDayField(forms.CharField):
    """A day of every year, stored as MM-DD and shown as "1 November".

    Understands "1 Nov", "November 1", "1/11" with the day first, and 11-01 as it is stored.
    """

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=30, widget=forms.TextInput({"autocomplete": "off"}), **kwargs)

    def prepare_value(self, value: Any) -> Any:
        """The stored form in words; what was typed stays as it was typed."""
        try:
            return month_day_words(MonthDay.parse(value)) if isinstance(value, str) else value
        except SeasonError:
            return value

    def to_python(self, value: Any) -> str:
        """The day as MM-DD."""
        text = super().to_python(value) or ""
        if not text:
            return ""
        found = _month_and_day(text)
        if found is None:
            raise ValidationError("Write a day and a month, like 1 November.")
        try:
            return str(MonthDay(*found))
        except SeasonError as error:
            raise ValidationError(str(error)) from error


def month_day_words(day: MonthDay) -> str:
    """A day of the year in words: "1 November"."""
    return f"{day.day} {MONTH_NAMES[day.month - 1]}"


def _month_and_day(text: str) -> tuple[int, int] | None:
    if found := _DASHED.fullmatch(text):
        return int(found[1]), int(found[2])
    if found := _SLASHED.fullmatch(text):
        return int(found[2]), int(found[1])
    if found := _WORDS.fullmatch(text):
        name = (found[2] or found[3]).lower()
        months = [number for number, month in enumerate(MONTH_NAMES, 1) if month.lower().startswith(name)]
        return (months[0], int(found[1] or found[4])) if months else None
    return None


class ClockField(forms.Field):
    """A time of day on the studio's clock: 9, 9:30, 9.30 or 0930."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(widget=forms.TimeInput({"type": "time"}, format="%H:%M"), **kwargs)

    def to_python(self, value: Any) -> time | None:
        """The time. ValidationError with a sentence where it is none."""
        text = str(value or "").strip()
        if not text:
            return None
        found = _CLOCK.fullmatch(text)
        if found is None:
            raise ValidationError("Write a time like 9:30 or 19:00.")
        return time(int(found[1]), int(found[2] or 0))

    def validate(self, value: Any) -> None:
        """A time is needed."""
        if value is None:
            raise ValidationError("Write a time like 9:30 or 19:00.")


class FigureField(forms.Field):
    """One number of a figure, with a point or a comma before the decimals."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(widget=forms.TextInput({"inputmode": "decimal", "autocomplete": "off"}), **kwargs)

    def prepare_value(self, value: Any) -> Any:
        """A stored number as one writes it."""
        return plain(value) if isinstance(value, float) else value

    def to_python(self, value: Any) -> float | None:
        """The number. ValidationError with a sentence where it is none, or could be two."""
        text = str(value or "").strip()
        if not text:
            return None
        if not _FIGURE.fullmatch(text):
            raise ValidationError("Write a plain number, such as 0.85 or 12.")
        if _GROUPED.fullmatch(text):
            raise ValidationError(
                f"Write {text.replace(',', '')}, or {text.replace(',', '.')} if that is what you mean."
            )
        return float(text.replace(",", "."))

    def validate(self, value: Any) -> None:
        """A number is needed."""
        if value is None:
            raise ValidationError("Write a number.")


USUAL_ZONES = ("Europe/London", "Europe/Dublin", "Europe/Oslo", "Europe/Berlin", "America/Toronto")
MOST_ZONES = 6


def zones_like(text: str) -> list[str]:
    """Time zones whose name holds what was typed; the one of exactly that name, or town, alone.

    Spaces may stand for underscores, and capitals do not matter.
    """
    wanted = "_".join(text.lower().split())
    if not wanted:
        return []
    names = sorted(name for name in available_timezones() if "/" in name or name == "UTC")
    exact = [name for name in names if name.lower() == wanted]
    exact = exact or [name for name in names if name.lower().rpartition("/")[2] == wanted]
    return exact or [name for name in names if wanted in name.lower()]
