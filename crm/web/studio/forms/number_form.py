"""The form of one figure of the engine."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from crm.care.numbers import Number
from crm.services.errors import Refused
from crm.services.own_numbers import LONGEST_REASON
from crm.web.studio.forms.entry import OnceForm, text_field
from crm.web.studio.forms.house_fields import FigureField


class NumberForm(OnceForm):
    """The numbers of one figure, and why they are changed."""

    because = text_field(
        "Why", LONGEST_REASON, required=True, help_text="What you have seen on your own cars."
    )

    def __init__(self, *args: Any, number: Number, present: Sequence[float], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.names = [f"figure_{position}" for position in range(len(number.values))]
        for name, label, value in zip(self.names, number.parts or ("Figure",), present, strict=True):
            self.fields[name] = FigureField(label=label[:1].upper() + label[1:], initial=value)
        self.order_fields([*self.names, "because"])

    def figures(self) -> list[Any]:
        """The bound fields of the numbers."""
        return [self[name] for name in self.names]

    def values(self) -> tuple[float, ...]:
        """The numbers that were written."""
        return tuple(self.cleaned_data[name] for name in self.names)

    def take(self, refused: Refused) -> None:
        """What the tables say stands beside the first number."""
        if refused.field == "values":
            self.add_error(self.names[0], refused.sentence)
        else:
            super().take(refused)
