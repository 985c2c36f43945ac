"""Finding a car while somebody is still talking: by a scrap of plate, chassis number, name or telephone number.

Where one knows none of these, by what one sees of it: colour, make, model and year. The key index is read in
`crm.selectors.scanning`; here what was found there is weighed, told and put in order, in a fixed number of queries.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import Enum, auto
from typing import TYPE_CHECKING, NamedTuple, TypedDict

from django.db.models import F, OuterRef, QuerySet, Subquery

from crm.care.finding import KeyKind, closeness
from crm.care.looks import Looks, likeness
from crm.care.plates import folded
from crm.models import Car, Plate, Role, Visit
from crm.selectors.held import Standing, keepers_on, plates_on, standing
from crm.selectors.on_it import on_it_lines
from crm.selectors.scanning import Scanned, clean_query, scan, scan_with_slips

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

MOST_ROLES = 300
MOST_WEIGHED = 80
_NOT_NOW = 0.15
"""What a plate or a keeper of the past, or of a day to come, loses against one of today."""
_LOOKS = 0.25
"""What the looks of a car count for, at most: below every answer by a plate, a number or a name."""
_SURE = 0.8
"""From here on something was found that was typed without a slip."""


@dataclass(frozen=True)
class Hit:
    """One car, as a line of the results."""

    ref: str
    plate: str
    car: str
    keeper: str
    last_visit: datetime | None
    line: str
    found_by: str = ""
    """What it was found by, where the line does not show it: a former plate, a driver, its colour and make."""


class _By(Enum):
    MARK = auto()
    PERSON = auto()
    LOOKS = auto()


class _Candidate(NamedTuple):
    nearness: float
    because: str
    by: _By


def cars_found(text: str, *, most: int, today: date) -> list[Hit]:
    """The cars that what was typed may mean, the nearest first; nothing where it is too short to mean anything."""
    typed = clean_query(text)
    nearest = _weighed(typed, scan(typed), today)
    if not any(found.nearness >= _SURE or found.by is _By.LOOKS for found in nearest.values()):
        _weigh_looks(typed, scan_with_slips(typed), nearest)
    if not nearest:
        return []
    cars = list(_cars(_best(nearest, most=MOST_WEIGHED), today))
    cars.sort(key=lambda car: (-round(nearest[car.pk].nearness, 3), -_days(car.last_in), car.pk))
    kept = set(_best({car.pk: nearest[car.pk] for car in cars}, most=most))
    chosen = [car for car in cars if car.pk in kept]
    lines = on_it_lines(chosen, today=today)
    return [
        Hit(
            ref=car.ref,
            plate=car.plate_now or "",
            car=car.known_as,
            keeper=car.keeper_now or "",
            last_visit=car.last_in,
            line=lines[car.pk],
            found_by=nearest[car.pk].because,
        )
        for car in chosen
    ]


def _best(found: Mapping[int, _Candidate], *, most: int) -> list[int]:
    """The nearest cars, with room for some found by their plate and some found by a person whichever is nearer."""
    ranked = sorted(found, key=lambda car: -found[car].nearness)
    room = most // 3
    plates = [car for car in ranked if found[car].by is _By.MARK][:room]
    people = [car for car in ranked if found[car].by is _By.PERSON][:room]
    return list(dict.fromkeys([*plates, *people, *ranked]))[:most]


def _days(moment: datetime | None) -> int:
    return moment.toordinal() if moment else 0


def _weighed(typed: str, scanned: Sequence[Scanned], today: date) -> dict[int, _Candidate]:
    """How near each car found is to what was typed, and why it was found."""
    cars: dict[int, _Candidate] = {}
    for row in scanned:
        if row.kind == KeyKind.CHASSIS and row.car is not None:
            whole = row.key == folded(typed).replace("Q", "0")
            _nearer(cars, row.car, _Candidate(0.85 if whole else 0.7, "chassis number", _By.MARK))
    marks = {row.car for row in scanned if row.kind in ("plate", "whole") and row.car is not None}
    if marks:
        _weigh_plates(typed, marks, cars, today)
    people = {row.person: row for row in scanned if row.person is not None}
    if people:
        _weigh_people(typed, people, cars, today)
    _weigh_looks(typed, scanned, cars)
    return cars


def _weigh_plates(typed: str, marks: set[int], cars: dict[int, _Candidate], today: date) -> None:
    plates = Plate.objects.filter(car__in=marks).values_list("car_id", "normal", "mark", "since", "until")
    for car, normal, mark, since, until in plates:
        near, because = closeness(typed, normal), ""
        match standing(since, until, day=today):
            case Standing.LATER:
                near, because = near - _NOT_NOW, f"{mark} from {since:%-d %B %Y}"
            case Standing.FORMER:
                near, because = near - _NOT_NOW, f"was {mark} until {until:%B %Y}"
        if near > 0:
            _nearer(cars, car, _Candidate(near, because, _By.MARK))


def _weigh_people(typed: str, people: dict[int, Scanned], cars: dict[int, _Candidate], today: date) -> None:
    roles = (
        Role.objects.filter(person__in=list(people))
        .order_by(F("until").desc(nulls_first=True), "pk")
        .values_list("car_id", "person_id", "person__name", "part", "since", "until")[:MOST_ROLES]
    )
    for car, person, name, part, since, until in roles:
        by_number = people[person].kind == KeyKind.PHONE
        near = 0.8 if by_number else closeness(typed, name)
        because = "by telephone number" if by_number else ""
        if part != Role.Part.KEEPER:
            because = f"{part} {name}"
        match standing(since, until, day=today):
            case Standing.LATER:
                near, because = near - _NOT_NOW, f"{part} {name} from {since:%-d %B %Y}"
            case Standing.FORMER:
                near, because = near - _NOT_NOW, f"former {part} {name}"
        if near > 0:
            _nearer(cars, car, _Candidate(near, because, _By.PERSON))


def _weigh_looks(typed: str, scanned: Sequence[Scanned], cars: dict[int, _Candidate]) -> None:
    seen = {row.car for row in scanned if row.kind == KeyKind.LOOK and row.car is not None}
    if not seen:
        return
    for car in Car.objects.filter(pk__in=seen).only("colour", "make", "model", "year"):
        near, which = likeness(typed, Looks(car.colour, car.make, car.model, car.year))
        if near > 0:
            _nearer(cars, car.pk, _Candidate(_LOOKS * near, f"by {which}", _By.LOOKS))


def _nearer(cars: dict[int, _Candidate], car: int, candidate: _Candidate) -> None:
    before = cars.get(car)
    if before is None or candidate.nearness > before.nearness:
        cars[car] = candidate


class _Shown(TypedDict):
    plate_now: str | None
    keeper_now: str | None
    last_in: datetime | None


def _cars(keys: Sequence[int], today: date) -> QuerySet[WithAnnotations[Car, _Shown]]:
    plates = plates_on(today).filter(car=OuterRef("pk")).reverse()
    keepers = keepers_on(today).filter(car=OuterRef("pk")).reverse()
    stays = Visit.objects.filter(car=OuterRef("pk"), arrived_at__isnull=False).order_by("-planned_in")
    shown = Car.objects.only("ref", "colour", "make", "model", "body")
    return shown.filter(pk__in=keys).annotate(
        plate_now=Subquery(plates.values("mark")[:1]),
        keeper_now=Subquery(keepers.values("person__name")[:1]),
        last_in=Subquery(stays.values("arrived_at")[:1]),
    )
