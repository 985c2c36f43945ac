"""A small cast for the tests: one call makes a studio, a car, a visit or a layer, through the services.

Everything is invented. Plates begin with a Q pair, which cannot be issued; addresses end in reserved domains;
telephone numbers are from the block kept for drama, 07700 900000 to 900999.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from itertools import count
from typing import Any

from django.contrib.auth.hashers import make_password
from django.test import Client

from crm.care.bodies import Body
from crm.care.surfaces import NOTHING, PANELS, Surfaces
from crm.care.terms import Prep, ProductClass
from crm.models import (
    Branch,
    Car,
    CarEvent,
    Consent,
    Contact,
    Layer,
    Person,
    Product,
    Rank,
    Role,
    Studio,
    User,
    Visit,
)
from crm.services.bench import NewLayer, record_layer
from crm.services.events import Happened, record_event
from crm.services.registry import (
    Answer,
    HowKept,
    NewCar,
    add_contact,
    give_role,
    take_on_car,
    take_on_person,
    write_down_consent,
    write_down_keeping,
)
from crm.services.shelf import Figures, OnTheShelf, put_on_shelf, write_down_life
from crm.services.visits import Arrival, arrive, book, cancel, make_ready

NOW = datetime(2026, 5, 4, 14, 10, tzinfo=UTC)
"""15:10 on a Monday in May in Skerrin: dry, mild, well outside the salted months."""
PASSWORD = "wet slate and salt"
WORDING = (
    "May we write to you when a layer is likely to be thin, and before winter? You can stop it at any time."
)

_numbers = count(1)
_FIRST = ("Ada", "Bram", "Cerys", "Dov", "Esme", "Finn", "Greta", "Hamish", "Ines", "Jory", "Kezia", "Lowen")
_LAST = ("Quill", "Harrow", "Tamsin", "Oakshott", "Penrose", "Brine", "Cutler", "Sallow", "Marlow", "Wick")
_LETTERS = "ABCDEFGHJKLMNPRSTUVWXY"


def studio(**settings: Any) -> Studio:
    """The studio: Greywater Yard in Skerrin. What is named is changed, also where it is there already."""
    known = Studio.objects.first()
    if known is not None and not settings:
        return known
    row = known or Studio(
        name="Greywater Yard",
        postal_address="2 Slipway Lane, Skerrin",
        phone="+447700900100",
        reply_to="yard@example.com",
        signature="Greywater Yard",
        time_zone="Europe/London",
    )
    for name, value in settings.items():
        setattr(row, name, value)
    row.full_clean(validate_unique=False)
    row.save()
    return row


def branch(name: str = "Greywater Yard") -> Branch:
    """A branch of the studio."""
    studio()
    return Branch.objects.get_or_create(name=name, defaults={"town": "Skerrin"})[0]


def user(rank: str = Rank.MANAGER, **columns: Any) -> User:
    """Somebody of a rank who signs in with `PASSWORD`."""
    columns.setdefault("username", f"{rank}-{next(_numbers)}")
    columns.setdefault("branch", branch())
    columns.setdefault("initials", "GY")
    return User.objects.create(rank=rank, password=make_password(PASSWORD), **columns)


def signed_in(rank: str = Rank.MANAGER, by: User | None = None) -> Client:
    """A browser in which somebody of that rank is signed in. `client.user` is who."""
    client = Client()
    who = by or user(rank)
    client.force_login(who, backend="django.contrib.auth.backends.ModelBackend")
    client.user = who  # type: ignore[attr-defined]
    return client


def plate() -> str:
    """A mark that no test had before."""
    number = next(_numbers)
    tail = "".join(_LETTERS[number // 22**place % 22] for place in range(3))
    return f"Q{_LETTERS[number // 22**3 % 22]}{number % 90 + 10} {tail}"


def person(
    name: str = "",
    *,
    email: str | None = "",
    phone: str | None = "",
    letters: bool | None = None,
    at: datetime = NOW,
    **columns: Any,
) -> Person:
    """A private person with an e-mail address and a telephone number of their own (None: without).

    `letters`: the answer to whether they want reminders by e-mail; None is never asked.
    """
    studio()
    number = next(_numbers)
    name = name or f"{_FIRST[number % len(_FIRST)]} {_LAST[number // len(_FIRST) % len(_LAST)]}"
    row = take_on_person(name=name, by=None, **columns)
    if email is not None:
        add_contact(person=row, kind=Contact.Kind.EMAIL, value=email or f"owner{number}@example.com", by=None)
    if phone is not None:
        add_contact(
            person=row, kind=Contact.Kind.PHONE, value=phone or f"07700 900{number % 1000:03}", by=None
        )
    if letters is not None:
        consent(row, given=letters, at=at)
    return row


def consent(
    row: Person, *, given: bool = True, channel: str = Contact.Kind.EMAIL, at: datetime = NOW
) -> Consent:
    """An answer of a person to whether they want reminders."""
    answer = Answer(
        purpose=Consent.Purpose.LETTERS, channel=channel, given=given, wording=WORDING, how="at the desk"
    )
    return write_down_consent(person=row, answer=answer, at=at, by=None)


def car(
    mark: str | None = "",
    *,
    keeper: Person | None = None,
    without_keeper: bool = False,
    since: date | None = date(2022, 3, 1),
    **known: Any,
) -> Car:
    """A blue Halden Estate of 2021 with a plate (None: without) and a keeper, unless told otherwise.

    `known`: fields of `NewCar`.
    """
    studio()
    known = {
        "make": "Halden",
        "model": "Estate",
        "colour": "Blue",
        "year": 2021,
        "body": Body.ESTATE,
        **known,
    }
    row = take_on_car(car=NewCar(mark="" if mark is None else mark or plate(), **known), by=None, on=since)
    if not without_keeper:
        give_role(car=row, person=keeper or person(), part=Role.Part.KEEPER, since=since, by=None)
    return row


def keeping(row: Car, *, since: date = date(2022, 3, 1), **kept: Any) -> None:
    """How a car is kept from a day on; what is not named is not known."""
    write_down_keeping(car=row, kept=HowKept(since=since, **kept), by=None)


def product(
    product_class: ProductClass = ProductClass.POLYMER_SEALANT,
    name: str = "",
    *,
    life: tuple[float, float, float] | None = None,
    since: date = date(2020, 1, 1),
    **known: Any,
) -> Product:
    """A product on the shelf; the same name twice is the same one. `life`: months low, likely, high."""
    studio()
    name = name or f"{_bird(product_class)} {product_class.value.replace('_', ' ')}"
    row = Product.objects.filter(name=name).first()
    if row is None:
        row = put_on_shelf(product=OnTheShelf(name=name, product_class=product_class, **known), by=None)
    if life is not None:
        low, likely, high = (Decimal(str(months)) for months in life)
        # Writing the same down again would only have every car with the product wait for its forecast.
        if not row.lives.filter(since=since, low=low, likely=likely, high=high).exists():
            write_down_life(
                product=row, figures=Figures(low=low, likely=likely, high=high), since=since, by=None
            )
    return row


def _bird(product_class: ProductClass) -> str:
    birds = ("Gannet", "Fulmar", "Petrel", "Dunlin", "Curlew", "Skua", "Tern", "Plover", "Siskin", "Whimbrel")
    return birds[sorted(ProductClass).index(product_class) % len(birds)]


def visit(
    of: Car | None = None,
    *,
    state: str = Visit.State.IN_BAY,
    at: datetime = NOW,
    out: datetime | None = None,
    purpose: str = Visit.Purpose.DETAIL,
    odometer_km: int | None = None,
) -> Visit:
    """A visit in a state, planned and begun `at`. Handed over: four hours later, without sheet or post."""
    row = book(car=of or car(), branch=branch(), purpose=purpose, at=at, out=out, by=None)
    if state == Visit.State.CANCELLED:
        return cancel(visit=row, by=None)
    if state != Visit.State.BOOKED:
        arrive(visit=row, arrival=Arrival(at=at, odometer_km=odometer_km), by=None)
    if state in (Visit.State.READY, Visit.State.HANDED_OVER):
        make_ready(visit=row, at=at + timedelta(hours=4), by=None)
    if state == Visit.State.HANDED_OVER:
        close(row, at=at + timedelta(hours=4))
    return row


def close(row: Visit, *, at: datetime) -> Visit:
    """Hand a visit over without a sheet or post, for tests that need the past only."""
    row.state, row.handed_over_at = Visit.State.HANDED_OVER, at
    row.save()
    return row


def layer(
    on: Car | Visit,
    of: Product | None = None,
    *,
    surfaces: Surfaces = PANELS,
    at: datetime = NOW,
    state: str = Visit.State.HANDED_OVER,
    **known: Any,
) -> Layer:
    """A layer on a car, in a visit of its own or in the one given. `known`: fields of `NewLayer`."""
    product_row = of or product()
    stay = on if isinstance(on, Visit) else visit(on, at=at)
    known.setdefault("prep", Prep.POLISHED_WIPED)
    known.setdefault("panel_wiped", True)
    known.setdefault("over_warnings", "laid on purpose by a test")
    row = record_layer(
        visit=stay, layer=NewLayer(product=product_row, surfaces=surfaces, at=at, **known), by=None, now=at
    )
    if not isinstance(on, Visit) and state == Visit.State.HANDED_OVER:
        close(stay, at=at + timedelta(hours=4))
    return row


def event(
    of: Car, kind: CarEvent.Kind, *, on: date, surfaces: Surfaces = NOTHING, now: datetime = NOW, **known: Any
) -> CarEvent:
    """Something that happened to a car elsewhere."""
    happened = Happened(kind=kind, on=on, surfaces=surfaces, **known)
    return record_event(car=of, happened=happened, by=None, now=now)
