"""The cars of a branch as its winter round sees them: facts from the record in the engine's own terms."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from django.db.models import F, QuerySet

from crm.care.coats import Habit
from crm.care.months import add_months
from crm.care.surfaces import NOTHING, PANELS, Surfaces, Zone
from crm.care.terms import WaterGrade
from crm.care.winter_car import Candidate, Owner, Whereabouts
from crm.care.winter_curves import Span
from crm.models import Branch, Car, CarEvent, Keeping, Pause, Person, Studio, Visit, WinterRound
from crm.selectors.coats import habits_of
from crm.selectors.graded import graded_of
from crm.selectors.letters import Standing, Windows, standings
from crm.selectors.reach import letter_reach
from crm.selectors.sheet_builder import COATINGS
from crm.selectors.studio import local_day, tables_of
from crm.selectors.winter_cover import Row, cover_of, rows_of
from crm.selectors.winter_plan_state import last_at

_WHEEL_CHANGES = (CarEvent.Kind.WHEELS_ONE_ON, CarEvent.Kind.WHEELS_TWO_ON)


def cars_of_branch(branch: Branch) -> QuerySet[Car]:
    """The cars in use or in storage that were last handed over at a branch."""
    kept = Car.objects.filter(status__in=(Car.Status.ACTIVE, Car.Status.STORED))
    return last_at([branch.pk], kept).order_by("pk")


@dataclass(frozen=True, slots=True)
class _Known:
    """What was read for all cars at once."""

    standings: Mapping[int, Standing]
    habits: Mapping[int, tuple[Habit, ...]]
    rows: Mapping[int, Mapping[Zone, list[Row]]]
    owners: Mapping[int, Owner]
    """By person."""
    asked: Mapping[int, Owner]
    """The same people without the open letters about the cars that they were asked for, by person."""
    waiting: Mapping[int, int | None]
    grades: Mapping[int, WaterGrade]
    first_set_on: Collection[int]
    promised: Mapping[int, date]
    set_aside: Mapping[int, str]


def candidates(
    season: WinterRound,
    cars: Sequence[Car],
    *,
    studio: Studio,
    now: datetime,
    waiting: Mapping[int, int | None] | None = None,
) -> list[Candidate]:
    """These cars as candidates of a round, with so many queries however many they are.

    `waiting`: cars whose invitation is open, with its letter. That letter counts towards no cap for the car, which is
    asked already, but for another car of its owners as every letter does. None where somebody asked in person:
    whether letters may be written is then beside the point.
    """
    waiting = waiting or {}
    windows = Windows.on(studio, now)
    keys = [car.pk for car in cars]
    where = standings(keys, windows=windows)
    span = Span.of(season.salt_from, season.salt_until)
    rows = rows_of(keys, span, studio.zone)
    keepers = {car: standing.keeper_id for car, standing in where.items() if standing.keeper_id}
    letters = [letter for letter in waiting.values() if letter is not None]
    asked = {person for car, person in keepers.items() if waiting.get(car) is not None}
    known = _Known(
        standings=where,
        habits=_habits(keys, windows.today),
        rows=rows,
        owners=_owners(set(keepers.values()), studio=studio, now=now, today=windows.today),
        asked=_owners(asked, studio=studio, now=now, today=windows.today, without=letters),
        waiting=waiting,
        grades=_coat_grades(rows, studio),
        first_set_on=_first_set_on(keys),
        promised=_promised(season, where, windows.today, studio),
        set_aside=dict(season.set_aside.values_list("car", "because")),
    )
    places = tuple(tables_of(studio).winter.places)
    return [_candidate(car, known, places, windows.today) for car in cars]


def _candidate(car: Car, known: _Known, places: tuple[Zone, ...], today: date) -> Candidate:
    standing = known.standings[car.pk]
    booked_on = standing.booked_on
    return Candidate(
        key=car.pk,
        cover=cover_of(car, known.rows.get(car.pk, {}), places),
        owner=_owner_of(car, standing.keeper_id or 0, known),
        whereabouts=Whereabouts(car.status),
        habit=_habit(standing, known.habits.get(car.pk, ())),
        last_seen=standing.last_seen,
        # What stands in the bay was booked for a day that is over.
        booked_on=max(booked_on, today) if booked_on else None,
        coat_grade=known.grades.get(car.pk),
        swap_due=car.pk in known.first_set_on,
        promise_due=known.promised.get(car.pk),
        set_aside=known.set_aside.get(car.pk, ""),
    )


def _owner_of(car: Car, person: int, known: _Known) -> Owner | None:
    owner = known.owners.get(person)
    if owner is None or car.pk not in known.waiting:
        return owner
    by_letter = known.waiting[car.pk] is not None
    return known.asked[person] if by_letter else Owner(died=owner.died)


def _habit(standing: Standing, habits: tuple[Habit, ...]) -> Habit | None:
    """How it is kept now. Salted roads are also known from the marks of the car itself."""
    now = habits[-1] if habits else None
    if not standing.salted:
        return now
    return replace(now, salted_roads=True) if now else Habit(date.min, salted_roads=True)


def _habits(cars: Sequence[int], today: date) -> dict[int, tuple[Habit, ...]]:
    newest: dict[int, Keeping] = {
        row.car_id: row for row in Keeping.objects.filter(car__in=cars, since__lte=today).order_by("since")
    }
    return {car: habits_of([keeping]) for car, keeping in newest.items()}


def _owners(
    people: Collection[int], *, studio: Studio, now: datetime, today: date, without: Collection[int] = ()
) -> dict[int, Owner]:
    if not people:
        return {}
    rows = Person.objects.in_bulk(list(people))
    reach = letter_reach(rows.values(), now=now, studio=studio, without=without)
    pauses = {
        pause.person_id: pause
        for pause in Pause.objects.filter(person__in=rows, since__lte=today).order_by("since")
        if pause.until is None or pause.until >= today
    }
    return {pk: _owner(person, reach[pk].against, pauses.get(pk)) for pk, person in rows.items()}


def _owner(person: Person, against: str, pause: Pause | None) -> Owner:
    why, since = (pause.why, pause.since) if pause is not None else (None, None)
    return Owner(
        reachable=not against,
        because=against,
        died=person.deceased,
        complaint_since=since if why == Pause.Why.COMPLAINT else None,
        unpaid=why == Pause.Why.DISPUTE,
        paused_since=since if why in (Pause.Why.BEREAVEMENT, Pause.Why.ASKED) else None,
    )


def _coat_grades(rows: Mapping[int, Mapping[Zone, list[Row]]], studio: Studio) -> dict[int, WaterGrade]:
    """The last honest grade on coated paint, the worst of its day, of the cars that wear a coating; one query."""
    coated: dict[int, Surfaces] = {}
    for car, by_place in rows.items():
        for of_zone in by_place.values():
            for row in of_zone:
                if row.lying.product_class in COATINGS:
                    coated[car] = coated.get(car, NOTHING) | row.live & PANELS
    found: dict[int, WaterGrade] = {}
    for car, grades in graded_of([car for car, on in coated.items() if on], studio.zone).items():
        seen = [one for one in grades if one.surfaces & coated[car]]
        if seen:
            found[car] = min(one.water for one in seen if one.on == seen[-1].on)
    return found


def _first_set_on(cars: Sequence[int]) -> set[int]:
    """Cars with a second set of wheels that stand on the first one."""
    changes = CarEvent.objects.filter(car__in=cars, kind__in=_WHEEL_CHANGES).order_by("on", "pk")
    kinds: dict[int, list[str]] = {}
    for car, kind in changes.values_list("car", "kind"):
        kinds.setdefault(car, []).append(kind)
    return {car for car, of in kinds.items() if of[-1] == CarEvent.Kind.WHEELS_ONE_ON}


def _promised(
    season: WinterRound, where: Mapping[int, Standing], today: date, studio: Studio
) -> dict[int, date]:
    """The first look under a promise that falls due until the last salted day, by car.

    A promise asks for a look once a year and at its end (common practice, no source). A look that fell due since the
    round was opened is still owed, unless the car was here for it or shortly before.
    """
    rows = Visit.objects.filter(
        car__in=list(where), promise_months__isnull=False, handed_over_at__isnull=False
    ).annotate(given=F("handed_over_at"))
    opened = local_day(studio, season.opened_at)
    shortly = timedelta(days=tables_of(studio).winter.seen_days)
    found: dict[int, date] = {}
    for car, months, given in rows.values_list("car", "promise_months", "given"):
        seen, start, last = where[car].last_seen, local_day(studio, given), months or 0
        owed = opened if seen is None else max(opened, seen + shortly)
        looks = (add_months(start, each) for each in (*range(12, last, 12), last))
        due = next((day for day in looks if day >= min(owed, today)), None)
        if due is not None and due <= season.salt_until:
            found[car] = min(due, found.get(car, due))
    return found
