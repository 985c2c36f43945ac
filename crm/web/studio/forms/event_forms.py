"""Forms about layers after they were laid: what happened elsewhere, endings, endings taken back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time
from typing import Any

from crm.care.bodies import Body
from crm.care.names import END_WORDS
from crm.care.surfaces import NOTHING, Surfaces
from crm.care.terms import EndReason
from crm.models import Car, CarEvent, Layer
from crm.services.events import Happened
from crm.web.studio.forms.bay_fields import SurfacesField, chosen_surfaces
from crm.web.studio.forms.desk_fields import DayField, answered, chips, yes_no
from crm.web.studio.forms.entry import OnceForm, text_field


class _OnTheCarForm(OnceForm):
    """A form with the surfaces of one car."""

    def __init__(self, *args: Any, car: Car, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.body = Body(car.body)
        self.fields["surfaces"] = SurfacesField(body=self.body, label="Surfaces", required=False)

    @property
    def chosen(self) -> Surfaces:
        """What the picker shows as chosen."""
        if not self.is_bound:
            shown: Surfaces = self.initial.get("surfaces", NOTHING)
            return shown
        return chosen_surfaces([str(key) for key in self["surfaces"].value() or ()])


class ElsewhereForm(_OnTheCarForm):
    """Something that happened to the car away from the bench."""

    on = DayField(label="On")
    certainty = chips(
        "How we know", dict(CarEvent.Certainty.choices), required=True, initial=CarEvent.Certainty.TOLD.value
    )
    baked = yes_no("If it was painted: was the paint baked?")
    note = text_field("Who says so, who did it", 300)

    def __init__(self, *args: Any, kinds: Sequence[CarEvent.Kind], **kwargs: Any) -> None:
        """`kinds`: what the person who fills it in may write down."""
        super().__init__(*args, **kwargs)
        self.fields["kind"] = chips(
            "What happened", {kind.value: kind.label for kind in kinds}, required=True
        )
        self.order_fields(["kind"])

    def happened(self) -> Happened:
        """What is to be written down."""
        data = self.cleaned_data
        return Happened(
            kind=CarEvent.Kind(data["kind"]),
            on=data["on"],
            surfaces=data["surfaces"] or NOTHING,
            certainty=CarEvent.Certainty(data["certainty"]),
            baked=answered(data["baked"]),
            note=data["note"],
        )


class EndLayerForm(_OnTheCarForm):
    """A person says that a layer is finished on surfaces."""

    why = chips("Why", END_WORDS, required=True)
    on = DayField(label="When")
    note = text_field("Note", 200)

    def moment(self, *, layer: Layer, now: datetime, today: date) -> datetime:
        """Noon of the day, but not before the layer was laid, and not later than now."""
        on: date = self.cleaned_data["on"]
        if on >= today:
            return now
        noon = datetime.combine(on, time(12), now.tzinfo)
        same_day = layer.laid_at.astimezone(now.tzinfo).date() == on
        return max(noon, layer.laid_at) if same_day else noon

    def reason(self) -> EndReason:
        """Why it ended."""
        return EndReason(self.cleaned_data["why"])
