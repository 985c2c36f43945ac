"""Which column of the list is what, told by its heading."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from crm.services.bring_in.sheetfile import Cell, Line, as_text
from crm.services.errors import Refused


class Column(StrEnum):
    """What a column can hold."""

    DATE = "date"
    PLATE = "plate"
    CHASSIS = "chassis"
    CAR = "car"
    MAKE = "make"
    MODEL = "model"
    COLOUR = "colour"
    YEAR = "year"
    OWNER = "owner"
    OTHER_OWNER = "other_owner"
    PHONE = "phone"
    EMAIL = "email"
    ODOMETER = "odometer"
    WORK = "work"
    NOTE = "note"
    LETTERS = "letters"
    PARKING = "parking"
    WASHING = "washing"


HEADINGS: dict[Column, tuple[str, ...]] = {
    Column.DATE: ("date", "day", "done", "when", "date done", "date in", "visit", "visit date", "datum"),
    Column.PLATE: (
        "reg",
        "registration",
        "plate",
        "number plate",
        "reg no",
        "reg number",
        "vrm",
        "mark",
        "numberplate",
    ),
    Column.CHASSIS: ("chassis", "chassis no", "chassis number", "vin", "vin number"),
    Column.CAR: ("car", "vehicle", "make and model", "make model", "what car", "motor"),
    Column.MAKE: ("make",),
    Column.MODEL: ("model",),
    Column.COLOUR: ("colour", "color", "col"),
    Column.YEAR: ("year", "model year", "yr"),
    Column.OWNER: ("owner", "customer", "client", "name", "customer name", "keeper", "who"),
    Column.OTHER_OWNER: (
        "second owner",
        "other owner",
        "owner 2",
        "2nd owner",
        "payer",
        "partner",
        "paid by",
    ),
    Column.PHONE: (
        "phone",
        "tel",
        "telephone",
        "mobile",
        "mob",
        "number",
        "phone no",
        "contact",
        "contact no",
    ),
    Column.EMAIL: ("email", "e mail", "mail", "email address"),
    Column.ODOMETER: (
        "miles",
        "mileage",
        "odometer",
        "odo",
        "km",
        "kms",
        "kilometres",
        "miles on clock",
        "clock",
    ),
    Column.WORK: (
        "work",
        "work done",
        "job",
        "service",
        "protection",
        "what we did",
        "done to it",
        "treatment",
    ),
    Column.NOTE: ("notes", "note", "comments", "remarks", "misc"),
    Column.LETTERS: (
        "ok to contact",
        "letters",
        "marketing",
        "reminders",
        "mailing",
        "consent",
        "can we write",
    ),
    Column.PARKING: ("parking", "garage", "kept", "parked", "overnight"),
    Column.WASHING: ("washing", "washes", "how washed", "wash habit"),
}
_BY_HEADING = {heading: column for column, headings in HEADINGS.items() for heading in headings}
_NOT_WORDS = re.compile(r"[^\w]+")
LINES_ABOVE = 15


@dataclass(frozen=True)
class Layout:
    """Where the headings are, and what each column holds. Columns nobody knows are kept as notes."""

    heading_line: int
    columns: dict[int, Column]
    unknown: dict[int, str]
    headings: dict[Column, str]

    def cell(self, line: Line, column: Column) -> Cell:
        """The raw cell of a line in a column; None where the list has no such column."""
        for index, known in self.columns.items():
            if known is column and index < len(line.cells):
                return line.cells[index]
        return None


def lay_out(lines: Sequence[Line]) -> Layout:
    """Find the line of headings. Raises Refused with what is missing."""
    for line in lines[:LINES_ABOVE]:
        columns, unknown, headings = _headings(line)
        if len(columns) >= 2 and Column.DATE in columns.values():
            _check(columns)
            return Layout(line.number, columns, unknown, headings)
    raise Refused(
        "No line of headings was found among the first lines. The list needs at least the headings Date, and Reg or"
        " Car, for example: Date, Reg, Car, Owner, Phone, Email, Miles, Work done, Notes."
    )


def _headings(line: Line) -> tuple[dict[int, Column], dict[int, str], dict[Column, str]]:
    columns: dict[int, Column] = {}
    unknown: dict[int, str] = {}
    headings: dict[Column, str] = {}
    for index, cell in enumerate(line.cells):
        heading = as_text(cell)
        column = _BY_HEADING.get(_NOT_WORDS.sub(" ", heading.lower()).strip())
        if column is None or column in columns.values():
            if heading:
                unknown[index] = heading
            continue
        columns[index] = column
        headings[column] = heading
    return columns, unknown, headings


def _check(columns: dict[int, Column]) -> None:
    known = set(columns.values())
    if not known & {Column.PLATE, Column.CHASSIS, Column.CAR, Column.MODEL}:
        raise Refused("The list needs a column that names the car: Reg, Chassis or Car.")
