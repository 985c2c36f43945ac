"""What planning a letter needs to know of cars: who keeps them, where they stand, what is due on them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Exists, Max, OuterRef, Q, QuerySet

from crm.care.seasons import MonthDay, Season
from crm.care.surfaces import EATEN_BY_SALT, NOTHING, Surfaces
from crm.care.terms import Circumstance, WashPlan
from crm.care.washplan import wash_visits
from crm.models import Car, Forecast, Keeping, Person, Role, Studio, Visit
from crm.selectors.held import keepers_on
from crm.selectors.sheet_builder import COATINGS
from crm.selectors.studio import seasons_of

LATE = timedelta(days=45)
"""How long after its low date a layer is still written about: as long as one letter may wait for the next."""
LOOKS_AHEAD = timedelta(days=45)
"""A letter that goes anyway also speaks of what falls due before the next one may go."""
WASH_AHEAD, WASH_LATE = timedelta(days=10), timedelta(days=14)


@dataclass(frozen=True, slots=True)
class Standing:
    """One car on one day, as far as it decides whether its keeper is written to about it."""

    car: Car
    keeper_id: int | None
    booked_on: date | None
    """The day of a visit that is not over; None where the car is not expected."""
    last_seen: date | None
    stored: bool
    salted: bool
    """Known to be driven on salted roads. An unknown answer is not a yes."""


@dataclass(frozen=True, slots=True)
class Windows:
    """The days that decide what is due on a given day."""

    zone: ZoneInfo
    today: date
    reminder_by: date
    """A low date up to this day has its reminder due."""
    mention_by: date
    """A low date up to this day is mentioned in a letter that goes anyway."""
    oldest: date
    """A low date before this day is too old to be written about."""
    salt: Season
    salt_start: date
    salt_end: date
    prompting: bool
    """Whether winter prompts go out on this day."""

    @classmethod
    def on(cls, studio: Studio, now: datetime) -> Windows:
        """The windows of a moment by the studio's settings."""
        today = now.astimezone(studio.zone).date()
        salt = seasons_of(studio).salt
        prompts = Season(
            MonthDay.parse(studio.winter_prompt_from), MonthDay.parse(studio.winter_prompt_until)
        )
        start, end = salt.current_or_next(today)
        by = today + timedelta(days=studio.top_up_lead_days)
        return cls(
            zone=studio.zone,
            today=today,
            reminder_by=by,
            mention_by=by + LOOKS_AHEAD,
            oldest=today - LATE,
            salt=salt,
            salt_start=start,
            salt_end=end,
            prompting=prompts.contains(today),
        )


@dataclass(frozen=True, slots=True)
class Candidates:
    """A page of people with every active car they keep, and what is forecast on those cars."""

    people: dict[int, Person]
    standings: dict[int, Standing]
    forecasts: dict[int, list[Forecast]]


def candidate_pages(windows: Windows, *, size: int = 300) -> Iterator[Candidates]:
    """Everybody who keeps a car that something may be due on, page by page, a person's cars never parted."""
    kept = _kept(windows.today)
    wanted = kept.filter(_may_be_due(windows), person__deceased=False, person__moved_away=False)
    after = 0
    while True:
        page = (
            wanted.filter(person__gt=after).order_by("person_id").values_list("person", flat=True).distinct()
        )
        people = list(page[:size])
        if not people:
            return
        cars = list(kept.filter(person__in=people).values_list("car", flat=True))
        yield Candidates(
            people=Person.objects.in_bulk(people),
            standings=standings(cars, windows=windows),
            forecasts=live_forecasts(cars),
        )
        after = people[-1]


