"""The cars of the bench and the people who keep them, with the keys under which both are found."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cache
from random import Random

from crm.care.bodies import Body
from crm.care.finding import KeyKind, chassis_keys, look_keys, name_keys, phone_keys, plate_keys
from crm.care.plates import display_mark
from crm.management.bench import invented
from crm.management.bench.bulk import Rows
from crm.management.bench.works import WAYS_OF_KEEPING
from crm.models import Car, Consent, Contact, FindKey, Keeping, Person, Plate, Role
from crm.models.car import REFERENCE_LETTERS

MODELS = (
    ("Halden", "Estate", Body.ESTATE),
    ("Halden", "Saloon", Body.SALOON),
    ("Corrie", "3-door", Body.HATCHBACK_3),
    ("Corrie", "Five", Body.HATCHBACK),
    ("Corrie", "Five", Body.HATCHBACK),
    ("Marram", "Van", Body.VAN),
    ("Marram", "Pick-up", Body.PICK_UP),
    ("Sorrel", "Coupe", Body.COUPE),
    ("Sorrel", "Spyder", Body.CONVERTIBLE),
)
COLOURS = ("Blue", "Black", "Grey", "White", "Silver", "Red", "Green", "Bronze")
FLEET_EVERY, FLEET_SIZE = 1500, 30
SAME_HOUSEHOLD = 0.2


@dataclass
class FleetRows:
    """The tables that are filled here."""

    cars: Rows = field(
        default_factory=lambda: Rows(
            Car, "id", "ref", "chassis", "make", "model", "year", "colour", "body", "created_at"
        )
    )
    plates: Rows = field(
        default_factory=lambda: Rows(Plate, "id", "car_id", "mark", "normal", "since", "until")
    )
    people: Rows = field(default_factory=lambda: Rows(Person, "id", "name", "sort", "stop_key", "created_at"))
    contacts: Rows = field(
        default_factory=lambda: Rows(Contact, "id", "person_id", "kind", "value", "as_given")
    )
    consents: Rows = field(
        default_factory=lambda: Rows(
            Consent, "id", "person_id", "purpose", "channel", "given", "wording", "how", "at"
        )
    )
    roles: Rows = field(
        default_factory=lambda: Rows(Role, "id", "car_id", "person_id", "part", "since", "until")
    )
    keepings: Rows = field(
        default_factory=lambda: Rows(
            Keeping,
            "id", "car_id", "since", "parking", "km_a_year", "salted_roads", "wash_summer", "wash_winter", "on_plan",
        )
    )  # fmt: skip
    keys: Rows = field(default_factory=lambda: Rows(FindKey, "id", "kind", "key", "car_id", "person_id"))

    def flush(self) -> None:
        """Write what is left, whatever is pointed at first."""
        for rows in (
            self.people, self.cars, self.plates, self.contacts, self.consents, self.roles, self.keepings, self.keys,
        ):  # fmt: skip
            rows.flush()


class Fleet:
    """Writes cars one after another, each with its keeper."""

    def __init__(self, *, today: date, dice: Random) -> None:
        self.rows = FleetRows()
        self._today = today
        self._now = f"{today} 06:00:00"
        self._dice = dice
        self._counts = dict.fromkeys(("plates", "people", "contacts", "roles", "keys"), 0)
        self._keeper = 0
        self._fleet = 0
        """The number of the company whose cars are being written, or 0."""

    @property
    def people(self) -> int:
        """How many people and companies there are."""
        return self._counts["people"]

    def write(self, number: int) -> None:
        """The car of this number (from 1 on), its plates, its keeper and how it is kept."""
        dice = self._dice
        make, model, body = MODELS[number % len(MODELS)]
        chassis = invented.chassis(number) if dice.random() < 0.6 else ""
        year, colour = 2008 + number % 18, COLOURS[number // 3 % len(COLOURS)]
        self.rows.cars.add(
            number, reference(number), chassis, make, model, year, colour, body.value, self._now,
        )  # fmt: skip
        since = self._today - timedelta(days=2600 - number % 400)
        marks: list[tuple[str, date | None]] = [(invented.mark(2 * number), None)]
        if dice.random() < 0.1:
            marks.append((invented.mark(2 * number + 1), since))
        for normal, until in marks:
            dates = (None, str(until)) if until else (str(since), None)
            self.rows.plates.add(self._next("plates"), number, display_mark(normal), normal, *dates)
        keys = {key for normal, _ in marks for key in plate_keys(normal)}
        self._keys(KeyKind.PLATE, keys, number, None)
        if chassis:
            self._keys(KeyKind.CHASSIS, chassis_keys(chassis), number, None)
        self._keys(KeyKind.LOOK, _keys_of_looks(colour, make, model, year), number, None)
        self._keep(number, since)
        kept = WAYS_OF_KEEPING[way_of(number)]
        self.rows.keepings.add(
            number, number, str(kept.since), kept.parking, kept.km_a_year, kept.salted_roads, kept.wash_summer,
            kept.wash_winter, kept.on_plan,
        )  # fmt: skip

    def _keep(self, number: int, since: date) -> None:
        dice = self._dice
        place = number % FLEET_EVERY
        if place == 0:
            self._fleet = self._take_on(invented.company(dice), "company")
        elif place == FLEET_SIZE:
            self._fleet = 0
        if self._fleet:
            self._keeper = self._fleet
        elif not self._keeper or place == FLEET_SIZE or dice.random() > SAME_HOUSEHOLD:
            self._keeper = self._take_on(invented.name(dice), "private")
        self.rows.roles.add(self._next("roles"), number, self._keeper, "keeper", str(since), None)
        if dice.random() < 0.06:
            before = self._take_on(invented.name(dice), "private")
            self.rows.roles.add(self._next("roles"), number, before, "keeper", None, str(since))

    def _take_on(self, words: tuple[str, str], sort: str) -> int:
        dice, rows = self._dice, self.rows
        person = self._next("people")
        rows.people.add(person, " ".join(words), sort, f"bench{person:017}", self._now)
        self._keys(KeyKind.NAME, _keys_of_word(words[0]) | _keys_of_word(words[1]), None, person)
        if dice.random() < 0.9:
            address = f"{words[0]}.{words[1]}{person}@example.com".lower()
            rows.contacts.add(self._next("contacts"), person, "email", address, address)
            if dice.random() < 0.7:
                answer = (
                    "May we write?",
                    "at the desk",
                    f"{self._today - timedelta(days=person % 900)} 10:00:00",
                )
                rows.consents.add(person, person, "letters", "email", dice.random() < 0.9, *answer)
        if dice.random() < 0.85:
            number = invented.number(dice)
            rows.contacts.add(self._next("contacts"), person, "phone", number, number)
            self._keys(KeyKind.PHONE, _keys_of_number(number), None, person)
        return person

    def _keys(self, kind: KeyKind, keys: Set[str], car: int | None, person: int | None) -> None:
        for key in keys:
            self.rows.keys.add(self._next("keys"), kind.value, key, car, person)

    def _next(self, table: str) -> int:
        self._counts[table] += 1
        return self._counts[table]


def reference(number: int) -> str:
    """The public reference of a car: another for every number, spread over all there are."""
    rest = number * 524_287_001 % len(REFERENCE_LETTERS) ** 7
    letters = ""
    for _ in range(7):
        rest, letter = divmod(rest, len(REFERENCE_LETTERS))
        letters += REFERENCE_LETTERS[letter]
    return letters


def way_of(car: int) -> int:
    """Which of the ways of keeping a car is this one's."""
    return car * 7 % 11 % len(WAYS_OF_KEEPING)


def body_of(car: int) -> Body:
    """The shape of a car."""
    return MODELS[car % len(MODELS)][2]


@cache
def _keys_of_word(word: str) -> frozenset[str]:
    return frozenset(name_keys(word))


@cache
def _keys_of_looks(colour: str, make: str, model: str, year: int) -> frozenset[str]:
    return frozenset(look_keys(colour, make, model, str(year)))


@cache
def _keys_of_number(number: str) -> frozenset[str]:
    return frozenset(phone_keys(number))
