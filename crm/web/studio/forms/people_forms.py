"""Forms about people: what is known of them, contacts, consent, pauses, and their part at a car."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from crm.models import Contact, Pause, Person, Role, Studio
from crm.services.people import PersonFacts
from crm.web.studio.forms.car_forms import KeeperForm, letters_question
from crm.web.studio.forms.desk_fields import DayField, chips
from crm.web.studio.forms.entry import OnceForm, text_field

HOW = {
    "at the desk": "at the desk",
    "on the telephone": "on the telephone",
    "by e-mail": "by e-mail",
    "on paper": "on paper",
}


class PersonForm(OnceForm):
    """What is known of a person."""

    name = text_field("Name", 120, required=True)
    sort = chips("This is a", dict(Person.Sort.choices), required=True)
    greeting = text_field("How a letter begins", 80, help_text="After “Hello”; empty is the name.")
    note = text_field("Note", 400, rows=2)
    moved_away = forms.BooleanField(label="Moved away: notes about our work only", required=False)
    deceased = forms.BooleanField(label="Nothing is sent to this person any more", required=False)

    def facts(self) -> PersonFacts:
        """The corrected facts."""
        names = ("name", "sort", "greeting", "note", "moved_away", "deceased")
        return PersonFacts(**{name: self.cleaned_data[name] for name in names})


class ContactForm(OnceForm):
    """A way to reach a person."""

    kind = chips("By", dict(Contact.Kind.choices), required=True, initial=Contact.Kind.PHONE.value)
    value = text_field("Number or address", 254, required=True)

    def take(self, refused: Any) -> None:
        """A service names the kind of contact that it refused; here they share one field."""
        if refused.field in ("email", "phone", "address"):
            refused.field = "value"
        super().take(refused)


class ContactStateForm(OnceForm):
    """Whether a contact works."""

    because = text_field("How you know that it does not work", 200)


class ConsentForm(OnceForm):
    """The answer to the question that was put."""

    given = chips("Answer", {"yes": "yes", "no": "no"}, required=True)
    channel = chips("Letters by", dict(Contact.Kind.choices), required=True, initial=Contact.Kind.EMAIL.value)
    how = chips("Asked", HOW, required=True)

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.wording = letters_question(studio)


class PauseForm(OnceForm):
    """A time without letters."""

    why = chips("Why", dict(Pause.Why.choices), required=True)
    since = DayField(label="From")
    until = DayField(label="Until", required=False, help_text="Empty is until somebody ends it.")


class RoleForm(KeeperForm):
    """A person and their part at a car."""

    part = chips("Part", dict(Role.Part.choices), required=True, initial=Role.Part.KEEPER.value)
    since = DayField(label="Since")

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {})
        kwargs["initial"] = {"since": today, **kwargs["initial"]}
        super().__init__(*args, **kwargs)
        self.fields["name"].required = True
        self.order_fields(["part", "name", "person", "phone", "email", "letters", "since"])