def standings(cars: Sequence[int], *, windows: Windows) -> dict[int, Standing]:
    """Where these cars stand on a day, by their number, in five queries."""
    today, zone = windows.today, windows.zone
    keepers = dict(keepers_on(today).filter(car__in=cars).values_list("car", "person"))
    expected: dict[int, date] = {}
    for car, planned in _expected(cars, windows).values_list("car", "planned_in"):
        expected.setdefault(car, planned.astimezone(zone).date())
    handed = Visit.objects.filter(car__in=cars, state=Visit.State.HANDED_OVER)
    seen = dict(handed.order_by().values_list("car").annotate(last=Max("handed_over_at")))
    kept: dict[int, Keeping] = {
        row.car_id: row for row in Keeping.objects.filter(car__in=cars, since__lte=today).order_by("since")
    }
    return {
        car.pk: Standing(
            car=car,
            keeper_id=keepers.get(car.pk),
            booked_on=expected.get(car.pk),
            last_seen=seen[car.pk].astimezone(zone).date() if car.pk in seen else None,
            stored=car.status == Car.Status.STORED or bool(car.pk in kept and kept[car.pk].stored),
            salted=_salted(car, kept.get(car.pk)),
        )
        for car in Car.objects.filter(pk__in=cars)
    }


def live_forecasts(cars: Iterable[int]) -> dict[int, list[Forecast]]:
    """Forecasts of layers that still protect something, by car, with layer and product, in one query."""
    found: dict[int, list[Forecast]] = {}
    rows = Forecast.objects.filter(car__in=list(cars), due_on__isnull=False).order_by("due_on", "pk")
    for row in rows.select_related("layer__product"):
        found.setdefault(row.car_id, []).append(row)
    return found


def due_wash(car: Car, forecasts: Iterable[Forecast], windows: Windows) -> date | None:
    """The wash visit of a car's plan that is due about now: the latest that is, or None.

    It is written about from ten days before until two weeks after its day (own choice).
    """
    if car.wash_plan == WashPlan.NONE or car.plan_anchor is None:
        return None
    coated = [row.layer.laid_at for row in forecasts if row.layer.product.product_class in COATINGS]
    visits = wash_visits(
        WashPlan(car.wash_plan),
        anchor=car.plan_anchor,
        coated_on=max(coated).astimezone(windows.zone).date() if coated else None,
        until=windows.today + WASH_AHEAD,
        circumstances=frozenset(Circumstance(flag) for flag in car.circumstances),
        salt=windows.salt,
    )
    return max((visit.due for visit in visits if visit.due >= windows.today - WASH_LATE), default=None)


def bare_by(forecasts: Iterable[Forecast], day: date, among: Surfaces = EATEN_BY_SALT) -> Surfaces:
    """The surfaces, of those that salt harms or of others, whose every layer is likely to be thin by that day.

    A topper that goes before the coating under it leaves nothing bare.
    """
    thin, lasting = NOTHING, NOTHING
    for row in forecasts:
        if row.likely is None:
            continue
        if row.likely <= day:
            thin |= row.live
        else:
            lasting |= row.live
    return (thin - lasting) & among


def _kept(today: date) -> QuerySet[Role]:
    return keepers_on(today).filter(car__status=Car.Status.ACTIVE)


def _may_be_due(windows: Windows) -> Q:
    lapsing = Forecast.objects.filter(
        car=OuterRef("car"), due_on__gte=windows.oldest, due_on__lte=windows.reminder_by
    )
    due = Q(Exists(lapsing)) | ~Q(car__wash_plan=WashPlan.NONE)
    if not windows.prompting:
        return due
    before_spring = Forecast.objects.filter(
        car=OuterRef("car"), due_on__isnull=False, likely__lte=windows.salt_end
    )
    return due | Q(Exists(before_spring))


def _expected(cars: Sequence[int], windows: Windows) -> QuerySet[Visit]:
    """Visits that are not over. A booking that has passed without an arrival is nobody's excuse."""
    here = Q(state__in=(Visit.State.IN_BAY, Visit.State.READY))
    # The day begins in the studio's zone, which need not be the machine's.
    begins = datetime.combine(windows.today, time.min, windows.zone)
    to_come = Q(state=Visit.State.BOOKED, planned_in__gte=begins)
    return Visit.objects.filter(here | to_come, car__in=cars).order_by("planned_in")


def _salted(car: Car, keeping: Keeping | None) -> bool:
    marked = Circumstance.SALTED_ROADS in car.circumstances
    return marked or (keeping is not None and keeping.salted_roads is True)
