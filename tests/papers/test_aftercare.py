"""The aftercare sheet on paper, read back with poppler's tools and a PDF parser."""

from __future__ import annotations

import re
import subprocess
import zlib
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from crm.papers.aftercare import paper
from crm.papers.sheet import AdviceLine, SheetContent
from tests.papers.content import CONTENT


def _text(pdf: bytes, tmp_path: Path) -> str:
    """What a reader reads, by poppler's pdftotext, with runs of blanks as one."""
    path = tmp_path / "sheet.pdf"
    path.write_bytes(pdf)
    read = subprocess.run(["pdftotext", "-layout", path, "-"], check=True, capture_output=True, timeout=60)
    return " ".join(read.stdout.decode("utf-8").split())


def _facts(pdf: bytes, tmp_path: Path) -> dict[str, str]:
    """What poppler's pdfinfo says of a document: Pages, Page size, Title, Tagged."""
    path = tmp_path / "facts.pdf"
    path.write_bytes(pdf)
    told = subprocess.run(["pdfinfo", path], check=True, capture_output=True, timeout=60).stdout.decode(
        "utf-8"
    )
    rows = (line.split(":", 1) for line in told.splitlines() if ":" in line)
    return {name: value.strip() for name, value in rows}


def _unpacked(pdf: bytes) -> Iterator[bytes]:
    """The streams of a document, inflated where they are deflated."""
    for stream in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL):
        try:
            yield zlib.decompress(stream)
        except zlib.error:
            yield stream


@pytest.fixture(scope="module")
def printed() -> bytes:
    """The sheet, printed once."""
    return paper(CONTENT)


def test_sheet_says_what_is_on_the_car_and_until_about_when(printed: bytes, tmp_path: Path) -> None:
    text = _text(printed, tmp_path)
    for piece in (
        "Looking after your blue Halden Estate",
        "QA26 DEM",
        "for Cerys Harrow, handed over on Monday 4 May 2026, 15:10",
        "Greywater Yard",
        "2 Slipway Lane, Skerrin",
        "+44 7700 900100",
        "Fulmar two-year coating",
        "until around February 2027",
        "no forecast",
        "Two buckets, your own mitt.",
        "Product data sheets and local rules come before anything on this page. Ada Quill",
    ):
        assert piece in text


def test_waits_stand_in_the_order_of_their_ends_in_the_studios_time(printed: bytes, tmp_path: Path) -> None:
    text = _text(printed, tmp_path)
    places = [text.index(words) for words in ("Keep it dry", "No washing, no jets", "No wax, ever")]
    assert places == sorted(places)
    assert "Tuesday 5 May, 15:10" in text
    # Seven days ahead the minute is of no use.
    assert "the end of Monday 11 May" in text
    assert "11 May, 15:10" not in text


def test_longest_end_of_a_wait_stays_inside_the_margin(tmp_path: Path) -> None:
    far = datetime(2026, 9, 30, 14, 10, tzinfo=UTC)
    line = AdviceLine(
        code="no_wash", words="No washing, shampoo, jets or car wash of any kind. " * 3, until=far
    )
    pdf = paper(replace(CONTENT, advice=replace(CONTENT.advice, donts=(line,))))
    path = tmp_path / "sheet.pdf"
    path.write_bytes(pdf)
    read = subprocess.run(["pdftotext", "-bbox", path, "-"], check=True, capture_output=True, timeout=60)
    edges = re.findall(r'xMax="([0-9.]+)"[^>]*>September<', read.stdout.decode("utf-8"))
    # A4 is 210 mm wide (ISO 216), of which the margin takes 13; a millimetre is 72/25.4 points.
    assert [round(float(edge) - (210 - 13) * 72 / 25.4, 1) <= 0 for edge in edges] == [True]


def test_promise_stands_word_for_word(printed: bytes, tmp_path: Path) -> None:
    assert f"{CONTENT.promise} (24 months)" in _text(printed, tmp_path)


def test_wash_plan_names_its_days(printed: bytes, tmp_path: Path) -> None:
    text = _text(printed, tmp_path)
    assert "Monday 31 August 2026: maintenance wash" in text
    assert "Sunday 28 February 2027: maintenance wash" in text


