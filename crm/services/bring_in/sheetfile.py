"""Reading the studio's own list: a CSV in whatever encoding, or the first filled sheet of a workbook."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from crm.services.errors import Refused

Cell = str | int | float | bool | date | datetime | None
MOST_ROWS = 50_000
MOST_BYTES = 50_000_000
ENCODINGS = ("utf-8-sig", "utf-16", "cp1252")


@dataclass(frozen=True)
class Line:
    """One line of the list with the number a person sees beside it."""

    number: int
    cells: tuple[Cell, ...]

    @property
    def is_empty(self) -> bool:
        """Whether nothing stands in it."""
        return all(cell is None or str(cell).strip() == "" for cell in self.cells)


def read_lines(path: Path) -> list[Line]:
    """Every line of the file. Raises Refused with a sentence where it cannot be read as a list."""
    if not path.is_file():
        raise Refused(f"There is no file {path}.")
    if path.stat().st_size > MOST_BYTES:
        raise Refused(f"{path.name} is larger than {MOST_BYTES // 1_000_000} MB. Split it by year.")
    if path.stat().st_size == 0:
        raise Refused(f"{path.name} is empty.")
    kind = path.suffix.lower()
    if kind == ".xlsx":
        lines = list(_workbook(path))
    elif kind in (".csv", ".txt", ".tsv"):
        lines = list(_text(path))
    else:
        raise Refused(f"{path.name} is neither .csv nor .xlsx. Save it as one of these and try again.")
    if len(lines) > MOST_ROWS:
        raise Refused(f"{path.name} has more than {MOST_ROWS:,} lines. Split it by year.")
    return lines


def _workbook(path: Path) -> Iterator[Line]:
    try:
        book = load_workbook(path, read_only=True, data_only=True)
    except (InvalidFileException, zipfile.BadZipFile, KeyError, ValueError, OSError, EOFError) as error:
        raise Refused(
            f"{path.name} cannot be opened as a workbook. Save it again as .xlsx or as .csv."
        ) from error
    try:
        for sheet in book.worksheets:
            lines = [
                Line(number, tuple(_plain(value) for value in row))
                for number, row in enumerate(sheet.iter_rows(values_only=True), 1)
            ]
            if any(not line.is_empty for line in lines):
                yield from lines
                return
    finally:
        book.close()
    raise Refused(f"{path.name} has no sheet with anything in it.")


def _plain(value: object) -> Cell:
    """A cell as one of the few types that are read; anything rarer as its text."""
    return value if value is None or isinstance(value, str | int | float | date) else str(value)


def _text(path: Path) -> Iterator[Line]:
    text = decoded(path.read_bytes(), path.name)
    sample = text[:20_000]
    separator = _separator(sample)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    try:
        for row in reader:
            yield Line(reader.line_num, tuple(row))
    except csv.Error as error:
        raise Refused(
            f"{path.name}, line {reader.line_num}: this is not a list of cells ({error})."
        ) from error


def decoded(content: bytes, name: str) -> str:
    """The text of a file in the encodings that spreadsheet programs write."""
    utf_16 = content.startswith((b"\xff\xfe", b"\xfe\xff"))
    for encoding in ENCODINGS:
        if (encoding == "utf-16") != utf_16:
            continue
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" in text:
            break
        return text
    raise Refused(f"{name} is not text. Save the list as CSV (UTF-8) or as .xlsx.")


def _separator(sample: str) -> str:
    lines = [line for line in sample.splitlines() if line.strip()][:20]
    return max(",;\t|", key=lambda mark: (sum(min(line.count(mark), 30) for line in lines), mark == ","))


def as_text(cell: Cell) -> str:
    """What a person sees in the cell, on one line, without control characters."""
    if cell is None:
        return ""
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, datetime | date):
        return cell.isoformat()[:10]
    return " ".join("".join(mark if mark.isprintable() else " " for mark in str(cell)).split())
