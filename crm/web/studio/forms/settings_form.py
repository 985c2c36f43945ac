"""The form of the studio's own settings."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from django import forms

from crm.models import Paper, Studio, Units
from crm.services.studio_settings import StudioSettings
from crm.web.studio.forms.bay_fields import WholeField
from crm.web.studio.forms.desk_fields import chips
from crm.web.studio.forms.entry import OnceForm, text_field
from crm.web.studio.forms.house_fields import MOST_ZONES, USUAL_ZONES, ClockField, MonthDayField, zones_like

_NAMES = tuple(column.name for column in fields(StudioSettings))


class SettingsForm(OnceForm):
    """Every setting, each with the reason why it is asked."""

    name = text_field(
        "Name of the studio", 80, required=True, help_text="Letters and sheets begin and end with it."
    )
    postal_address = text_field(
        "Postal address", 240, help_text="Stands under every letter: in most countries it has to."
    )
    phone = text_field("Telephone", 40, help_text="Owners ring it when something on a sheet is not clear.")
    reply_to = text_field("Answers go to", 254, help_text="The e-mail address that an owner's reply reaches.")
    signature = text_field(
        "Signed by", 80, help_text="A letter from a person is read; a letter from a firm is not."
    )
    place = text_field(
        "Another place",
        60,
        help_text="Type a town or part of its name. What is written here counts before the choice above.",
    )
    phone_region = text_field(
        "Country for telephone numbers",
        2,
        required=True,
        help_text="Two letters; GB is the United Kingdom. A number typed without its country is read as one from here.",
    )
    units = chips(
        "Distances in", dict(Units.choices), required=True, help_text="As odometers here show them."
    )
    paper = chips(
        "Paper in the printer", dict(Paper.choices), required=True, help_text="Aftercare sheets fit it."
    )
    salt_from = MonthDayField(label="Roads are salted from")
    salt_until = MonthDayField(label="Salted until")
    hot_from = MonthDayField(label="Hot months from")
    hot_until = MonthDayField(label="Hot until")
    winter_prompt_from = MonthDayField(label="Winter letters from")
    winter_prompt_until = MonthDayField(label="Winter letters until")
    letters_a_year = WholeField(
        low=0,
        high=12,
        required=True,
        label="Letters a year to one person",
        help_text="Over all their cars. Too many letters is why people stop them; 0 sends none.",
    )
    letter_gap_days = WholeField(
        low=0,
        high=366,
        required=True,
        label="Days between two letters",
        help_text="So that two never feel like a run.",
    )
    top_up_lead_days = WholeField(
        low=0,
        high=120,
        required=True,
        label="Days before a layer may be thin that its reminder leaves",
        help_text="Long enough to find a free day in the bay.",
    )
    weekday_from = ClockField(label="Monday to Friday from")
    weekday_until = ClockField(label="Monday to Friday until")
    saturday_from = ClockField(label="Saturday from")
    saturday_until = ClockField(label="Saturday until")
    post_on_sundays = forms.BooleanField(
        label="Sundays too, in Saturday's hours",
        required=False,
        help_text="Most people would rather not hear from a workshop on a Sunday.",
    )
    home_washing = forms.BooleanField(
        label="Washing a car at home is allowed here",
        required=False,
        help_text="Where it is not, sheets say so and advise a wash place.",
    )

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        kwargs["initial"] = {name: getattr(studio, name) for name in _NAMES}
        super().__init__(*args, **kwargs)
        offered = self._zones(studio.time_zone)
        self.fields["time_zone"] = chips(
            "Time zone",
            {name: name.replace("_", " ") for name in offered},
            help_text="Days, opening hours and “you may wash it now” go by it.",
        )
        self.fields["time_zone"].required = True
        for name, kind in (("phone", "tel"), ("reply_to", "email")):
            self.fields[name].widget = forms.TextInput({"type": kind, "autocomplete": "off"})

    def _zones(self, present: str) -> list[str]:
        """The zones to tap: those like what was typed, otherwise the usual ones and the present one."""
        typed = str(self.data.get("place", ""))[:60] if self.is_bound else ""
        found = zones_like(typed)
        offered = [*found[:MOST_ZONES], present] if found else [present, *USUAL_ZONES]
        return list(dict.fromkeys(offered))

    def clean(self) -> dict[str, Any]:
        """The zone that was typed, where one was; several that are like it are offered to tap."""
        cleaned = super().clean() or self.cleaned_data
        typed = cleaned.get("place", "")
        if not typed:
            return cleaned
        found = zones_like(typed)
        if len(found) == 1:
            cleaned["time_zone"] = found[0]
            self.errors.pop("time_zone", None)
        elif not found:
            self.add_error(
                "place", "No time zone is called that. Try the nearest large town, such as London."
            )
        elif cleaned.get("time_zone") not in found:
            more = len(found) - MOST_ZONES
            words = f" {more} more are like it: type a little more." if more > 0 else ""
            self.add_error("place", f"Several are called that: tap the one you mean.{words}")
        return cleaned

    def settings(self) -> StudioSettings:
        """What was written, as the service wants it."""
        return StudioSettings(**{name: self.cleaned_data[name] for name in _NAMES})
