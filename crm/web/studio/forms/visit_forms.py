"""Forms of a stay: booking, arrival, what was agreed, what is left for next time."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, Any

from django import forms
from django.core.exceptions import ValidationError

from crm.care.distance import from_km, to_km
from crm.models import Branch, Studio, Units, User, Visit
from crm.services.errors import Refused
from crm.services.visits import Agreed
from crm.web.studio.forms.bay_fields import MomentField, ReadingField, WholeField
from crm.web.studio.forms.entry import OnceForm, OnSurfaces, text_field

MOST_CHIPS = 7
MOST_KM = 3_000_000

if TYPE_CHECKING:
    BranchField = forms.ModelChoiceField[Branch]
else:
    BranchField = forms.ModelChoiceField


class BranchByName(BranchField):
    """A branch written out in full, where there are too many to choose from."""

    def to_python(self, value: Any) -> Branch | None:
        """The branch of that name."""
        if "\0" in str(value):
            raise ValidationError(self.error_messages["invalid_choice"], code="invalid_choice")
        found: Branch | None = super().to_python(value)
        return found


class ArrivalForm(OnceForm):
    """What is written down when the keys are handed in."""

    at = MomentField(label="Arrived at", help_text="Empty is now.")
    arrival_note = text_field(
        "Condition on arrival",
        1000,
        rows=4,
        help_text="Defects, dirt, belongings, warning lights. Dirt hides damage: say so.",
    )
    acknowledged = forms.BooleanField(label="The owner has seen this and agrees", required=False)

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.studio = studio
        self.in_miles = studio.units == Units.MILES
        self.fields["odometer"] = WholeField(
            low=0,
            high=from_km(MOST_KM, in_miles=self.in_miles),
            label="Odometer, miles" if self.in_miles else "Odometer, km",
        )
        self.order_fields(["odometer", "arrival_note", "acknowledged"])

    def odometer_km(self) -> int | None:
        """What the odometer shows, in kilometres."""
        read: int | None = self.cleaned_data.get("odometer")
        return None if read is None else to_km(read, in_miles=self.in_miles)


class NewVisitForm(ArrivalForm):
    """A car that is booked in, or that stands in the yard already."""

    purpose = forms.ChoiceField(
        label="What it comes for",
        choices=Visit.Purpose.choices,
        initial=Visit.Purpose.DETAIL,
        widget=forms.RadioSelect,
    )
    planned_in = MomentField(label="Comes in", help_text="Needed to book it in.")
    planned_out = MomentField(label="Goes out")

    def __init__(self, *args: Any, by: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        open_branches = Branch.objects.filter(is_open=True)
        self.own = by.branch if by.branch and by.branch.is_open else None
        few = list(open_branches[: MOST_CHIPS + 1])
        if len(few) == 1:
            self.own = few[0]
        elif len(few) <= MOST_CHIPS:
            self.fields["branch"] = forms.ModelChoiceField(
                open_branches, label="Branch", widget=forms.RadioSelect, empty_label=None, initial=self.own
            )
        else:
            self.fields["branch"] = BranchByName(
                open_branches,
                label="Branch",
                to_field_name="name",
                widget=forms.TextInput({"autocomplete": "off"}),
                initial=self.own.name if self.own else "",
                help_text="Its name, in full.",
                error_messages={"invalid_choice": "No open branch has that name. Write it in full."},
            )
        self.order_fields(["purpose", "branch", "planned_in", "planned_out"])

    def branch(self) -> Branch:
        """Where the car is worked on."""
        found: Branch | None = self.cleaned_data.get("branch", self.own)
        if found is None:
            raise Refused("There is no open branch to take the car in at.")
        return found

    def clean(self) -> dict[str, Any]:
        """A booking needs its time, and a branch."""
        cleaned = super().clean() or self.cleaned_data
        if (
            self.data.get("do") == "book"
            and not cleaned.get("planned_in")
            and "planned_in" not in self.errors
        ):
            self.add_error("planned_in", "Say when the car comes in, or take it in now.")
        if "branch" not in self.fields and self.own is None:
            self.add_error(None, "There is no open branch to take the car in at. Open one first.")
        return cleaned


class AgreedForm(OnceForm):
    """What was agreed before work began, and what was sold."""

    scope = text_field("What was agreed", 600, rows=3, help_text="In plain words.")
    left_out = text_field(
        "What was left out", 600, rows=2, help_text="“Deep scratch on the left rear door stays.”"
    )
    promise = text_field(
        "Promise, word for word", 600, rows=3, help_text="It stands as it is once the car goes out."
    )
    promise_months = WholeField(low=0, high=240, label="Months promised")
    hours = ReadingField(low=0, high=999, label="Hours of work")
    bay_min_c = ReadingField(low=-40, high=45, unit=" °C", label="Coldest in the bay overnight, °C")

    def __init__(self, *args: Any, visit: Visit, may_promise: bool, **kwargs: Any) -> None:
        """`may_promise`: whether the person who fills it in may promise something, and it is not given yet.

        A promise that was sent all the same, from a page opened before the hand-over, is the service's to refuse.
        """
        columns = [name for name in self.base_fields if name != "once"]
        kwargs["initial"] = {name: getattr(visit, name) for name in columns}
        super().__init__(*args, **kwargs)
        for name in ("promise", "promise_months"):
            if not may_promise and name not in self.data:
                del self.fields[name]

    def agreed(self, visit: Visit) -> Agreed:
        """What was written; what was not asked stays as it is on the visit."""
        asked = {field.name for field in fields(Agreed)}
        return Agreed(**{name: self.cleaned_data.get(name, getattr(visit, name)) for name in asked})


class LeftForm(OnSurfaces):
    """Something to be read when the car comes back."""

    needs_surfaces = False
    text = text_field("What is left for next time", 300, rows=2, required=True)


class BecauseForm(OnceForm):
    """The reason for taking something back."""

    because = text_field("Why it is taken back", 200, rows=2, required=True)


class HandOverForm(OnceForm):
    """Giving the car back."""

    at = MomentField(label="Handed over at", help_text="Empty is now.")
    reason = text_field("It stands all the same, because", 300, rows=2)
