"""Saving what was read, through the same verbs as the screens; the dry run does the same and takes it back."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path

from django.db import transaction
from django.utils import timezone

from crm.care.bodies import Body
from crm.care.distance import distance_words
from crm.care.plates import display_mark
from crm.care.surfaces import Surfaces
from crm.care.terms import Process, ProductClass
from crm.care.words import CLASS_NAMES
from crm.models import Branch, Car, Contact, Person, Plate, Product, Role, Studio, Units, Visit
from crm.selectors.studio import local_day, the_studio
from crm.services import bench, registry, shelf, visits
from crm.services.bring_in.cells import Remark, Sure, month_comes_first
from crm.services.bring_in.columns import Column, lay_out
from crm.services.bring_in.rows import Reading, Row, read_rows
from crm.services.bring_in.sheetfile import read_lines
from crm.services.bring_in.work import ListedLayer
from crm.services.errors import Refused
from crm.services.forecasts import reforecast_car
from crm.services.polishing import Polishing
from crm.services.replaying import apply_later

ARRIVED, WORKED, LAID, LEFT = time(9), time(10), time(14), time(17)
"""Times of day for rows that only know the day."""
FROM_THE_LIST = "entered from the studio's own list"
P = ProductClass
CORRECTIONS = (Process.ONE_STEP_POLISH, Process.CUT, Process.FINE_POLISH)
COATINGS = (P.COATING_ENTHUSIAST, P.COATING_PROFESSIONAL, P.COATING_MULTI)


@dataclass
class Outcome:
    """What bringing the list in does, or would do."""

    rows: list[Row]
    made: Counter[str] = field(default_factory=Counter)
    committed: bool = False
    headings: dict[Column, str] = field(default_factory=dict)
    kept_as_notes: list[str] = field(default_factory=list)


class _TakeBack(Exception):
    """Ends a dry run: everything that was tried is rolled back."""


@dataclass(frozen=True, kw_only=True)
class Order:
    """What was asked for."""

    path: Path
    commit: bool = False
    month_first: bool | None = None
    unit: str = ""
    now: datetime | None = None


def bring_in(order: Order) -> Outcome:
    """Read a list and save it in one transaction, or, without `commit`, find out exactly what that would do.

    Rows that were brought in before are recognised and left alone, so doing it twice changes nothing.
    Raises Refused where the file as a whole cannot be used.
    """
    studio = the_studio()
    now = order.now or timezone.now()
    lines = read_lines(order.path)
    layout = lay_out(lines)
    dates = [layout.cell(line, Column.DATE) for line in lines if line.number > layout.heading_line]
    heading = layout.headings.get(Column.ODOMETER, "").lower()
    reading = Reading(
        today=now.astimezone(studio.zone).date(),
        region=studio.phone_region,
        unit=order.unit
        or ("km" if heading.startswith(("km", "kilo")) else "miles" if "mile" in heading else studio.units),
        shelf={name.lower(): P(of) for name, of in Product.objects.values_list("name", "product_class")},
        month_first=order.month_first if order.month_first is not None else month_comes_first(dates),
    )
    outcome = Outcome(
        read_rows(lines, layout, reading),
        headings=layout.headings,
        kept_as_notes=sorted(set(layout.unknown.values())),
    )
    try:
        with transaction.atomic():
            _Saver(studio, now, outcome).save_all()
            if not order.commit:
                raise _TakeBack  # noqa: TRY301 - leaving the block is what rolls it back
    except _TakeBack:
        return outcome
    outcome.committed = True
    return outcome


class _Saver:
    """Saves rows in the order of their dates; a row that a service refuses is taken back alone."""

    def __init__(self, studio: Studio, now: datetime, outcome: Outcome) -> None:
        self.studio, self.now, self.outcome = studio, now, outcome
        branch = Branch.objects.order_by("pk").first()
        if branch is None:
            raise Refused("There is no branch yet. Start the studio once, then bring the list in.")
        self.branch = branch
        self.touched: set[int] = set()
        self.behind: dict[int, date] = {}
        """Cars of which the record knew something newer already, with the earliest day that was added behind it."""

    def save_all(self) -> None:
        known = set(Visit.objects.exclude(came_from="").values_list("came_from", flat=True))
        for row in sorted(
            (row for row in self.outcome.rows if not row.refused), key=lambda row: (row.on, row.number)
        ):
            if row.key in known:
                row.remarks.append(Remark(Sure.UNDERSTOOD, "brought in before: left alone"))
                self.outcome.made["rows known already"] += 1
                continue
            before = self.outcome.made.copy()
            try:
                with transaction.atomic():
                    self._save(row)
            except Refused as refused:
                self.outcome.made = before
                row.refused = refused.sentence
        for car in Car.objects.filter(pk__in=self.touched).order_by("pk"):
            if car.pk in self.behind:
                since = datetime.combine(self.behind[car.pk], time.min, self.studio.zone)
                apply_later(car, since=since, by=None, now=self.now)
            reforecast_car(car, studio=self.studio, now=self.now)

    def _save(self, row: Row) -> None:
        day = row.on
        if day is None:
            raise Refused("There is no date.")
        car = self._car(row, day)
        if self._is_behind(car, day):
            self.behind[car.pk] = min(day, self.behind.get(car.pk, day))
        self._people(row, car, day)
        visit = self._visit(row, car, day)
        for step in row.work.steps:
            if step.surfaces & car.surfaces:
                bench.record_step(
                    visit=visit,
                    process=step.process,
                    surfaces=step.surfaces,
                    at=self._at(day, WORKED),
                    polishing=Polishing(over_warnings=FROM_THE_LIST),
                    by=None,
                    now=self.now,
                    follow=False,
                )
                self.outcome.made["processes"] += 1
        for index, layer in enumerate(row.work.layers):
            self._layer(row, visit, layer, self._at(day, LAID) + timedelta(minutes=index))
        self.touched.add(car.pk)

    def _is_behind(self, car: Car, day: date) -> bool:
        """Whether the record holds a later stay of the car: then the row tells of the past, not of today."""
        return Visit.objects.filter(car=car, arrived_at__gt=self._at(day, LEFT)).exists()

    def _at(self, day: date, clock: time) -> datetime:
        return min(datetime.combine(day, clock, self.studio.zone), self.now)

    def _car(self, row: Row, day: date) -> Car:
        car = self._known_car(row)
        if car is None:
            car = registry.take_on_car(
                car=registry.NewCar(
                    mark=row.plate,
                    chassis=row.chassis,
                    make=row.car.make,
                    model=row.car.model,
                    year=row.car.year,
                    colour=row.car.colour,
                    body=Body(row.car.body or Body.HATCHBACK),
                ),
                by=None,
            )
            self.outcome.made["cars"] += 1
        if row.parking or row.washing:
            self._keeping(row, car, day)
        return car

    def _known_car(self, row: Row) -> Car | None:
        if row.chassis and (car := Car.objects.filter(chassis=row.chassis).first()):
            if row.plate and not car.plates.filter(normal=row.plate).exists():
                if row.on and self._is_behind(car, row.on):
                    words = f"plate left as it is: newer than {display_mark(row.plate)}"
                    row.remarks.append(Remark(Sure.GUESSED, words))
                    return car
                registry.give_plate(car=car, mark=row.plate, since=row.on, by=None)
                row.remarks.append(
                    Remark(
                        Sure.GUESSED, f"same chassis number: the car now carries {display_mark(row.plate)}"
                    )
                )
            return car
        if row.plate:
            plate = Plate.objects.filter(normal=row.plate).select_related("car").first()
            return plate.car if plate else None
        if row.chassis:
            return None
        found = Car.objects.filter(
            make__iexact=row.car.make,
            model__iexact=row.car.model,
            plates__isnull=True,
            roles__person__name__iexact=row.owners[0],
        ).first()
        if found:
            row.remarks.append(
                Remark(Sure.GUESSED, f"taken as the {found} that {row.owners[0]} brought before")
            )
        return found

    def _keeping(self, row: Row, car: Car, day: date) -> None:
        last = car.keepings.order_by("-since").first()
        if last and (last.parking, last.wash_summer) == (row.parking, row.washing):
            return
        registry.write_down_keeping(
            car=car,
            kept=registry.HowKept(
                since=day, parking=row.parking, wash_summer=row.washing, wash_winter=row.washing
            ),
            by=None,
        )

    def _people(self, row: Row, car: Car, day: date) -> None:
        for index, name in enumerate(row.owners):
            person = self._person(row, name, first=index == 0)
            part = Role.Part.KEEPER if index == 0 else Role.Part.PAYER
            current = (
                Role.objects.filter(car=car, part=part, until__isnull=True).select_related("person").first()
            )
            if current and current.person_id != person.pk and part == Role.Part.KEEPER:
                if self._is_behind(car, day):
                    row.remarks.append(
                        Remark(Sure.GUESSED, f"keeper left as it is: {current.person} came later")
                    )
                    continue
                row.remarks.append(
                    Remark(Sure.GUESSED, f"keeper from {day:%-d %B %Y}: {person}, no longer {current.person}")
                )
            registry.give_role(car=car, person=person, part=part, since=day if current else None, by=None)

    def _person(self, row: Row, name: str, *, first: bool) -> Person:
        phone, email = (row.phone, row.email) if first else ("", "")
        person = self._known_person(name, [value for value in (phone, email) if value])
        if person is None:
            person = registry.take_on_person(name=name, by=None)
            self.outcome.made["people"] += 1
        for kind, value in ((Contact.Kind.PHONE, phone), (Contact.Kind.EMAIL, email)):
            if value:
                registry.add_contact(person=person, kind=kind, value=value, by=None)
        if first and row.letters is not None and email:
            self._consent(row, person)
        return person

    def _known_person(self, name: str, values: list[str]) -> Person | None:
        same = Person.objects.filter(name__iexact=name).order_by("pk")
        if values:
            by_contact = same.filter(contacts__value__in=values).first()
            if by_contact:
                return by_contact
            return same.filter(contacts__isnull=True).first()
        return same.first()

    def _consent(self, row: Row, person: Person) -> None:
        newest = person.consents.filter(purpose="letters", channel=Contact.Kind.EMAIL).first()
        if newest and newest.given == row.letters:
            return
        heading = self.outcome.headings.get(Column.LETTERS, "")
        registry.write_down_consent(
            person=person,
            answer=registry.Answer(
                purpose="letters",
                channel=Contact.Kind.EMAIL,
                given=bool(row.letters),
                wording=f"The studio's own list, column “{heading}”"[:400],
                how=f"{FROM_THE_LIST}, row {row.number}",
            ),
            at=self._at(row.on or local_day(self.studio, self.now), LEFT),
            by=None,
        )

    def _visit(self, row: Row, car: Car, day: date) -> Visit:
        visit = visits.book(
            car=car, branch=self.branch, purpose=_purpose(row), at=self._at(day, ARRIVED), by=None
        )
        arrival = visits.Arrival(at=self._at(day, ARRIVED), odometer_km=row.odometer_km, note=row.note)
        left = self._at(day, LEFT)
        try:
            with transaction.atomic():
                visits.write_down_old_visit(visit=visit, arrival=arrival, left=left, by=None)
        except Refused as refused:
            if refused.field != "odometer":
                raise
            row.remarks.append(Remark(Sure.GUESSED, f"odometer kept as a note: {refused.sentence}"))
            visit.refresh_from_db()
            shown = distance_words(row.odometer_km or 0, in_miles=self.studio.units == Units.MILES)
            note = "; ".join(part for part in (row.note, f"odometer said to show {shown}") if part)[:1000]
            arrival = visits.Arrival(at=self._at(day, ARRIVED), note=note)
            visits.write_down_old_visit(visit=visit, arrival=arrival, left=left, by=None)
        visit.came_from = row.key
        visits.agree(visit=visit, agreed=visits.Agreed(scope=row.scope), by=None)
        self.outcome.made["visits"] += 1
        return visit

    def _layer(self, row: Row, visit: Visit, listed: ListedLayer, at: datetime) -> None:
        on: Surfaces = listed.surfaces & visit.car.surfaces
        if not on:
            row.remarks.append(
                Remark(
                    Sure.GUESSED, f"{CLASS_NAMES[listed.product_class]} left out: this car has no such place"
                )
            )
            return
        bench.record_layer(
            visit=visit,
            layer=bench.NewLayer(
                product=self._product(row, listed),
                surfaces=on,
                at=min(at, self.now),
                coats=listed.coats,
                over_warnings=FROM_THE_LIST,
            ),
            by=None,
            now=self.now,
            follow=False,
        )
        self.outcome.made["layers"] += 1

    def _product(self, row: Row, listed: ListedLayer) -> Product:
        if listed.product:
            return Product.objects.get(name__iexact=listed.product)
        same = list(
            Product.objects.filter(product_class=listed.product_class).order_by("-on_shelf", "pk")[:2]
        )
        words = CLASS_NAMES[listed.product_class]
        if same:
            if len(same) > 1:
                row.remarks.append(Remark(Sure.GUESSED, f"{words} taken as {same[0]}"))
            return same[0]
        self.outcome.made["products"] += 1
        return shelf.put_on_shelf(
            product=shelf.OnTheShelf(
                name=f"{words[:1].upper()}{words[1:]} (from the list)", product_class=listed.product_class
            ),
            by=None,
        )


def _purpose(row: Row) -> str:
    classes = {layer.product_class for layer in row.work.layers}
    if classes & set(COATINGS):
        return Visit.Purpose.COATING
    if any(step.process in CORRECTIONS for step in row.work.steps):
        return Visit.Purpose.CORRECTION
    if row.on and row.on.month in (9, 10, 11) and classes & {P.POLYMER_SEALANT, P.DURABLE_WAX}:
        return Visit.Purpose.WINTER
    return Visit.Purpose.DETAIL if classes else Visit.Purpose.WASH


def plate_words(row: Row) -> str:
    """The mark of a row as it is shown, or what else names its car."""
    return display_mark(row.plate) if row.plate else row.chassis or f"{row.car.make} {row.car.model}".strip()
