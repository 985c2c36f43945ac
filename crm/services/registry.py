"""Cars and people: taking them on, and dating what changes about them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.encoding import punycode

from crm.care.bodies import Body
from crm.care.chassis import NotAChassisNumber, normal_chassis
from crm.care.finding import chassis_keys, look_keys, name_keys, phone_keys, plate_keys
from crm.care.paint_terms import Past
from crm.care.plates import NotAMark, display_mark, normal_mark
from crm.care.surfaces import NOTHING, Surfaces
from crm.care.telephone import NotANumber, to_e164
from crm.care.terms import Paint, Parking, Wash, WashPlan
from crm.models import Car, CarEvent, Consent, Contact, FindKey, Keeping, Person, Plate, Role, User
from crm.selectors.held import Dated, held_from, held_on
from crm.selectors.studio import local_day, the_studio
from crm.services.errors import Refused
from crm.services.forecasts import reforecast_car
from crm.services.rights import Right, require
from crm.services.storing import store


@dataclass(frozen=True, kw_only=True)
class NewCar:
    """What one may know of a car at first contact: nothing of it is required."""

    mark: str = ""
    chassis: str = ""
    make: str = ""
    model: str = ""
    year: int | None = None
    colour: str = ""
    paint: Paint = Paint.UNKNOWN
    paint_past: Past = Past.UNKNOWN
    body: Body = Body.HATCHBACK
    aluminium: Surfaces = NOTHING
    plastic: Surfaces = NOTHING
    circumstances: Sequence[str] = ()
    wash_plan: WashPlan = WashPlan.NONE
    plan_anchor: date | None = None
    do_nots: str = ""


@dataclass(frozen=True, kw_only=True)
class HowKept:
    """How a car is kept and used from a day on; None is "not known"."""

    since: date
    parking: Parking | None = None
    km_a_year: int | None = None
    salted_roads: bool | None = None
    wash_summer: Wash | None = None
    wash_winter: Wash | None = None
    on_plan: bool = False
    stored: bool = False


def _keys_for(kind: str, keys: set[str], *, car: Car | None = None, person: Person | None = None) -> None:
    FindKey.objects.filter(kind=kind, car=car, person=person).delete()
    FindKey.objects.bulk_create(
        [FindKey(kind=kind, key=key[:40], car=car, person=person) for key in sorted(keys)]
    )


def index_car(car: Car) -> None:
    """Write the keys under which a car is found by its plates, its chassis number and what one sees of it."""
    marks: set[str] = set()
    for normal in Plate.objects.filter(car=car).values_list("normal", flat=True):
        marks |= plate_keys(normal)
    _keys_for("plate", marks, car=car)
    _keys_for("chassis", chassis_keys(car.chassis) if car.chassis else set(), car=car)
    _keys_for("look", look_keys(car.colour, car.make, car.model, str(car.year or "")), car=car)


def index_person(person: Person) -> None:
    """Write the keys under which a person's name and numbers are found."""
    numbers: set[str] = set()
    for value in person.contacts.filter(kind=Contact.Kind.PHONE).values_list("value", flat=True):
        numbers |= phone_keys(value)
    _keys_for("name", name_keys(person.name), person=person)
    _keys_for("phone", numbers, person=person)


@transaction.atomic
def take_on_car(*, car: NewCar, by: User | None, on: date | None = None) -> Car:
    """Start the file of a car.

    Raises Refused where the plate or chassis number already belongs to another car's file.
    """
    require(by, Right.CARS)
    chassis = stored_chassis(car.chassis)
    if chassis and (other := Car.objects.filter(chassis=chassis).first()):
        raise Refused(
            f"That chassis number is already in the file of a {other}. Open that file instead.",
            field="chassis",
        )
    row = Car(
        chassis=chassis,
        make=car.make.strip(),
        model=car.model.strip(),
        year=car.year,
        colour=car.colour.strip(),
        paint=car.paint,
        paint_past=car.paint_past,
        body=car.body,
        aluminium=car.aluminium,
        plastic=car.plastic,
        circumstances=sorted(set(car.circumstances)),
        wash_plan=car.wash_plan,
        plan_anchor=car.plan_anchor,
        do_nots=car.do_nots.strip(),
    )
    store(row)
    if car.mark.strip():
        give_plate(car=row, mark=car.mark, since=on, by=by)
    else:
        index_car(row)
    return row


