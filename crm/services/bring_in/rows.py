"""One row of the list, read whole: what it says, how sure that is, and what cannot be used."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from crm.care.bodies import Body
from crm.care.chassis import NotAChassisNumber, chassis_note, normal_chassis
from crm.care.plates import mark_note
from crm.care.terms import Parking, ProductClass, Wash
from crm.services.bring_in import cells
from crm.services.bring_in.cells import CarWords, Remark, Sure, Unreadable
from crm.services.bring_in.columns import Column, Layout
from crm.services.bring_in.sheetfile import Cell, Line, as_text
from crm.services.bring_in.work import Work, read_work
from crm.services.errors import Refused
from crm.services.registry import normal_contact


@dataclass(frozen=True, kw_only=True)
class Reading:
    """How cells are to be read in this studio."""

    today: date
    region: str
    unit: str
    """"miles" or "km": what a bare odometer number means."""
    shelf: Mapping[str, ProductClass]
    month_first: bool | None = None


@dataclass(kw_only=True)
class Row:
    """What one line says. `refused` holds the sentence that keeps it out, if anything does."""

    number: int
    remarks: list[Remark] = field(default_factory=list)
    refused: str = ""
    on: date | None = None
    plate: str = ""
    chassis: str = ""
    car: CarWords = field(default_factory=CarWords)
    owners: list[str] = field(default_factory=list)
    phone: str = ""
    email: str = ""
    odometer_km: int | None = None
    work: Work = field(default_factory=Work)
    scope: str = ""
    note: str = ""
    letters: bool | None = None
    parking: Parking | None = None
    washing: Wash | None = None
    key: str = ""

    @property
    def sure(self) -> Sure:
        """The least sure thing about the row."""
        if self.refused:
            return Sure.REFUSED
        return max((remark.sure for remark in [*self.remarks, *self.work.remarks]), default=Sure.UNDERSTOOD)

    @property
    def all_remarks(self) -> list[Remark]:
        """Everything to tell about the row."""
        return [*self.remarks, *self.work.remarks]


def read_rows(lines: Sequence[Line], layout: Layout, reading: Reading) -> list[Row]:
    """Every filled line below the headings. A line that stands there twice gets two keys."""
    rows = []
    seen: Counter[str] = Counter()
    for line in lines:
        if line.number <= layout.heading_line or line.is_empty:
            continue
        row = _read_row(line, layout, reading)
        seen[row.key] += 1
        row.key = f"list:{row.key}:{seen[row.key]}"
        rows.append(row)
    return rows


def _read_row(line: Line, layout: Layout, reading: Reading) -> Row:
    row = Row(number=line.number)

    def cell(column: Column) -> Cell:
        return layout.cell(line, column)

    try:
        row.on, remarks = cells.read_date(
            cell(Column.DATE), today=reading.today, month_first=reading.month_first
        )
        row.remarks += remarks
        row.plate, remarks = cells.read_plate(cell(Column.PLATE))
        row.remarks += remarks
    except Unreadable as error:
        row.refused = f"{error}."
    _read_identity(row, cell(Column.CHASSIS), layout, line)
    _read_people(row, layout, line, reading)
    row.odometer_km = cells.read_odometer(cell(Column.ODOMETER), unit=reading.unit, remarks=row.remarks)
    unread = _unread(row, {column: as_text(cell(column)) for column in READ_OR_KEPT}, layout)
    row.scope = as_text(cell(Column.WORK))[:600]
    row.work = read_work(str(cell(Column.WORK) or ""), shelf=reading.shelf, region=reading.region)
    row.note = _notes(line, layout, unread)
    row.letters = cells.read_yes_no(cell(Column.LETTERS))
    row.parking = cells.read_parking(cell(Column.PARKING))
    row.washing = cells.read_washing(cell(Column.WASHING))
    if not row.refused and not (row.plate or row.chassis or (row.car.model and row.owners)):
        row.refused = (
            "Nothing says which car this is: there is no plate, no chassis number, and no car with an owner."
        )
    row.key = _key(row)
    return row


def _read_identity(row: Row, chassis: Cell, layout: Layout, line: Line) -> None:
    if as_text(chassis):
        try:
            row.chassis = normal_chassis(as_text(chassis))
            if note := chassis_note(row.chassis):
                row.remarks.append(Remark(Sure.UNDERSTOOD, note))
        except NotAChassisNumber as error:
            row.remarks.append(Remark(Sure.GUESSED, f"chassis number kept as a note: {error}"))
    if row.plate and (note := mark_note(row.plate)):
        row.remarks.append(Remark(Sure.UNDERSTOOD, note))
    whole = cells.read_car(as_text(layout.cell(line, Column.CAR)))
    year = as_text(layout.cell(line, Column.YEAR))
    row.car = CarWords(
        make=(as_text(layout.cell(line, Column.MAKE)) or whole.make)[:40],
        model=(as_text(layout.cell(line, Column.MODEL)) or whole.model)[:60],
        colour=(as_text(layout.cell(line, Column.COLOUR)).lower() or whole.colour)[:40],
        year=int(year) if year.isdecimal() and 1886 <= int(year) <= 2100 else whole.year,
        body=whole.body or Body.HATCHBACK,
    )


def _read_people(row: Row, layout: Layout, line: Line, reading: Reading) -> None:
    row.owners = cells.read_owners(as_text(layout.cell(line, Column.OWNER)))
    row.owners += cells.read_owners(as_text(layout.cell(line, Column.OTHER_OWNER)))
    if len(row.owners) > 1:
        others = " and ".join(row.owners[1:])
        row.remarks.append(Remark(Sure.GUESSED, f"{row.owners[0]} taken as keeper, {others} as payer"))
    if not row.owners:
        row.remarks.append(Remark(Sure.GUESSED, "nobody is named: the car gets no keeper"))
    row.phone = cells.read_phone(layout.cell(line, Column.PHONE), region=reading.region, remarks=row.remarks)
    email = as_text(layout.cell(line, Column.EMAIL)).strip("<>, ")
    if email and email.lower() not in cells.NO_PLATE:
        try:
            row.email = normal_contact("email", email)
        except Refused as refused:
            row.remarks.append(Remark(Sure.GUESSED, f"e-mail kept as a note: {refused.sentence}"))


READ_OR_KEPT = (Column.CHASSIS, Column.PHONE, Column.EMAIL, Column.ODOMETER)


def _unread(row: Row, said: Mapping[Column, str], layout: Layout) -> list[str]:
    """What stands in a cell and could not be read is kept among the notes, under its heading."""
    read = {
        Column.CHASSIS: bool(row.chassis),
        Column.PHONE: bool(row.phone),
        Column.EMAIL: bool(row.email),
        Column.ODOMETER: row.odometer_km is not None,
    }
    return [
        f"{layout.headings[column]}: {words}"
        for column, words in said.items()
        if words.lower().strip(" .") not in cells.NO_PLATE and not read[column]
    ]


def _notes(line: Line, layout: Layout, unread: Sequence[str]) -> str:
    notes = [as_text(layout.cell(line, Column.NOTE)), *unread]
    notes += [
        f"{heading}: {as_text(line.cells[index])}"
        for index, heading in layout.unknown.items()
        if index < len(line.cells) and as_text(line.cells[index])
    ]
    return "; ".join(note for note in notes if note)[:1000]


def _key(row: Row) -> str:
    who = (
        row.plate
        or row.chassis
        or f"{row.car.make} {row.car.model} {row.owners[0] if row.owners else ''}".lower()
    )
    said = "\x1f".join((str(row.on), who, row.scope.lower(), row.note.lower()))
    return hashlib.sha256(said.encode()).hexdigest()[:40]
