"""Today: what stands in the bay, what goes out, what is expected, and what needs a person."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from enum import StrEnum

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery
from django.utils.timezone import localdate

from crm.care.bodies import Body
from crm.care.surfaces import NOTHING, Surfaces
from crm.care.words import describe
from crm.models import (
    Branch,
    Car,
    Contact,
    Forecast,
    Message,
    Person,
    Product,
    Studio,
    Visit,
    WinterRound,
)
from crm.selectors.held import keepers_on, plates_on
from crm.selectors.winter_today import RoundToday, rounds_today

AHEAD = timedelta(days=7)
MOST = 12
"""Rows of one kind that the page names; the rest is counted."""


class Need(StrEnum):
    """Why something needs a person."""

    UNCERTAIN = "uncertain"
    FAILED = "failed"
    OVERDUE = "overdue"
    NOT_COME = "not_come"
    DUE_A_LOOK = "due_a_look"
    UNREACHABLE = "unreachable"
    TO_ASK = "to_ask"
    UNANSWERED = "unanswered"


@dataclass(frozen=True)
class NeedsPerson:
    """One thing that only a person can settle."""

    need: Need
    title: str
    words: str
    visit: Visit | None = None
    car: Car | None = None
    person: Person | None = None
    season: WinterRound | None = None


@dataclass(frozen=True)
class Stay:
    """A visit that is not over, as a line."""

    visit: Visit
    plate: str
    keeper: str
    late: bool


@dataclass(frozen=True)
class FirstSteps:
    """What a new studio has done already."""

    product: bool
    car: bool
    visit: bool

    @property
    def all_done(self) -> bool:
        return self.product and self.car and self.visit


@dataclass(frozen=True)
class Today:
    """The page of a day."""

    in_bay: tuple[Stay, ...]
    going_out: tuple[Stay, ...]
    expected: tuple[Stay, ...]
    soon: tuple[Stay, ...]
    needs: tuple[NeedsPerson, ...]
    more_needs: int
    first_steps: FirstSteps


def today_page(
    *, studio: Studio, now: datetime, today: date, branch: Branch | None, with_post: bool = True
) -> Today:
    """What today looks like, at one branch or at all, in a fixed number of queries.

    `with_post`: for somebody who may settle what the post cannot.
    """
    stays = [_stay(visit, now) for visit in _open_visits(branch, today, studio)]
    here = [stay for stay in stays if stay.visit.state in (Visit.State.IN_BAY, Visit.State.READY)]
    going = [stay for stay in here if _goes_by(stay.visit, today)]
    booked = sorted(
        (stay for stay in stays if stay.visit.state == Visit.State.BOOKED),
        key=lambda stay: stay.visit.planned_in,
    )
    needs = [
        *(_post(branch) if with_post else ()),
        *_late(stays),
        *_due_a_look([stay.visit for stay in here], today),
        *_unreachable([stay.visit for stay in stays], today),
        *(_winter(rounds_today(branch, studio=studio, now=now)) if with_post else ()),
    ]
    return Today(
        in_bay=tuple(stay for stay in here if stay not in going),
        going_out=tuple(going),
        expected=tuple(stay for stay in booked if localdate(stay.visit.planned_in) <= today),
        soon=tuple(stay for stay in booked if localdate(stay.visit.planned_in) > today),
        needs=tuple(needs[:MOST]),
        more_needs=max(0, len(needs) - MOST),
        first_steps=_first_steps(),
    )


def _open_visits(branch: Branch | None, today: date, studio: Studio) -> QuerySet[Visit]:
    latest = datetime.combine(today + AHEAD, time.max, studio.zone)
    plates = plates_on(today).filter(car=OuterRef("car")).reverse()
    keepers = keepers_on(today).filter(car=OuterRef("car")).reverse()
    rows = Visit.objects.filter(
        Q(state__in=(Visit.State.IN_BAY, Visit.State.READY))
        | Q(state=Visit.State.BOOKED, planned_in__lte=latest)
    )
    if branch is not None:
        rows = rows.filter(branch=branch)
    return (
        rows.select_related("car", "branch")
        .annotate(
            plate=Subquery(plates.values("mark")[:1]), keeper=Subquery(keepers.values("person__name")[:1])
        )
        .order_by(F("planned_out").asc(nulls_last=True), "planned_in", "pk")[:100]
    )


def _stay(visit: Visit, now: datetime) -> Stay:
    late = visit.planned_in < now - timedelta(hours=1) if visit.state == Visit.State.BOOKED else False
    if visit.state != Visit.State.BOOKED:
        late = visit.planned_out is not None and visit.planned_out < now
    return Stay(visit, getattr(visit, "plate", None) or "", getattr(visit, "keeper", None) or "", late)


def _goes_by(visit: Visit, today: date) -> bool:
    if visit.state == Visit.State.READY:
        return True
    return visit.planned_out is not None and localdate(visit.planned_out) <= today


def _post(branch: Branch | None) -> Iterable[NeedsPerson]:
    rows = (
        Message.objects.filter(state__in=(Message.State.UNCERTAIN, Message.State.FAILED))
        .select_related("person")
        .order_by("-not_before", "-pk")
    )
    if branch is not None:
        rows = rows.filter(Q(visit__isnull=True) | Q(visit__branch=branch))
    for message in rows[: MOST * 2]:
        kind = Need.UNCERTAIN if message.state == Message.State.UNCERTAIN else Need.FAILED
        yield NeedsPerson(
            kind,
            f"{message.get_kind_display()[:1].upper()}{message.get_kind_display()[1:]} to {message.person}",
            message.because
            or ("It may have gone out or not." if kind is Need.UNCERTAIN else "It did not go out."),
            person=message.person,
        )


def _late(stays: Iterable[Stay]) -> Iterable[NeedsPerson]:
    for stay in stays:
        if not stay.late:
            continue
        visit = stay.visit
        title = f"{stay.plate or 'No plate'}, {visit.car}"
        if visit.state == Visit.State.BOOKED:
            yield NeedsPerson(Need.NOT_COME, title, "Booked, and not taken in yet.", visit=visit)
        else:
            yield NeedsPerson(Need.OVERDUE, title, "Past the time it was to go out.", visit=visit)


def _due_a_look(visits: list[Visit], today: date) -> Iterable[NeedsPerson]:
    """Layers past their window on cars that stand here: the moment to look is now."""
    if not visits:
        rows: Iterable[Forecast] = ()
    else:
        rows = (
            Forecast.objects.filter(car__in={visit.car_id for visit in visits}, live__gt=0, high__lt=today)
            .select_related("layer__product", "car")
            .defer("reasons", "inputs")
            .order_by("car", "layer")
        )
    by_layer: dict[int, tuple[Forecast, Surfaces]] = {}
    for row in rows:
        _, live = by_layer.get(row.layer_id, (row, NOTHING))
        by_layer[row.layer_id] = (row, live | row.live)
    on_cars: dict[int, list[str]] = {}
    for row, live in by_layer.values():
        where = describe(live, Body(row.car.body))
        on_cars.setdefault(row.car_id, []).append(f"{row.layer.product.name} on {where}")
    for car, layers in on_cars.items():
        visit = next(visit for visit in visits if visit.car_id == car)
        title = f"{getattr(visit, 'plate', None) or 'No plate'}, {visit.car}"
        past = "is past its window" if len(layers) == 1 else "are past their windows"
        words = f"{'; '.join(layers)} {past}: grade the water once the car is clean."
        yield NeedsPerson(Need.DUE_A_LOOK, title, words, visit=visit)


def _unreachable(visits: list[Visit], today: date) -> Iterable[NeedsPerson]:
    """Keepers of cars that come or stand here whose every e-mail address is dead: ask them at the desk."""
    addresses = Contact.objects.filter(person=OuterRef("person"), kind=Contact.Kind.EMAIL)
    roles = (
        keepers_on(today)
        .filter(car__in={visit.car_id for visit in visits})
        .filter(Exists(addresses), ~Exists(addresses.filter(dead_since__isnull=True)))
        .select_related("person", "car")
    )
    for role in roles:
        words = f"No e-mail address of theirs works. Ask when the {role.car} is here."
        yield NeedsPerson(Need.UNREACHABLE, role.person.name, words, car=role.car, person=role.person)


def _winter(rounds: Iterable[RoundToday]) -> Iterable[NeedsPerson]:
    """Cars that can be asked now, and invitations that wait for an answer."""
    for found in rounds:
        season = found.season
        if found.cars:
            cars = f"{found.cars} car{'s' if found.cars > 1 else ''} can be asked"
            first = f"{found.weeks[0]:%-d %B}"
            when = f"for the week of {first}" if len(found.weeks) == 1 else f"from the week of {first} on"
            yield NeedsPerson(
                Need.TO_ASK, f"Winter round: {cars} {when}", f"At {season.branch}.", season=season
            )
        if found.waiting:
            waits = "invitations wait" if found.waiting > 1 else "invitation waits"
            yield NeedsPerson(
                Need.UNANSWERED,
                f"Winter round: {found.waiting} {waits} for an answer",
                f"At {season.branch}, the oldest since {found.oldest:%-d %B}.",
                season=season,
            )


def _first_steps() -> FirstSteps:
    """Asked in one query, because a studio is new only once."""
    row = (
        Studio.objects.annotate(
            product=Exists(Product.objects.all()),
            car=Exists(Car.objects.all()),
            visit=Exists(Visit.objects.all()),
        )
        .values_list("product", "car", "visit")
        .first()
    )
    return FirstSteps(*row) if row else FirstSteps(product=False, car=False, visit=False)