def stored_chassis(text: str) -> str:
    """The form in which a chassis number is stored; nothing where there is none. Raises Refused."""
    if not text.strip():
        return ""
    try:
        return normal_chassis(text)
    except NotAChassisNumber as error:
        raise Refused(str(error), field="chassis") from error


@transaction.atomic
def give_plate(*, car: Car, mark: str, since: date | None, by: User | None) -> Plate:
    """Put a registration mark on a car; the one it carried ends that day and stays findable."""
    require(by, Right.CARS)
    try:
        normal = normal_mark(mark)
    except NotAMark as error:
        raise Refused(str(error), field="mark") from error
    day = since or timezone.localdate()
    mine = Plate.objects.filter(car=car)
    current = mine.filter(until__isnull=True).first()
    if current and current.normal == normal:
        return _sooner(current, mine, day)
    taken = (
        Plate.objects.filter(_not_over_by(day), normal=normal).exclude(car=car).select_related("car").first()
    )
    if taken:
        raise Refused(
            f"{taken.mark} is on the file of a {taken.car}. If the plate has moved, end it there first.",
            field="mark",
        )
    _end_by(mine, day)
    plate = Plate(car=car, mark=display_mark(normal), normal=normal, since=since)
    store(plate)
    index_car(car)
    return plate


@transaction.atomic
def take_plate_off(*, plate: Plate, until: date, by: User | None) -> Plate:
    """End a plate on a car: it was moved to another car or kept back. One that was to end later may end sooner."""
    require(by, Right.CARS)
    if plate.until is not None and plate.until <= until:
        raise Refused(f"{plate.mark} ends on {plate.until:%-d %B %Y} already.", field="until")
    plate.until = until
    store(plate)
    return plate


@transaction.atomic
def take_on_person(
    *, name: str, sort: str = Person.Sort.PRIVATE, greeting: str = "", note: str = "", by: User | None
) -> Person:
    """Start the file of a person or a company."""
    require(by, Right.PEOPLE)
    if not name.strip():
        raise Refused("A person needs a name.", field="name")
    person = Person(name=" ".join(name.split()), sort=sort, greeting=greeting.strip(), note=note.strip())
    store(person)
    index_person(person)
    return person


@transaction.atomic
def add_contact(
    *, person: Person, kind: str, value: str, preferred: bool = False, by: User | None
) -> Contact:
    """Write down a way to reach a person, in its normal form. Adding one that is there changes nothing."""
    require(by, Right.PEOPLE)
    normal = normal_contact(kind, value)
    row = Contact.objects.filter(person=person, kind=kind, value=normal).first()
    if row is None:
        row = Contact(person=person, kind=kind, value=normal, as_given=value.strip(), preferred=preferred)
        store(row)
        if kind == Contact.Kind.PHONE:
            index_person(person)
    return row


def normal_contact(kind: str, value: str) -> str:
    """The form in which a contact is stored and compared. Raises Refused with a sentence."""
    value = " ".join(value.split())
    if kind == Contact.Kind.EMAIL:
        try:
            validate_email(value)
        except ValidationError as error:
            raise Refused(
                f"“{value}” is not an e-mail address: it needs a name, an @ and a domain.", field="email"
            ) from error
        name, _, domain = value.rpartition("@")
        # A domain with letters beyond ASCII travels in its ASCII form (RFC 5890, from memory).
        return f"{name}@{punycode(domain.lower())}"
    if kind == Contact.Kind.PHONE:
        try:
            return to_e164(value, the_studio().phone_region)
        except NotANumber as error:
            raise Refused(str(error), field="phone") from error
    if not value:
        raise Refused("An address cannot be empty.", field="address")
    return value


@transaction.atomic
def give_role(*, car: Car, person: Person, part: str, since: date | None, by: User | None) -> Role:
    """Make a person the keeper, payer or driver of a car. A new keeper ends the one before.

    Either day may lie ahead. Whoever was to keep the car later than a new keeper begins does not come to keep it.
    """
    require(by, Right.PEOPLE)
    day = since or timezone.localdate()
    others = Role.objects.filter(car=car, part=part) if part == Role.Part.KEEPER else Role.objects.none()
    same = Role.objects.filter(car=car, part=part, person=person, until__isnull=True).first()
    if same:
        return _sooner(same, others, day)
    if part == Role.Part.KEEPER:
        _end_by(others, day)
        _back_on_the_road(car, since)
    role = Role(car=car, person=person, part=part, since=since)
    store(role)
    return role


