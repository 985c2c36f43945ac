"""What forms say of what is missing or cannot be read: sentences of our own, in one place for every form."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms

from crm.services.plain_words import SENTENCES
from crm.web.studio.forms.bay_fields import MomentField, ReadingField, WholeField
from crm.web.studio.forms.desk_fields import DayField
from crm.web.studio.forms.house_fields import ClockField, FigureField, MonthDayField

if TYPE_CHECKING:
    Base = forms.BaseForm
else:
    Base = object

_NUL = "null_characters_not_allowed"

HOW_TO: tuple[tuple[type[forms.Field], str], ...] = (
    (DayField, "Write the day like 4/5/2026."),
    (MomentField, "Write the day and the time like 4/5/2026 15:10."),
    (MonthDayField, "Write a day and a month, like 1 November."),
    (ClockField, "Write a time like 9:30 or 19:00."),
    (FigureField, "Write a plain number, such as 0.85 or 12."),
    (ReadingField, "Write a plain number, such as 17.5."),
    (WholeField, "Write a whole number, in digits only."),
    (forms.ModelChoiceField, "Choose one of these."),
    (forms.MultipleChoiceField, "Choose at least one of these."),
    (forms.ChoiceField, "Choose one of these."),
    (forms.BooleanField, "Tick it to go on."),
)
"""How a field that is empty is filled in, by the first sort of field that it is."""


def speak_plainly(field: forms.Field, label: str) -> None:
    """Put a sentence of ours in place of each one that a field has from the library. Its own stay as they are."""
    stock = _of_the_library(field)
    for code, present in field.error_messages.items():
        if code == "required" and present == stock.get(code):
            how = next((words for kind, words in HOW_TO if isinstance(field, kind)), "Write it down.")
            field.error_messages[code] = f"“{label}” is empty. {how}"
        elif present == stock.get(code) and code in SENTENCES:
            field.error_messages[code] = SENTENCES[code]
    for code, sentence in SENTENCES.items():
        field.error_messages.setdefault(code, sentence)


def _of_the_library(field: forms.Field) -> dict[str, object]:
    found: dict[str, object] = {}
    for kind in reversed(type(field).__mro__):
        if kind.__module__.startswith("django."):
            found |= getattr(kind, "default_error_messages", {})
    return found


class InOwnWords(Base):
    """A form whose every field speaks plainly, also those that it gains while it is made."""

    def full_clean(self) -> None:
        """Words first, then as ever."""
        for name, field in self.fields.items():
            speak_plainly(field, str(field.label or name.replace("_", " ").capitalize()))
        super().full_clean()

    def add_error(self, field: str | None, error: Any) -> None:
        """Choices among rows look for characters that cannot be kept by themselves, past their own sentences."""
        for each in getattr(error, "error_list", ()):
            if each.code == _NUL:
                each.message = SENTENCES[_NUL]
        super().add_error(field, error)
