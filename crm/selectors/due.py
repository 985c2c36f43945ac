"""What lapses when: the cars whose protection is due to thin, one row a car, its earliest layer first.

The query begins at the partial index over `Forecast.due_on` and walks it in order. However many layers are on file,
a list looks at about `SCANNED` forecasts and shows `LOOKED_AT` cars at the most, and says so where there are more.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery, TextField
from django.db.models.functions import Cast

from crm.care.months import add_months
from crm.care.names import CLASS_NAMES
from crm.care.tables import DEFAULTS
from crm.care.terms import Circumstance, Condition, WashPlan
from crm.models import Car, Forecast, Keeping, Product, Studio
from crm.selectors.due_reach import Reaching, reached_by_car
from crm.selectors.due_wanted import GROUPS, OUTSIDE, Lapsing, Salted, Wanted
from crm.selectors.finding import cars_found
from crm.selectors.scanning import clean_query
from crm.selectors.studio import seasons_of

LOOKED_AT = 1000
"""Cars of one list; whoever wants others narrows the list."""
SCANNED = 10_000
"""Forecasts of one list, whatever else is asked of them: a rare wish must not read the whole record."""
FOUND_BY_TEXT = 50
LONG_PAST = timedelta(days=365)
"""A low date further back is not spoken of as lapsing soon; it is listed under "any time" (own choice)."""
WITHIN_WEEKS = 2.0
"""Reference months: a class that is likely to last less is renewed at any wash (own choice)."""
SHORT_LIVED = tuple(
    kind
    for kind, entry in DEFAULTS.lives.items()
    if entry.life is not None and entry.life.likely < WITHIN_WEEKS
)
ON_FILE = (Car.Status.ACTIVE, Car.Status.STORED)


@dataclass(frozen=True)
class Lapses:
    """The earliest-lapsing forecast of each car that is wanted, the earliest car first.

    `cut`: there are further ones, which were not looked at.
    """

    rows: QuerySet[Forecast]
    cut: bool


@dataclass(frozen=True)
class DueList:
    """The forecasts that a list is about, one a car, in order. `cut`: there are more than were looked at."""

    forecasts: list[int]
    cut: bool


@dataclass(frozen=True)
class _Horizon:
    """Low dates, both days included; None is no bound."""

    since: date | None
    until: date | None
    cut: bool = False

    @property
    def within(self) -> Q:
        within = Q(due_on__isnull=False)
        if self.since is not None:
            within &= Q(due_on__gte=self.since)
        if self.until is not None:
            within &= Q(due_on__lte=self.until)
        return within


@dataclass(frozen=True)
class _Named:
    """What a text means: cars that the find box would find, products that are called so."""

    cars: list[str]
    products: list[int]


def salt_turn(studio: Studio, today: date) -> tuple[date, bool]:
    """The day that "before winter" means: the first salted day or, once it is winter, the last (then True)."""
    salt = seasons_of(studio).salt
    start, end = salt.current_or_next(today)
    return (end, True) if salt.contains(today) else (start, False)


def lapsing_first(wanted: Wanted, *, studio: Studio, today: date) -> Lapses:
    """The cars that are wanted. Writes nothing and reads no row of them yet."""
    named = _named(wanted.text, today)
    horizon = _horizon(wanted, studio, today)
    if named is None or named.products:
        # A few cars that are asked for by name are looked up by themselves, however far ahead they lapse.
        horizon = _as_far_as_is_looked_at(horizon, latest_first=wanted.latest_first)
    layers = _layers(wanted, named, today)
    earlier = layers.filter(
        Q(due_on__lt=OuterRef("due_on")) | Q(due_on=OuterRef("due_on"), pk__lt=OuterRef("pk")),
        car=OuterRef("car"),
    )
    rows = layers.filter(horizon.within, ~Exists(earlier), car__status__in=ON_FILE)
    if wanted.condition is Condition.THINNING:
        rows = rows.filter(high__gte=today)
    elif wanted.condition is Condition.DUE_A_LOOK:
        rows = rows.filter(high__lt=today)
    if wanted.on_plan is not None:
        without = Q(car__wash_plan=WashPlan.NONE)
        rows = rows.filter(~without if wanted.on_plan else without)
    if wanted.salted is not None:
        rows = _on_salt(rows, wanted.salted, today)
    order = ("-due_on", "-pk") if wanted.latest_first else ("due_on", "pk")
    return Lapses(rows.order_by(*order), horizon.cut)


def due_list(
    lapses: Lapses, *, reaching: Reaching | None, studio: Studio, today: date, now: datetime
) -> DueList:
    """The list of cars, and of those among them whose keeper can be reached so.

    The number of queries is the same however long it is.
    """
    found = list(lapses.rows.values_list("pk", "car_id")[: LOOKED_AT + 1])
    cut = lapses.cut or len(found) > LOOKED_AT
    found = found[:LOOKED_AT]
    if reaching is not None:
        reached = reached_by_car({car for _, car in found}, studio=studio, today=today, now=now)
        found = [(pk, car) for pk, car in found if reached[car].how is reaching]
    return DueList([pk for pk, _ in found], cut)


def _horizon(wanted: Wanted, studio: Studio, today: date) -> _Horizon:
    """The low dates that are asked for."""
    since = None if wanted.lapsing is Lapsing.ANY else today - LONG_PAST
    until = _until(wanted.lapsing, studio, today)
    match wanted.condition:
        case Condition.HOLDING:
            since = today + timedelta(days=1)
        case Condition.THINNING:
            until = min(until or today, today)
        case Condition.DUE_A_LOOK:
            until = min(until or today, today - timedelta(days=1))
    return _Horizon(since, until)


def _as_far_as_is_looked_at(horizon: _Horizon, *, latest_first: bool) -> _Horizon:
    """As much of these dates as `SCANNED` forecasts fill, from the end at which the list begins."""
    walked = Forecast.objects.filter(horizon.within).order_by("-due_on" if latest_first else "due_on")
    edge = next(iter(walked.values_list("due_on", flat=True)[SCANNED : SCANNED + 1]), None)
    if edge is None:
        return horizon
    return replace(horizon, since=edge, cut=True) if latest_first else replace(horizon, until=edge, cut=True)


def _layers(wanted: Wanted, named: _Named | None, today: date) -> QuerySet[Forecast]:
    """Forecasts of which a car's earliest counts."""
    zones = GROUPS[wanted.group] if wanted.group else OUTSIDE
    counted = _Horizon(None if wanted.lapsing is Lapsing.ANY else today - LONG_PAST, None)
    rows = Forecast.objects.filter(counted.within, zone__in=[zone.value for zone in zones])
    passing = Product.objects.filter(product_class__in=SHORT_LIVED)
    rows = rows.exclude(layer__product__in=list(passing.values_list("pk", flat=True)))
    if named is None:
        return rows
    cars = Q(car__in=list(Car.objects.filter(ref__in=named.cars).values_list("pk", flat=True)))
    return rows.filter(cars | Q(layer__product__in=named.products) if named.products else cars)


