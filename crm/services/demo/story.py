"""The story of one car: whose it is, how it is kept, when it was here and what was done."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from crm.care.surfaces import Surfaces
from crm.care.terms import Parking, Wash
from crm.models import Car, Contact, Person, Product, Role, Visit
from crm.services.demo.crew import Crew
from crm.services.demo.days import Days
from crm.services.demo.jobs import Work
from crm.services.demo.nature import Nature
from crm.services.people import hear_answer
from crm.services.registry import (
    Answer,
    HowKept,
    NewCar,
    add_contact,
    give_role,
    take_on_car,
    take_on_person,
    write_down_keeping,
)

WORDING = (
    "May we write to you when a layer is likely to be thin, and before winter? You can stop it at any time."
)


@dataclass(frozen=True, kw_only=True)
class Owner:
    """A person or a company. `letters`: the answer to whether letters are wanted; None was never asked."""

    name: str
    phone: str = ""
    email: str = ""
    letters: bool | None = True
    sort: str = Person.Sort.PRIVATE
    greeting: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Stay:
    """One stay of the car, and how far it has come: `nights` in the bay, then handed over unless `state` says."""

    on: date
    purpose: Visit.Purpose
    work: Work = field(default_factory=Work)
    nights: int = 0
    arrives: tuple[int, int] = (8, 40)
    lays: tuple[int, int] = (14, 30)
    laid_after: int | None = None
    """Days from arrival to laying; as a rule the day after where the car stays two nights or more."""
    state: Visit.State = Visit.State.HANDED_OVER
    arrival: str = ""
    scope: str = ""
    left_out: str = ""
    promise: str = ""
    promise_months: int | None = None
    promise_reason: str = ""
    hours: float | None = None
    left: tuple[tuple[str, Surfaces], ...] = ()
    odometer_km: int | None = None
    typed_late: bool = False
    """The bench wrote it all down the evening after."""


Happening = Callable[[datetime, Car, "Scene"], None]


@dataclass(frozen=True, kw_only=True)
class Story:
    """Everything about one car. Stays and happenings may be in any order."""

    car: NewCar
    owner: Owner
    since: date
    kept: tuple[HowKept, ...] = ()
    payer: Owner | None = None
    driver: Owner | None = None
    stays: tuple[Stay, ...] = ()
    happenings: tuple[tuple[datetime, Happening], ...] = ()
    km: int | None = 20_000
    """On the clock when the story begins; None where nobody reads it."""


@dataclass
class Scene:
    """What the stories share: people already on file, the crew, the shelf, the calendar."""

    crew: Crew
    days: Days
    shelf: dict[str, Product]
    nature: Nature
    people: dict[str, Person] = field(default_factory=dict)

    def person(self, owner: Owner, *, on: date) -> Person:
        """Somebody on file, taken on where they are new."""
        if owner.name not in self.people:
            self.people[owner.name] = self._take_on(owner, on)
        return self.people[owner.name]

    def _take_on(self, owner: Owner, on: date) -> Person:
        row = take_on_person(
            name=owner.name, sort=owner.sort, greeting=owner.greeting, note=owner.note, by=self.crew.desk
        )
        for kind, value in ((Contact.Kind.PHONE, owner.phone), (Contact.Kind.EMAIL, owner.email)):
            if value:
                add_contact(person=row, kind=kind, value=value, by=self.crew.desk)
        if owner.letters is not None:
            answer = Answer(
                purpose="letters",
                channel=Contact.Kind.EMAIL,
                given=owner.letters,
                wording=WORDING,
                how="at the desk",
            )
            hear_answer(person=row, answer=answer, at=self.days.at(on, 8, 45), by=self.crew.desk)
        return row


def begin(story: Story, scene: Scene) -> Car:
    """Start the file: the car, its people and how it is kept."""
    car = take_on_car(car=story.car, by=scene.crew.desk, on=story.since)
    parts: Sequence[tuple[Owner | None, str]] = (
        (story.owner, Role.Part.KEEPER),
        (story.payer, Role.Part.PAYER),
        (story.driver, Role.Part.DRIVER),
    )
    for owner, part in parts:
        if owner is not None:
            person = scene.person(owner, on=story.since)
            give_role(car=car, person=person, part=part, since=story.since, by=scene.crew.desk)
    for kept in story.kept:
        write_down_keeping(car=car, kept=kept, by=scene.crew.desk)
    return car


def daily(since: date, km: int | None = 12_000, *, parking: Parking | None = Parking.OUTDOORS) -> HowKept:
    """A daily car in a salted town, washed by hand in summer."""
    return HowKept(
        since=since,
        parking=parking,
        km_a_year=km,
        salted_roads=True,
        wash_summer=Wash.HAND_NEUTRAL,
        wash_winter=Wash.TOUCH_FREE,
    )
