"""Files as spreadsheet programs write them, and files that are none."""

from __future__ import annotations

import codecs
import zipfile
from contextlib import suppress
from datetime import date, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from crm.services.bring_in import sheetfile
from crm.services.bring_in.columns import Column, lay_out
from crm.services.bring_in.sheetfile import Line, decoded, read_lines
from crm.services.errors import Refused

A_DAY = datetime.fromisoformat("2025-05-03")
"""Workbooks know no zones."""
LIST = "Date,Reg,Owner\r\n3/5/25,QA21 LME,Åse Müller\r\n"


def written(tmp_path: Path, content: bytes, name: str = "list.csv") -> Path:
    path = tmp_path / name
    path.write_bytes(content)
    return path


@pytest.mark.parametrize(
    "content",
    [
        LIST.encode("utf-8"),
        LIST.encode("utf-8-sig"),
        LIST.encode("utf-16"),
        codecs.BOM_UTF16_BE + LIST.encode("utf-16-be"),
        LIST.encode("cp1252"),
    ],
    ids=["utf-8", "utf-8 with mark", "utf-16", "utf-16 big end first", "windows 1252"],
)
def test_text_is_read_in_every_encoding_of_a_spreadsheet_program(tmp_path: Path, content: bytes) -> None:
    lines = read_lines(written(tmp_path, content))
    assert [line.cells for line in lines] == [("Date", "Reg", "Owner"), ("3/5/25", "QA21 LME", "Åse Müller")]


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
def test_separator_is_told_by_what_is_commonest(tmp_path: Path, mark: str) -> None:
    text = f"Date{mark}Reg{mark}Work\n3/5/25{mark}QA21 LME{mark}washed\n"
    assert [line.cells for line in read_lines(written(tmp_path, text.encode()))] == [
        ("Date", "Reg", "Work"),
        ("3/5/25", "QA21 LME", "washed"),
    ]


def test_semicolons_inside_cells_do_not_decide(tmp_path: Path) -> None:
    text = 'Date,Reg,Work\n3/5/25,QA21 LME,"wash; clay; wax"\n'
    assert read_lines(written(tmp_path, text.encode()))[1].cells == ("3/5/25", "QA21 LME", "wash; clay; wax")


def test_line_numbers_are_those_of_the_file(tmp_path: Path) -> None:
    text = 'Date,Reg,Notes\n3/5/25,QA21 LME,"two\nlines"\n\n4/5/25,QA22 LME,one\n'
    assert [line.number for line in read_lines(written(tmp_path, text.encode()))] == [1, 3, 4, 5]


def test_workbook_keeps_the_types_of_its_cells(tmp_path: Path) -> None:
    book = Workbook()
    book.active.title = "empty"  # type: ignore[union-attr]
    sheet = book.create_sheet("cars")
    sheet.append(["Date", "Reg", "Miles", "Phone", "Letters", "In"])
    sheet.append([A_DAY, "QA21 LME", 38_052, 7_700_900_123, True, A_DAY.time()])
    sheet.append([45_780, "QA22 LME", 12_000.5, "07700 900124", None, "x"])
    path = tmp_path / "list.xlsx"
    book.save(path)
    lines = read_lines(path)
    assert [line.cells for line in lines] == [
        ("Date", "Reg", "Miles", "Phone", "Letters", "In"),
        (A_DAY, "QA21 LME", 38_052, 7_700_900_123, True, "00:00:00"),
        (45_780, "QA22 LME", 12_000.5, "07700 900124", None, "x"),
    ]
    assert [line.number for line in lines] == [1, 2, 3]


def test_bad_file_is_refused_with_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "folder.csv").mkdir()
    bad = {
        "There is no file": tmp_path / "nothing.csv",
        "There is no file ": tmp_path / "folder.csv",
        "is empty.": written(tmp_path, b"", "empty.csv"),
        "is neither .csv nor .xlsx": written(tmp_path, LIST.encode(), "list.pdf"),
        "is not text.": written(tmp_path, bytes(range(256)) * 10, "binary.csv"),
        "is not text. ": written(tmp_path, codecs.BOM_UTF16_LE + b"\x00\xd8\x00", "odd.csv"),
        "cannot be opened as a workbook.": written(tmp_path, b"PK\x03\x04 not a zip", "bad.xlsx"),
        "cannot be opened as a workbook. ": written(tmp_path, LIST.encode(), "text.xlsx"),
    }
    for words, path in bad.items():
        with pytest.raises(Refused) as caught:
            read_lines(path)
        assert words.strip() in caught.value.sentence


