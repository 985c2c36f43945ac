"""What every entry of the bay sheet has in common: when it was, and the key that keeps it from being made twice."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms

from crm.care.bodies import Body
from crm.care.surfaces import NOTHING, Surfaces
from crm.models import Visit
from crm.services.errors import NeedsReason, Refused
from crm.web.studio.forms.bay_fields import MomentField, OnceField, SurfacesField, chosen_surfaces
from crm.web.studio.forms.own_words import InOwnWords


def text_field(label: str, longest: int, *, rows: int = 0, **known: Any) -> forms.CharField:
    """A line of text, or several, that need not be filled in."""
    widget = forms.Textarea({"rows": rows}) if rows else forms.TextInput({"autocomplete": "off"})
    known.setdefault("required", False)
    return forms.CharField(label=label, max_length=longest, widget=widget, **known)


class OnceForm(InOwnWords, forms.Form):
    """A form that counts once, and that takes a service's refusal as an error of its own."""

    once = OnceField()

    stops: tuple[str, ...] = ()
    """Sentences of the rules that want a reason, after a service asked for one."""

    def take(self, refused: Refused) -> None:
        """Put a service's sentence beside the field that it is about."""
        if isinstance(refused, NeedsReason):
            self.stops = refused.sentences
            if refused.field in self.fields:
                self.add_error(refused.field, "Say why it is done all the same.")
                return
        self.add_error(refused.field if refused.field in self.fields else None, refused.sentence)


class VisitForm(OnceForm):
    """A form about a visit."""

    def __init__(self, *args: Any, visit: Visit, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.visit = visit


class EntryForm(VisitForm):
    """Something done to the car at a time: now, unless another time is given."""

    at = MomentField(label="When", help_text="Empty is now.")

    def moment(self, now: datetime) -> datetime:
        """When it was."""
        return self.cleaned_data.get("at") or now


class OnSurfaces(VisitForm):
    """A part of a form: the surfaces of the car that it is about."""

    needs_surfaces = True

    def __init__(self, *args: Any, last: Surfaces = NOTHING, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.last = last
        self.body = Body(self.visit.car.body)
        self.fields["surfaces"] = SurfacesField(
            body=self.body, label="On which surfaces", required=self.needs_surfaces
        )

    @property
    def chosen(self) -> Surfaces:
        """The surfaces that the picker shows as chosen."""
        if not self.is_bound:
            started: Surfaces = self.initial.get("surfaces", NOTHING)
            return started
        sent = self["surfaces"].value()
        return chosen_surfaces([str(key) for key in sent or ()])
