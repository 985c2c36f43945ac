"""Finding a car while somebody is still talking: by a scrap of plate, chassis number, name or telephone number.

However much is on file, a search reads a bounded number of keys in a fixed number of queries. Every meaning of what
was typed is one scan of the key index that stops after `SCAN` keys; all scans together are one query. Whole plates
are looked up by themselves, so that a short plate is not lost among longer ones that contain it.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, NamedTuple, TypedDict

from django.db import connection
from django.db.models import Exists, F, IntegerField, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Cast

from crm.care.finding import KeyKind, QueryKey, closeness, query_keys
from crm.care.plates import NotAMark, folded, normal_mark
from crm.models import Car, FindKey, Plate, Role, Visit
from crm.selectors.on_it import on_it_lines

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

SCAN = 40
"""Keys read for one meaning of what was typed."""
PROBED, PROBED_WITH_A_SLIP = 3000, 200
"""Keys of one word, as typed or with a letter left out, that are held against the other words of a name."""
MOST_NAME_KEYS = 14
MOST_ROLES = 300
MOST_WEIGHED = 80
LONGEST_QUERY = 80
_FORMER = 0.15
"""What a plate or a keeper of the past loses against one of today."""


class Scanned(NamedTuple):
    """A key that was found: its kind, the key, and the car or the person it stands for."""

    kind: str
    key: str
    car: int | None
    person: int | None


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
    """What it was found by, where the line does not show it: a former plate, a driver, a chassis number."""


class _Candidate(NamedTuple):
    nearness: float
    because: str
    by_person: bool


def cars_found(text: str, *, most: int, today: date) -> list[Hit]:
    """The cars that what was typed may mean, the nearest first; nothing where it is too short to mean anything."""
    typed = clean_query(text)
    scanned = scan(typed)
    if not scanned:
        return []
    nearest = _weighed(typed, scanned)
    cars = list(_cars(_best(nearest, most=MOST_WEIGHED)))
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
    plates = [car for car in ranked if not found[car].by_person][:room]
    people = [car for car in ranked if found[car].by_person][:room]
    return list(dict.fromkeys([*plates, *people, *ranked]))[:most]


def _days(moment: datetime | None) -> int:
    return moment.toordinal() if moment else 0


def clean_query(text: str) -> str:
    """What was typed without control characters and runs of space, at most `LONGEST_QUERY` long."""
    visible = "".join(" " if unicodedata.category(letter)[0] in "CZ" else letter for letter in text[:400])
    return " ".join(visible.split())[:LONGEST_QUERY]


def scan(typed: str) -> list[Scanned]:
    """Every key that what was typed may mean, in one query."""
    if not typed:
        return []
    arms = [_compiled(arm) for arm in [*_whole_plate(typed), *_arms(query_keys(typed))]]
    if not arms:
        return []
    # Every part was compiled by the ORM; what was typed is in the parameters.
    sql = " UNION ALL ".join(f"SELECT * FROM ({part}) AS arm_{place}" for place, (part, _) in enumerate(arms))  # noqa: S608
    params = [param for _, given in arms for param in given]
    with connection.cursor() as cursor:
        cursor.execute(sql, params)
        return [Scanned(*row) for row in cursor.fetchall()]


Arm = QuerySet[FindKey, tuple[object, ...]] | QuerySet[Plate, tuple[object, ...]]


def _compiled(arm: Arm) -> tuple[str, Sequence[str | int]]:
    sql, params = arm.query.sql_with_params()
    return sql, params


def _whole_plate(typed: str) -> Iterable[Arm]:
    try:
        normal = normal_mark(typed)
    except NotAMark:
        return
    nobody = Cast(Value(None), IntegerField())
    yield (
        Plate.objects.filter(normal=normal)
        .order_by()
        .values_list(Value("whole"), "normal", "car_id", nobody)[:SCAN]
    )


def _arms(keys: Sequence[QueryKey]) -> Iterable[Arm]:
    names = [key for key in keys if key.kind is KeyKind.NAME]
    for key in keys:
        if key.kind is not KeyKind.NAME:
            yield _columns(_matching(key))[:SCAN]
    if not names:
        return
    words: dict[int, list[QueryKey]] = {}
    for key in names:
        words.setdefault(key.word, []).append(key)
    rarest = max(words, key=lambda word: len(words[word][0].key))
    others = [members for word, members in words.items() if word != rarest]
    for place, key in enumerate(words[rarest][:MOST_NAME_KEYS]):
        yield _columns(_named(key, others, probed=PROBED_WITH_A_SLIP if place else PROBED))[:SCAN]


def _columns(rows: QuerySet[FindKey]) -> QuerySet[FindKey, tuple[object, ...]]:
    return rows.order_by().values_list("kind", "key", "car_id", "person_id")


def _matching(key: QueryKey) -> QuerySet[FindKey]:
    same_kind = FindKey.objects.filter(kind=key.kind.value)
    return same_kind.filter(key=key.key) if key.exact else same_kind.filter(key__begins=key.key)


def _named(key: QueryKey, others: Sequence[Sequence[QueryKey]], *, probed: int) -> QuerySet[FindKey]:
    """Keys of people whose name has the rarest word and all the others; only so many are held against the others."""
    rows = _matching(key)
    if not others:
        return rows
    rows = FindKey.objects.filter(pk__in=rows.order_by().values("pk")[:probed])
    for members in others:
        either = Q()
        for member in members[:MOST_NAME_KEYS]:
            either |= Q(key__begins=member.key)
        of_the_person = FindKey.objects.filter(either, kind=key.kind.value, person=OuterRef("person"))
        rows = rows.filter(Exists(of_the_person))
    return rows


def _weighed(typed: str, scanned: Sequence[Scanned]) -> dict[int, _Candidate]:
    """How near each car found is to what was typed, and why it was found."""
    cars: dict[int, _Candidate] = {}
    marks = {row.car for row in scanned if row.kind in ("plate", "whole") and row.car is not None}
    for row in scanned:
        if row.kind == KeyKind.CHASSIS and row.car is not None:
            whole = row.key == folded(typed).replace("Q", "0")
            _nearer(cars, row.car, _Candidate(0.8 if whole else 0.7, "chassis number", by_person=False))
    plates = Plate.objects.filter(car__in=marks).values_list("car_id", "normal", "mark", "until")
    for car, normal, mark, until in plates:
        near = closeness(typed, normal)
        if near:
            because = f"was {mark} until {until:%B %Y}" if until else ""
            _nearer(cars, car, _Candidate((near - _FORMER) if until else near, because, by_person=False))
    people = {row.person: row for row in scanned if row.person is not None}
    if people:
        _weigh_people(typed, people, cars)
    return cars


def _weigh_people(typed: str, people: dict[int, Scanned], cars: dict[int, _Candidate]) -> None:
    roles = (
        Role.objects.filter(person__in=list(people))
        .order_by(F("until").desc(nulls_first=True), "pk")
        .values_list("car_id", "person_id", "person__name", "part", "until")[:MOST_ROLES]
    )
    for car, person, name, part, until in roles:
        by_number = people[person].kind == KeyKind.PHONE
        near = 0.8 if by_number else closeness(typed, name)
        because = "" if part == Role.Part.KEEPER and until is None else f"{part} {name}"
        if until is not None:
            because = f"former {part} {name}"
            near -= _FORMER
        elif by_number and not because:
            because = "by telephone number"
        if near > 0:
            _nearer(cars, car, _Candidate(near, because, by_person=True))


def _nearer(cars: dict[int, _Candidate], car: int, candidate: _Candidate) -> None:
    before = cars.get(car)
    if before is None or candidate.nearness > before.nearness:
        cars[car] = candidate


class _Shown(TypedDict):
    plate_now: str | None
    keeper_now: str | None
    last_in: datetime | None


def _cars(keys: Sequence[int]) -> QuerySet[WithAnnotations[Car, _Shown]]:
    plates = Plate.objects.filter(car=OuterRef("pk"), until__isnull=True)
    keepers = Role.objects.filter(car=OuterRef("pk"), part=Role.Part.KEEPER, until__isnull=True)
    stays = Visit.objects.filter(car=OuterRef("pk"), arrived_at__isnull=False).order_by("-planned_in")
    shown = Car.objects.only("ref", "colour", "make", "model", "body")
    return shown.filter(pk__in=keys).annotate(
        plate_now=Subquery(plates.values("mark")[:1]),
        keeper_now=Subquery(keepers.values("person__name")[:1]),
        last_in=Subquery(stays.values("arrived_at")[:1]),
    )