def test_workbook_without_anything_in_it_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "blank.xlsx"
    Workbook().save(path)
    with pytest.raises(Refused, match=r"^blank\.xlsx has no sheet with anything in it\.$"):
        read_lines(path)


def test_zip_that_is_no_workbook_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "other.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("hello.txt", "hello")
    with pytest.raises(Refused, match="cannot be opened as a workbook"):
        read_lines(path)


def test_workbook_that_unpacks_to_far_too_much_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    path = tmp_path / "bomb.xlsx"
    with (
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive,
        archive.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as member,
    ):
        for _ in range(sheetfile.MOST_UNPACKED // 10_000_000 + 1):
            member.write(b"0" * 10_000_000)
    assert path.stat().st_size < 1_000_000
    with pytest.raises(Refused, match=r"^bomb\.xlsx unpacks to more than 400 MB\."):
        read_lines(path)


def test_workbook_with_a_cell_far_away_is_read_no_further_than_a_list_goes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = Workbook()
    sheet = book.worksheets[0]
    sheet.append(["Date", "Reg"])
    sheet.cell(row=1_000_000, column=16_000, value="lost")
    path = tmp_path / "far.xlsx"
    book.save(path)
    monkeypatch.setattr(sheetfile, "MOST_ROWS", 2_000)
    with pytest.raises(Refused, match="has more than 2,000 lines"):
        read_lines(path)


def test_list_with_too_many_lines_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheetfile, "MOST_ROWS", 3)
    with pytest.raises(Refused, match=r"^list\.csv has more than 3 lines\. Split it by year\.$"):
        read_lines(written(tmp_path, b"Date,Reg\n" * 4))


def test_huge_file_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "huge.csv"
    with path.open("wb") as file:
        file.truncate(sheetfile.MOST_BYTES + 1)
    with pytest.raises(Refused, match=r"^huge\.csv is larger than 50 MB\. Split it by year\.$"):
        read_lines(path)


def test_cell_without_an_end_is_refused(tmp_path: Path) -> None:
    content = b'Date,Reg\n3/5/25,"' + b"x" * 200_000
    with pytest.raises(Refused, match=r"^list\.csv, line \d+: this is not a list of cells"):
        read_lines(written(tmp_path, content))


@settings(max_examples=60)
@given(content=st.binary(max_size=300))
def test_any_bytes_are_text_or_refused(content: bytes) -> None:
    with suppress(Refused):
        assert "\x00" not in decoded(content, "list.csv")


def test_headings_may_stand_below_a_title_and_in_other_words() -> None:
    lines = [
        Line(1, ("Greywater Yard job list",)),
        Line(2, (None, "")),
        Line(3, ("Visit date", "Reg. No.", "Vehicle", "Customer", "E-Mail", "Loyalty card", "Date")),
    ]
    layout = lay_out(lines)
    assert layout.heading_line == 3
    assert list(layout.columns.values()) == [
        Column.DATE,
        Column.PLATE,
        Column.CAR,
        Column.OWNER,
        Column.EMAIL,
    ]
    assert layout.unknown == {5: "Loyalty card", 6: "Date"}


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        (("3/5/25", "QA21 LME"), "No line of headings was found"),
        (("Date",), "No line of headings was found"),
        (("Reg", "Owner"), "No line of headings was found"),
        (("Date", "Owner"), "The list needs a column that names the car"),
    ],
)
def test_list_without_its_headings_is_refused(cells: tuple[str, ...], words: str) -> None:
    with pytest.raises(Refused, match=words):
        lay_out([Line(1, cells), Line(2, (date(2025, 5, 3), "x"))])
