"""Forms about a car: taking one on, its facts, its plate, how it is kept."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from crm.care.bodies import BODY_NAMES, Body
from crm.care.distance import from_km, to_km
from crm.care.names import CIRCUMSTANCE_NAMES, PAINT_NAMES, PARKING_NAMES, PLAN_NAMES, WASH_NAMES
from crm.care.paint_terms import PAST_NAMES, Past
from crm.care.surfaces import NOTHING, Surfaces
from crm.care.terms import Circumstance, Paint, Parking, Wash, WashPlan
from crm.models import Car, Keeping, Studio, Units
from crm.selectors.people import NOBODY, Namesakes
from crm.services.registry import HowKept, NewCar
from crm.services.taking_on import NewKeeper
from crm.web.studio.forms.bay_fields import SurfacesField, WholeField, chosen_surfaces
from crm.web.studio.forms.desk_fields import DayField, answered, as_answer, chips, member, yes_no
from crm.web.studio.forms.entry import OnceForm, text_field

MOST_KM_A_YEAR = 500_000
NEW_PERSON = "new"


def letters_question(studio: Studio) -> str:
    """The question that is put to a keeper, word for word as it is stored with the answer."""
    return (
        f"May {studio.name} write to you when a layer on your car is likely to be thin, and before winter? "
        "It is a few letters a year at the most, and each of them can stop all of them."
    )


class CarForm(OnceForm):
    """What a car is."""

    colour = text_field("Colour", 40)
    make = text_field("Make", 40)
    model = text_field("Model", 60)
    year = WholeField(low=1886, high=2100, label="Model year")
    body = chips("Shape", BODY_NAMES, required=True, initial=Body.HATCHBACK.value)
    chassis = text_field(
        "Chassis number", 40, help_text="From the windscreen or the papers. Not needed at first contact."
    )

    def known(self) -> dict[str, Any]:
        """The cleaned facts as arguments of `NewCar`."""
        data = self.cleaned_data
        return {
            **{name: data[name] for name in ("colour", "make", "model", "year", "chassis")},
            "body": Body(data["body"]),
        }


class TakeOnForm(CarForm):
    """A car at first contact. Nothing is needed but one word by which to tell it from others."""

    mark = text_field("Plate", 20)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["mark"].widget.attrs |= {"autocapitalize": "characters", "spellcheck": "false"}
        self.order_fields(["mark", "colour", "make", "model", "body", "year", "chassis"])

    def car(self) -> NewCar:
        """What is known of the car."""
        return NewCar(mark=self.cleaned_data["mark"], **self.known())


class KeeperForm(OnceForm):
    """A person by name, with a number and an address where they gave them."""

    name = text_field("Name", 120)
    phone = text_field("Telephone", 40)
    email = text_field("E-mail", 254)

    def __init__(self, *args: Any, studio: Studio, namesakes: Namesakes = NOBODY, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.wording = letters_question(studio)
        self.fields["phone"].widget = forms.TextInput({"type": "tel", "autocomplete": "off"})
        self.fields["email"].widget = forms.TextInput({"type": "email", "autocomplete": "off"})
        self.fields["letters"] = yes_no(self.wording, unknown="not asked")
        self.more_namesakes = namesakes.more
        if namesakes.people:
            self.people = {str(person.pk): person for person, _ in namesakes.people}
            choices = {str(person.pk): f"{person.name}, {words}" for person, words in namesakes.people}
            self.fields["person"] = chips(
                "Somebody of that name is on file", {**choices, NEW_PERSON: "somebody else"}, required=True
            )

    def keeper(self) -> NewKeeper | None:
        """Who was named; None where nobody was."""
        data = self.cleaned_data
        if not data["name"]:
            return None
        chosen = data.get("person", "")
        return NewKeeper(
            name=data["name"],
            phone=data["phone"],
            email=data["email"],
            letters=answered(data["letters"]),
            wording=self.wording,
            person=self.people[chosen] if chosen and chosen != NEW_PERSON else None,
        )

    def clean(self) -> dict[str, Any]:
        """A number or an answer belongs to somebody."""
        cleaned = super().clean() or self.cleaned_data
        said = any(cleaned.get(name) for name in ("phone", "email", "letters"))
        if said and not cleaned.get("name") and "name" not in self.errors:
            self.add_error("name", "Say whose number, address or answer this is.")
        return cleaned


class FactsForm(CarForm):
    """Everything about a car but its plate and its people."""

    paint = chips("Paint", PAINT_NAMES, required=True)
    paint_past = chips("Its paint before us", PAST_NAMES, required=True, initial=Past.UNKNOWN.value)
    circumstances = forms.MultipleChoiceField(
        label="How it is lived with",
        choices=[(item.value, words) for item, words in CIRCUMSTANCE_NAMES.items()],
        required=False,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": "Choose among these."},
    )
    wash_plan = chips("Wash plan", PLAN_NAMES, required=True)
    plan_anchor = DayField(label="Wash visits are counted from", required=False)
    do_nots = text_field("What not to do on this car", 400, rows=3)

    def __init__(self, *args: Any, car: Car, **kwargs: Any) -> None:
        kwargs["initial"] = {
            **{
                name: getattr(car, name)
                for name in ("colour", "make", "model", "year", "body", "chassis", "paint", "paint_past")
            },
            **{name: getattr(car, name) for name in ("circumstances", "wash_plan", "plan_anchor", "do_nots")},
        }
        super().__init__(*args, **kwargs)
        self.stored = {"aluminium": car.aluminium, "plastic": car.plastic}
        self.shape = Body(car.body)
        for name, label in (("aluminium", "Aluminium panels"), ("plastic", "Plastic panels")):
            self.fields[name] = SurfacesField(body=self.shape, label=label, required=False)

    def chosen(self, name: str) -> Surfaces:
        """What a picker shows as chosen."""
        if not self.is_bound:
            return self.stored[name] or NOTHING
        return chosen_surfaces([str(key) for key in self[name].value() or ()])

    @property
    def aluminium_chosen(self) -> Surfaces:
        return self.chosen("aluminium")

    @property
    def plastic_chosen(self) -> Surfaces:
        return self.chosen("plastic")

    def car(self) -> NewCar:
        """The corrected facts."""
        data = self.cleaned_data
        return NewCar(
            **self.known(),
            paint=Paint(data["paint"]),
            paint_past=Past(data["paint_past"]),
            aluminium=data["aluminium"] or NOTHING,
            plastic=data["plastic"] or NOTHING,
            circumstances=[Circumstance(value) for value in data["circumstances"]],
            wash_plan=WashPlan(data["wash_plan"]),
            plan_anchor=data["plan_anchor"],
            do_nots=data["do_nots"],
        )


class PlateForm(OnceForm):
    """A new plate, and since when."""

    mark = text_field("New plate", 20, required=True)
    since = DayField(label="On the car since")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["mark"].widget.attrs |= {"autocapitalize": "characters", "spellcheck": "false"}


class PlateOffForm(OnceForm):
    """The plate comes off the car."""

    until = DayField(label="Off the car from")


class KeptForm(OnceForm):
    """How a car is kept and used from a day on. Not knowing is an answer."""

    since = DayField(label="From")
    parking = chips("Where it stands at night", PARKING_NAMES, unknown="not known")
    salted_roads = yes_no("Driven on salted roads")
    wash_summer = chips("Washed in summer, mainly", WASH_NAMES, unknown="not known")
    wash_winter = chips("Washed in winter, mainly", WASH_NAMES, unknown="not known")
    on_plan = forms.BooleanField(label="Comes to us for four or more washes a year", required=False)
    stored = forms.BooleanField(label="Laid up, not driven", required=False)

    def __init__(self, *args: Any, studio: Studio, now: Keeping | None, today: date, **kwargs: Any) -> None:
        self.in_miles = studio.units == Units.MILES
        kwargs["initial"] = {"since": today, **(self._stored(now) if now else {})}
        super().__init__(*args, **kwargs)
        self.fields["distance"] = WholeField(
            low=0,
            high=from_km(MOST_KM_A_YEAR, in_miles=self.in_miles),
            label="Miles a year" if self.in_miles else "Kilometres a year",
            help_text="Empty is not known.",
        )
        self.order_fields(["since", "parking", "distance"])

    def _stored(self, now: Keeping) -> dict[str, Any]:
        return {
            "parking": now.parking or "",
            "distance": None if now.km_a_year is None else from_km(now.km_a_year, in_miles=self.in_miles),
            "salted_roads": as_answer(now.salted_roads),
            "wash_summer": now.wash_summer or "",
            "wash_winter": now.wash_winter or "",
            "on_plan": now.on_plan,
            "stored": now.stored,
        }

    def kept(self) -> HowKept:
        """The answers; None is not known."""
        data = self.cleaned_data
        distance = data["distance"]
        return HowKept(
            since=data["since"],
            parking=member(Parking, data["parking"]),
            km_a_year=None
            if distance is None
            else min(to_km(distance, in_miles=self.in_miles), MOST_KM_A_YEAR),
            salted_roads=answered(data["salted_roads"]),
            wash_summer=member(Wash, data["wash_summer"]),
            wash_winter=member(Wash, data["wash_winter"]),
            on_plan=data["on_plan"],
            stored=data["stored"],
        )
