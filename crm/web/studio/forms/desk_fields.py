"""Fields of the desk: days, and answers among which "not known" is one like any other."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

YEARS = range(1950, 2101)
"""Years in which anything about a car on file can have happened."""
PATTERNS = ("%Y-%m-%d", "%d/%m/%Y", "%d.%m.%Y", "%d-%m-%Y", "%d %b %Y", "%d %B %Y", "%d/%m/%y")
_LONGEST = 30


class DayField(forms.Field):
    """A day. Understands what a date input sends and how people write one: 4/5/2026, 4 May 2026."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateInput({"type": "date"}, format="%Y-%m-%d"))
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> date | None:
        """The day. ValidationError with a sentence where it is none."""
        if isinstance(value, date):
            return value
        text = " ".join(str(value or "").split())
        if not text:
            return None
        found = _parsed(text) if len(text) <= _LONGEST else None
        if found is None:
            raise ValidationError("Write the day like 4/5/2026.")
        if found.year not in YEARS:
            raise ValidationError(f"The year {found.year} cannot be right. Write the day like 4/5/2026.")
        return found


def _parsed(text: str) -> date | None:
    for pattern in PATTERNS:
        try:
            return datetime.strptime(text, pattern).date()  # noqa: DTZ007 - a day has no zone
        except ValueError:
            continue
    return None


class ChipsField(forms.ChoiceField):
    """One of a few answers."""

    always_answered = False
    """Whether having no answer is one of the chips, so that the label need not say that it may be left out."""


def chips(
    label: str, names: Mapping[Any, str], *, unknown: str = "", required: bool = False, **known: Any
) -> forms.ChoiceField:
    """One of a few answers, each a chip to tap. `unknown`: the words for having no answer, where that is one."""
    choices = [(str(value), words) for value, words in names.items()]
    if unknown:
        choices.append(("", unknown))
    field = ChipsField(
        label=label,
        choices=choices,
        required=required,
        widget=forms.RadioSelect,
        error_messages={"invalid_choice": "Choose one of these.", "required": "Choose one of these."},
        **known,
    )
    field.always_answered = bool(unknown)
    return field


def yes_no(label: str, *, unknown: str = "not known", **known: Any) -> forms.ChoiceField:
    """Yes, no, or no answer."""
    return chips(label, {"yes": "yes", "no": "no"}, unknown=unknown, **known)


def answered(value: str) -> bool | None:
    """What a yes-or-no field was answered with; None is no answer."""
    return {"yes": True, "no": False}.get(value)


def as_answer(value: bool | None) -> str:
    """The field's value for a stored answer."""
    return "" if value is None else "yes" if value else "no"


def member(kind: type[StrEnum], value: str) -> Any:
    """The member that was chosen, or None."""
    return kind(value) if value else None
