"""Everything on record about one car, read in nine queries however long its history is.

Tables that belong together row by row are read together by an outer join: a car with its plates, people with their
contacts, layers with their forecasts.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from django.db.models import Case, Exists, F, OuterRef, Q, Subquery, When

from crm.care.surfaces import Surfaces
from crm.models import (
    Car,
    CarEvent,
    Consent,
    Contact,
    Ending,
    Forecast,
    Keeping,
    Layer,
    LeftForNextTime,
    Pause,
    Person,
    Plate,
    Role,
    Visit,
)
from crm.selectors.done import Done, done_to
from crm.selectors.held import Standing, standing
from crm.selectors.winter_plan_state import going_rounds


@dataclass(frozen=True)
class Held:
    """A person's part at a car, with ways to reach them."""

    role: Role
    person: Person
    standing: Standing
    """Whether the part counts today, begins later or is over."""
    contacts: list[Contact] = field(default_factory=list)
    letters: bool | None = None
    """The newest answer to whether letters by e-mail are wanted; None was never asked."""
    paused: bool = False


@dataclass(frozen=True)
class CarRows:
    """The rows behind a car file."""

    car: Car
    round_going: bool
    """Whether a winter round is going anywhere in the studio."""
    plates: list[Plate]
    people: list[Held]
    layers: list[Layer]
    forecasts: dict[int, list[Forecast]]
    """By layer."""
    endings: list[Ending]
    """The oldest first, those taken back among them."""
    visits: list[Visit]
    """The newest first."""
    done: list[Done]
    events: list[CarEvent]
    """The newest first."""
    events_taken_back: list[CarEvent]
    """Written down by mistake."""
    keepings: list[Keeping]
    """The newest first."""
    left: list[LeftForNextTime]
    standing: dict[int, list[Ending]] = field(init=False)
    """Endings that were not taken back, by layer."""

    def __post_init__(self) -> None:
        standing: dict[int, list[Ending]] = {layer.pk: [] for layer in self.layers}
        for ending in self.endings:
            if ending.taken_back_at is None:
                standing[ending.layer_id].append(ending)
        object.__setattr__(self, "standing", standing)

    def live(self, layer: Layer) -> Surfaces:
        """Surfaces that a layer still protects."""
        live = layer.surfaces
        for ending in self.standing[layer.pk]:
            live -= ending.surfaces
        return live


def car_rows(ref: str, *, today: date) -> CarRows | None:
    """The rows of the car with this reference; None where there is no such car."""
    found = _car_with_plates(ref)
    if found is None:
        return None
    car, plates, round_going = found
    layers, forecasts = _layers_with_forecasts(car)
    events = list(CarEvent.everything.filter(car=car))
    return CarRows(
        car=car,
        round_going=round_going,
        plates=plates,
        people=_people_with_contacts(car, today),
        layers=layers,
        forecasts=forecasts,
        endings=_endings(car),
        visits=list(Visit.objects.filter(car=car).select_related("branch")),
        done=done_to(car),
        events=[event for event in events if event.taken_back_at is None],
        events_taken_back=[event for event in events if event.taken_back_at is not None],
        keepings=list(Keeping.objects.filter(car=car).order_by("-since")),
        left=list(LeftForNextTime.objects.filter(car=car, done_at__isnull=True)),
    )


def _car_with_plates(ref: str) -> tuple[Car, list[Plate], bool] | None:
    rows = list(
        Car.objects.filter(ref=ref)
        .annotate(
            plate_pk=F("plates__pk"),
            plate_mark=F("plates__mark"),
            plate_since=F("plates__since"),
            plate_until=F("plates__until"),
            round_going=Exists(going_rounds()),
        )
        .order_by(F("plates__until").desc(nulls_first=True), "-plates__pk")
    )
    if not rows:
        return None
    car = rows[0]
    plates = [
        Plate(pk=row.plate_pk, car=car, mark=row.plate_mark, since=row.plate_since, until=row.plate_until)
        for row in rows
        if row.plate_pk is not None
    ]
    return car, plates, rows[0].round_going


def _people_with_contacts(car: Car, today: date) -> list[Held]:
    answers = Consent.objects.filter(
        person=OuterRef("person"), purpose=Consent.Purpose.LETTERS, channel=Contact.Kind.EMAIL
    ).order_by("-at", "-pk")
    pauses = Pause.objects.filter(
        Q(until__isnull=True) | Q(until__gte=today), person=OuterRef("person"), since__lte=today
    )
    rows = (
        Role.objects.filter(car=car)
        .select_related("person")
        .annotate(
            letters=Subquery(answers.values("given")[:1]),
            paused=Exists(pauses),
            contact_pk=F("person__contacts__pk"),
            contact_kind=F("person__contacts__kind"),
            contact_value=F("person__contacts__value"),
            contact_given=F("person__contacts__as_given"),
            contact_dead=F("person__contacts__dead_since"),
        )
        .order_by(
            F("until").desc(nulls_first=True), "pk", "-person__contacts__preferred", "person__contacts__pk"
        )
    )
    people: dict[int, Held] = {}
    for row in rows:
        when = standing(row.since, row.until, day=today)
        held = people.setdefault(row.pk, Held(row, row.person, when, [], row.letters, row.paused))
        if row.contact_pk is not None:
            held.contacts.append(
                Contact(
                    pk=row.contact_pk,
                    person=row.person,
                    kind=row.contact_kind,
                    value=row.contact_value,
                    as_given=row.contact_given,
                    dead_since=row.contact_dead,
                )
            )
    return list(people.values())


def _layers_with_forecasts(car: Car) -> tuple[list[Layer], dict[int, list[Forecast]]]:
    rows = (
        Layer.objects.filter(car=car)
        .select_related("product")
        .annotate(
            forecast_pk=F("forecasts__pk"),
            zone=F("forecasts__zone"),
            live=F("forecasts__live"),
            low=F("forecasts__low"),
            likely=F("forecasts__likely"),
            high=F("forecasts__high"),
            figures_low=F("forecasts__figures_low"),
            figures_likely=F("forecasts__figures_likely"),
            figures_high=F("forecasts__figures_high"),
            # The words are shown of what is still on the car alone, and they are the bulk of a long history.
            reasons=Case(When(forecasts__live__gt=0, then=F("forecasts__reasons"))),
        )
        .order_by("-laid_at", "-pk")
    )
    layers: dict[int, Layer] = {}
    forecasts: dict[int, list[Forecast]] = {}
    for row in rows:
        layer = layers.setdefault(row.pk, row)
        of_layer = forecasts.setdefault(row.pk, [])
        if row.forecast_pk is not None:
            of_layer.append(
                Forecast(
                    pk=row.forecast_pk,
                    layer=layer,
                    car_id=row.car_id,
                    zone=row.zone,
                    live=row.live,
                    low=row.low,
                    likely=row.likely,
                    high=row.high,
                    figures_low=row.figures_low,
                    figures_likely=row.figures_likely,
                    figures_high=row.figures_high,
                    reasons=row.reasons or [],
                )
            )
    return list(layers.values()), forecasts


def _endings(car: Car) -> list[Ending]:
    return list(Ending.objects.filter(layer__car=car, layer__taken_back_at__isnull=True))
