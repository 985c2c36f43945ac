"""What is typed in the bench, and which car is meant: chosen from the record itself, always the same."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Max, Q, QuerySet

from crm.care.plates import folded
from crm.models import Car, Contact, FindKey, Layer, Plate, Role, Visit

SHOWN = 8
"""Results while typing: a car is sought by a scrap that no more than so many answer to."""
LOOKED_AT = 400
_SWAPPED = str.maketrans("01258OIZSB", "OIZSB01258")


class NothingToSeek(Exception):
    """The record is too small to choose from."""


@dataclass(frozen=True)
class Scrap:
    """A thing typed into the find box. `car`: the reference of the car that is meant; none where many are."""

    what: str
    typed: str
    car: str | None
    answers: QuerySet[Car]
    """Every car that may be among the results."""


def scraps() -> list[Scrap]:
    """What people type, one of each kind."""
    return [plate_scrap(), chassis_tail(), misspelt_name(), phone_scrap(), common_surname(), looks()]


def plate_scrap() -> Scrap:
    """Three characters from within a plate, one of them written as the one it is mistaken for."""
    plates = Plate.objects.filter(until__isnull=True).order_by("pk").values_list("normal", "car__ref")
    for normal, ref in _from_the_middle(plates):
        for start in range(2, len(normal) - 2):
            scrap = normal[start : start + 3]
            typed = scrap.translate(_SWAPPED)
            if typed == scrap or not any(letter.isdigit() for letter in typed):
                continue
            keys = FindKey.objects.filter(kind="plate", key__begins=folded(typed))
            if keys.values("car").distinct()[: SHOWN + 1].count() <= SHOWN:
                return Scrap("plate", typed, ref, Car.objects.filter(pk__in=keys.values("car")))
    raise NothingToSeek("No plate of this record has a scrap that can be mistaken. Make it larger.")


def chassis_tail() -> Scrap:
    """The last four characters of a chassis number."""
    cars = Car.objects.exclude(chassis="").order_by("pk").values_list("chassis", "ref")
    for chassis, ref in _from_the_middle(cars):
        typed = chassis[-4:]
        # Many more numbers hold these characters somewhere, but those that end in them come first.
        if FindKey.objects.filter(kind="chassis", key=typed).count() <= SHOWN:
            return Scrap("chassis tail", typed, ref, _with_digits(typed))
    raise NothingToSeek("No chassis number of this record has a tail of its own. Make it larger.")


def misspelt_name() -> Scrap:
    """First name and surname with two letters of the surname swapped."""
    for name, ref in _from_the_middle(_keepers()):
        first, _, last = name.partition(" ")
        if len(last) < 6 or Role.objects.filter(person__name=name).count() > SHOWN:
            continue
        typed = f"{first} {last[:2]}{last[3]}{last[2]}{last[4:]}".lower()
        if typed != name.lower():
            return Scrap("name, one slip", typed, ref, Car.objects.all())
    raise NothingToSeek("No keeper of this record has a name to misspell. Make it larger.")


def phone_scrap() -> Scrap:
    """The last five digits of a telephone number."""
    phones = Contact.objects.filter(
        kind=Contact.Kind.PHONE, person__roles__part=Role.Part.KEEPER, person__roles__until__isnull=True
    )
    for value, ref in _from_the_middle(phones.order_by("pk").values_list("value", "person__roles__car__ref")):
        typed = value[-5:]
        people = FindKey.objects.filter(kind="phone", key__begins=typed).values("person")
        if Role.objects.filter(person__in=people).count() <= SHOWN:
            return Scrap("telephone", typed, ref, _with_digits(typed))
    raise NothingToSeek("No telephone number of this record has an end of its own. Make it larger.")


def common_surname() -> Scrap:
    """The surname that most keepers have: no one car is meant, but every result has to have it."""
    names: dict[str, int] = {}
    for name in Role.objects.values_list("person__name", flat=True):
        surname = name.rpartition(" ")[2]
        names[surname] = names.get(surname, 0) + 1
    commonest = max(names, key=lambda surname: (names[surname], surname))
    kept = Role.objects.filter(person__name__endswith=f" {commonest}")
    return Scrap("common surname", commonest.lower(), None, Car.objects.filter(pk__in=kept.values("car")))


def looks() -> Scrap:
    """Colour, make and year of a car: no one car is meant, but every result has to look like that."""
    car = Car.objects.exclude(Q(colour="") | Q(make="") | Q(year=None)).latest("pk")
    alike = Car.objects.filter(colour=car.colour, make=car.make, year=car.year)
    return Scrap("looks", f"{car.colour} {car.make} {car.year}".lower(), None, alike)


def car_with_visits(least: int, most: int | None = None) -> str:
    """The reference of a car with so many visits, the one with the most layers."""
    counted = Visit.objects.values("car").annotate(visits=Count("pk")).filter(visits__gte=least)
    if most is not None:
        counted = counted.filter(visits__lte=most)
    cars = [row["car"] for row in counted]
    first = min(cars, default=None)
    if first is None:
        raise NothingToSeek(f"No car of this record has {least} visits. Make it larger.")
    fullest = (
        Layer.objects.filter(car__in=sorted(cars)[:500])
        .values("car")
        .annotate(layers=Count("pk"), ref=Max("car__ref"))
        .order_by("-layers", "car")
        .first()
    )
    return str(fullest["ref"]) if fullest else Car.objects.get(pk=first).ref


def _with_digits(typed: str) -> QuerySet[Car]:
    """Cars with these digits in the chassis number, or in a number of anybody who has or had to do with them."""
    rung = Role.objects.filter(person__contacts__value__contains=typed)
    return Car.objects.filter(Q(chassis__contains=typed) | Q(pk__in=rung.values("car")))


def _keepers() -> QuerySet[Role, tuple[str, str]]:
    current = Role.objects.filter(part=Role.Part.KEEPER, until__isnull=True, person__sort="private")
    return current.order_by("pk").values_list("person__name", "car__ref")


def _from_the_middle(rows: QuerySet[Any, tuple[str, str]]) -> Iterator[tuple[str, str]]:
    """Some rows from the middle of the record, then some from its start."""
    middle = rows.count() // 2
    yield from rows[middle : middle + LOOKED_AT]
    yield from rows[:LOOKED_AT]