def _named(text: str, today: date) -> _Named | None:
    text = clean_query(text)
    if not text:
        return None
    cars = [hit.ref for hit in cars_found(text, most=FOUND_BY_TEXT, today=today)]
    classes = [kind for kind, words in CLASS_NAMES.items() if text.lower() == words]
    called = Product.objects.filter(Q(name__icontains=text) | Q(product_class__in=classes))
    return _Named(cars, list(called.values_list("pk", flat=True)))


def _until(lapsing: Lapsing, studio: Studio, today: date) -> date | None:
    match lapsing:
        case Lapsing.MONTH:
            return add_months(today.replace(day=1), 1) - timedelta(days=1)
        case Lapsing.WINTER:
            return salt_turn(studio, today)[0]
        case Lapsing.QUARTER:
            return add_months(today, 3)
        case Lapsing.ANY:
            return None


def _on_salt(rows: QuerySet[Forecast], salted: Salted, today: date) -> QuerySet[Forecast]:
    newest = Keeping.objects.filter(car=OuterRef("car"), since__lte=today).order_by("-since")
    known = rows.annotate(
        kept_on_salt=Subquery(newest.values("salted_roads")[:1]),
        said_of_it=Cast("car__circumstances", TextField()),
    )
    marked = Q(said_of_it__contains=f'"{Circumstance.SALTED_ROADS}"')
    match salted:
        case Salted.YES:
            return known.filter(marked | Q(kept_on_salt=True))
        case Salted.NO:
            return known.filter(~marked, kept_on_salt=False)
        case Salted.UNKNOWN:
            return known.filter(~marked, kept_on_salt__isnull=True)
