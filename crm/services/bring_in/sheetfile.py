"""Reading the studio's own list: a CSV in whatever encoding, or the first filled sheet of a workbook."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import islice
from pathlib import Path

from openpyxl import Workbook, load_workbook

from crm.services.errors import Refused

Cell = str | int | float | bool | date | datetime | None
MOST_ROWS = 50_000
MOST_BYTES = 50_000_000
MOST_UNPACKED = 400_000_000
MOST_COLUMNS = 100
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
    try:
        size = path.stat().st_size if path.is_file() else None
    except OSError as error:
        raise Refused(f"{path} cannot be read: {error.strerror}.") from error
    if size is None:
        raise Refused(f"There is no file {path}.")
    if size > MOST_BYTES:
        raise Refused(f"{path.name} is larger than {MOST_BYTES // 1_000_000} MB. Split it by year.")
    if size == 0:
        raise Refused(f"{path.name} is empty.")
    kind = path.suffix.lower()
    if kind == ".xlsx":
        lines = _enough(_workbook(path))
    elif kind in (".csv", ".txt", ".tsv"):
        lines = _enough(_text(path))
    else:
        raise Refused(f"{path.name} is neither .csv nor .xlsx. Save it as one of these and try again.")
    if len(lines) > MOST_ROWS:
        raise Refused(f"{path.name} has more than {MOST_ROWS:,} lines. Split it by year.")
    return lines


def _enough(lines: Iterator[Line]) -> list[Line]:
    """The lines, and one too many at most: nobody reads on in a file that will be refused."""
    return list(islice(lines, MOST_ROWS + 1))


def _workbook(path: Path) -> Iterator[Line]:
    """The first filled sheet. Whatever a broken workbook does to its reader becomes one sentence."""
    try:
        _check_unpacked(path)
        book = load_workbook(path, read_only=True, data_only=True)
    except Refused:
        raise
    except Exception as error:
        raise _not_a_workbook(path) from error
    try:
        yield from _first_filled(book, path)
    finally:
        book.close()


def _first_filled(book: Workbook, path: Path) -> Iterator[Line]:
    for sheet in book.worksheets:
        try:
            # A workbook may claim more columns than it has; only what a list can have is read.
            sheet.reset_dimensions()
            rows = sheet.iter_rows(max_col=MOST_COLUMNS, values_only=True)
            lines = [Line(number, _cells(row)) for number, row in enumerate(islice(rows, MOST_ROWS + 1), 1)]
        except Exception as error:
            raise _not_a_workbook(path) from error
        if any(not line.is_empty for line in lines):
            yield from lines
            return
    raise Refused(f"{path.name} has no sheet with anything in it.")


def _cells(row: Sequence[object]) -> tuple[Cell, ...]:
    """The cells up to the last filled one; kinds that no list needs, such as a time of day, as they are written."""
    filled = max((place for place, value in enumerate(row, 1) if value is not None), default=0)
    return tuple(
        value if value is None or isinstance(value, str | int | float | bool | date) else str(value)
        for value in row[:filled]
    )


def _check_unpacked(path: Path) -> None:
    """A small workbook may unpack to something that fills the machine."""
    with zipfile.ZipFile(path) as archive:
        if sum(member.file_size for member in archive.infolist()) > MOST_UNPACKED:
            raise Refused(
                f"{path.name} unpacks to more than {MOST_UNPACKED // 1_000_000} MB. Save the list alone as .csv."
            )


def _not_a_workbook(path: Path) -> Refused:
    return Refused(f"{path.name} cannot be opened as a workbook. Save it again as .xlsx or as .csv.")


def _text(path: Path) -> Iterator[Line]:
    try:
        content = path.read_bytes()
    except OSError as error:
        raise Refused(f"{path} cannot be read: {error.strerror}.") from error
    text = decoded(content, path.name)
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