@pytest.mark.parametrize(
    ("name", "size"), [("A4", "595.276 x 841.89 pts (A4)"), ("Letter", "612 x 792 pts (letter)")]
)
def test_sheet_fits_the_studios_paper(name: str, size: str, tmp_path: Path) -> None:
    # A4 is 210 x 297 mm (ISO 216); Letter is 8.5 x 11 inches; 72 points to the inch.
    assert _facts(paper(replace(CONTENT, paper=name)), tmp_path)["Page size"] == size


def test_small_sheet_is_one_page_and_says_so(printed: bytes, tmp_path: Path) -> None:
    assert _facts(printed, tmp_path)["Pages"] == "1"
    assert "1 of 1" in _text(printed, tmp_path)


def _long_sheet() -> SheetContent:
    cautions = tuple(
        AdviceLine(
            code=f"caution_{number}",
            words=f"Caution number {number}: " + "beware of it and wear gloves. " * 6,
        )
        for number in range(60)
    )
    return replace(CONTENT, advice=replace(CONTENT.advice, safety=cautions))


def test_no_caution_is_left_out_however_many_there_are(tmp_path: Path) -> None:
    pdf = paper(_long_sheet())
    pages = int(_facts(pdf, tmp_path)["Pages"])
    text = _text(pdf, tmp_path)
    assert pages > 1
    assert f"{pages} of {pages}" in text
    assert all(f"Caution number {number}:" in text for number in range(60))


def test_sheet_is_tagged_titled_and_in_english(printed: bytes, tmp_path: Path) -> None:
    facts = _facts(printed, tmp_path)
    assert (facts["Tagged"], facts["Title"]) == ("yes", "Aftercare: blue Halden Estate")
    assert facts["Author"] == "Greywater Yard"
    inside = b"".join(_unpacked(printed))
    assert b"/Lang (en-GB)" in inside
    assert b"pdfuaid" in inside


def test_only_the_shipped_typeface_is_used_and_embedded(printed: bytes, tmp_path: Path) -> None:
    path = tmp_path / "sheet.pdf"
    path.write_bytes(printed)
    listed = subprocess.run(["pdffonts", path], check=True, capture_output=True, timeout=60).stdout.decode()
    rows = listed.splitlines()[2:]
    # A stand-in from the machine would show under its own name; columns after the encoding: embedded, subset.
    assert {row.split()[0].partition("+")[2] for row in rows} == {"Paper", "Paper-Bold"}
    assert all(" yes yes yes " in row for row in rows)


def test_sheet_needs_no_colour(printed: bytes, tmp_path: Path) -> None:
    path = tmp_path / "sheet.pdf"
    path.write_bytes(printed)
    subprocess.run(["pdftoppm", "-r", "40", path, tmp_path / "page"], check=True, timeout=60)
    pixels = next(tmp_path.glob("page*.ppm")).read_bytes().split(b"\n255\n", 1)[1]
    assert pixels[0::3] == pixels[1::3] == pixels[2::3]


@pytest.mark.parametrize(
    "words",
    [
        "<script>alert(1)</script>",
        "</body>",
        "{{ sheet }}",
        "Zoë & Łęcka",
        "'; DROP TABLE crm_car; --",
        "x" * 300,
    ],
)
def test_whatever_was_typed_is_printed_as_it_was_typed(words: str, tmp_path: Path) -> None:
    pdf = paper(replace(CONTENT, promise=words, keeper_name=""))
    text = _text(pdf, tmp_path)
    assert "".join(words.split()) in "".join(text.split())


def test_empty_sheet_still_prints_its_cautions(tmp_path: Path) -> None:
    bare = replace(
        CONTENT,
        layers=(),
        wash_visits=(),
        promise="",
        promise_months=None,
        plate="",
        keeper_name="",
        studio_phone="",
        studio_address="",
        signature="",
        advice=replace(CONTENT.advice, headlines=(), donts=(), care=()),
    )
    text = _text(paper(bare), tmp_path)
    assert "Never mix cleaners" in text
    assert "What is on it" not in text
    assert "Your wash plan" not in text


def test_content_comes_back_from_json_as_it_was() -> None:
    assert SheetContent.from_json(CONTENT.to_json()) == CONTENT