def _not_over_by(day: date) -> Q:
    """What counts on a day or after it. What was over before today stays as it was written."""
    return held_from(max(day, timezone.localdate()))


def _end_by(rows: QuerySet[Dated], day: date) -> None:
    """What was to begin after that day never counts: it ends as it begins."""
    for row in rows.filter(_not_over_by(day)):
        row.until = max(day, row.since) if row.since else day
        store(row)


def _sooner(row: Dated, others: QuerySet[Dated], day: date) -> Dated:
    """What was to begin on a day to come begins sooner, and ends sooner what it follows."""
    if row.since is not None and row.since > max(day, timezone.localdate()):
        _end_by(others.exclude(pk=row.pk), day)
        row.since = day
        store(row)
    return row


def _back_on_the_road(car: Car, since: date | None) -> None:
    """A car that was sold is somebody's again, from the day of the sale on."""
    if car.status != Car.Status.SOLD or since is None:
        return
    if CarEvent.objects.filter(car=car, kind=CarEvent.Kind.SOLD, on__gt=since).exists():
        return
    car.status = Car.Status.ACTIVE
    store(car)


@transaction.atomic
def end_roles(*, event: CarEvent, by: User | None) -> bool:
    """End the roles at a car that was sold, scrapped or stolen: all that count on that day, an end ahead or none.

    Who comes to keep it after that day is left. Returns whether somebody keeps the car since, or is to: then it is
    theirs, however late the sale is written down.
    """
    require(by, Right.PEOPLE)
    roles = Role.objects.filter(car=event.car_id)
    for role in roles.filter(held_on(event.on)):
        role.until, role.ended_by = event.on, event
        store(role)
    written = local_day(the_studio(), event.written_at)
    return roles.filter(held_from(written), part=Role.Part.KEEPER, since__gt=event.on).exists()


@transaction.atomic
def write_down_keeping(*, car: Car, kept: HowKept, by: User | None) -> Keeping:
    """Write down how a car is kept from a day on; every forecast of the car follows."""
    require(by, Right.CARS)
    row = Keeping.objects.filter(car=car, since=kept.since).first() or Keeping(car=car, since=kept.since)
    row.parking, row.km_a_year, row.salted_roads = kept.parking, kept.km_a_year, kept.salted_roads
    row.wash_summer, row.wash_winter = kept.wash_summer, kept.wash_winter
    row.on_plan, row.stored = kept.on_plan, kept.stored
    store(row)
    latest = not Keeping.objects.filter(car=car, since__gt=kept.since).exists()
    if latest and car.status in (Car.Status.ACTIVE, Car.Status.STORED):
        status = Car.Status.STORED if kept.stored else Car.Status.ACTIVE
        if car.status != status:
            car.status = status
            store(car)
    reforecast_car(car)
    return row


@dataclass(frozen=True, kw_only=True)
class Answer:
    """A yes or a no to a question, with the words that were shown."""

    purpose: str
    channel: str
    given: bool
    wording: str
    how: str


@transaction.atomic
def write_down_consent(*, person: Person, answer: Answer, at: datetime, by: User | None) -> Consent:
    """Keep one answer, and do no more. Nothing is overwritten: the newest answer counts.

    An answer that a person gave to the studio goes through `crm.services.people.hear_answer`.
    """
    require(by, Right.PEOPLE)
    row = Consent(
        person=person,
        purpose=answer.purpose,
        channel=answer.channel,
        given=answer.given,
        wording=answer.wording,
        how=answer.how,
        at=at,
        by=by,
    )
    store(row)
    return row


def same_person(*, name: str, value: str = "") -> Person | None:
    """Somebody already on file with this name and, where one is given, this contact."""
    people = Person.objects.filter(name__iexact=" ".join(name.split()))
    if value:
        people = people.filter(Q(contacts__value=value))
    return people.order_by("pk").first()
