"""Odometers, telephone numbers, plates, cars and habits as they are written in a list."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.terms import Parking, Wash
from crm.services.bring_in.cells import (
    CarWords,
    Remark,
    Unreadable,
    read_car,
    read_odometer,
    read_owners,
    read_parking,
    read_phone,
    read_plate,
    read_washing,
    read_yes_no,
)
from crm.services.bring_in.sheetfile import Cell


# A mile is 1.609344 km by definition (international yard and pound agreement, 1959).
@pytest.mark.parametrize(
    ("cell", "unit", "expected"),
    [
        ("12000", "miles", 19_312),
        (12_000, "miles", 19_312),
        (12_000.0, "miles", 19_312),
        ("12,000", "miles", 19_312),
        ("12 000", "miles", 19_312),
        ("12.000", "miles", 19_312),
        ("12'000", "km", 12_000),
        ("12,000 miles", "km", 19_312),
        ("12000mls", "km", 19_312),
        ("12000 mi", "km", 19_312),
        ("59533 km", "miles", 59_533),
        ("59533KMS", "miles", 59_533),
        ("61,240.6", "km", 61_241),
        ("61240.6", "km", 61_241),
        ("27k", "km", 27_000),
        ("27k miles", "km", 43_452),
        ("27 km", "miles", 27),
        ("12.5k", "km", 12_500),
        ("c. 27000", "km", 27_000),
        ("~27000", "km", 27_000),
        ("", "km", None),
        ("-", "km", None),
        ("?", "km", None),
        (None, "km", None),
    ],
)
def test_odometer_is_read_in_every_form(cell: Cell, unit: str, expected: int | None) -> None:
    remarks: list[Remark] = []
    assert read_odometer(cell, unit=unit, remarks=remarks) == expected
    assert [remark.words for remark in remarks] == (
        [f"odometer “{cell}” taken as {27_000 if '27' in str(cell) else 12_500:,}"]
        if "k" in _bare(cell)
        else []
    )


def _bare(cell: Cell) -> str:
    return str(cell).lower().replace("km", "")


@pytest.mark.parametrize(
    ("cell", "sentence"),
    [
        ("see card", "odometer “see card” kept as a note: not a number"),
        ("12x000", "odometer “12x000” kept as a note: not a number"),
        ("9,999,999", "odometer “9,999,999” kept as a note: more than any car has run"),
    ],
)
def test_odometer_that_cannot_be_is_left_out_with_a_remark(cell: Cell, sentence: str) -> None:
    remarks: list[Remark] = []
    assert read_odometer(cell, unit="km", remarks=remarks) is None
    assert [remark.words for remark in remarks] == [sentence]


# Numbers from the ranges that Ofcom keeps for drama.
@pytest.mark.parametrize(
    ("cell", "expected", "lost_zero"),
    [
        ("07700 900123", "+447700900123", False),
        ("+44 7700 900123", "+447700900123", False),
        ("0044 7700 900123", "+447700900123", False),
        ("(01632) 960123", "+441632960123", False),
        (7_700_900_123, "+447700900123", True),
        (7_700_900_123.0, "+447700900123", True),
        (1_632_960_123, "+441632960123", True),
    ],
)
def test_phone_is_read_and_a_lost_zero_is_a_guess(cell: Cell, expected: str, lost_zero: bool) -> None:
    remarks: list[Remark] = []
    assert read_phone(cell, region="GB", remarks=remarks) == expected
    assert bool(remarks) == lost_zero
    if lost_zero:
        assert remarks[0].words.endswith(f"taken as {expected}: the 0 was missing")


@pytest.mark.parametrize("cell", ["", None, "-", "ask wife"])
def test_phone_cell_without_digits_is_no_number(cell: Cell) -> None:
    remarks: list[Remark] = []
    assert read_phone(cell, region="GB", remarks=remarks) == ""
    assert remarks == []


def test_phone_that_cannot_be_rung_is_a_remark() -> None:
    remarks: list[Remark] = []
    assert read_phone("ext 12", region="GB", remarks=remarks) == ""
    assert [remark.words for remark in remarks] == [
        "telephone “ext 12” kept as a note: not a number one can ring"
    ]


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ("QA21 LME", "QA21LME"),
        ("qa21lme", "QA21LME"),
        ("QA21-LME", "QA21LME"),
        ("  qa21   lme ", "QA21LME"),
        ("new", ""),
        ("TBC", ""),
        ("n/a", ""),
        ("-", ""),
        ("", ""),
        (None, ""),
    ],
)
def test_plate_is_read_with_and_without_spaces(cell: Cell, expected: str) -> None:
    assert read_plate(cell)[0] == expected


def test_plate_that_is_none_is_refused() -> None:
    with pytest.raises(Unreadable, match=r"^“QA26 DEMOLITION X” is not a plate$"):
        read_plate("QA26 DEMOLITION X")


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ("y", True),
        ("Yes", True),
        ("OK!", True),
        ("✓", True),
        ("n", False),
        ("STOP", False),
        ("opted out", False),
        ("", None),
        (None, None),
        ("maybe", None),
    ],
)
def test_yes_and_no_are_read_and_nothing_else(cell: Cell, expected: bool | None) -> None:
    assert read_yes_no(cell) is expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("garage", Parking.GARAGE),
        ("underground garage", Parking.CARPORT),
        ("under the lime tree", Parking.TREES_OR_INDUSTRY),
        ("by the sea front", Parking.NEAR_SEA),
        ("on the street", Parking.OUTDOORS),
        ("drive, under trees", Parking.TREES_OR_INDUSTRY),
        ("don't know", None),
        ("", None),
    ],
)
def test_parking_is_read_by_its_words(text: str, expected: Parking | None) -> None:
    assert read_parking(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("tunnel", Wash.TUNNEL),
        ("touch free", Wash.TOUCH_FREE),
        ("roadside hand car wash", Wash.LANCE_BRUSH),
        ("jet wash", Wash.LANCE_OWN_MITT),
        ("by hand", Wash.HAND_NEUTRAL),
        ("hardly ever", Wash.HARDLY_EVER),
        ("who knows", None),
    ],
)
def test_washing_is_read_by_its_words(text: str, expected: Wash | None) -> None:
    assert read_washing(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("dark blue Halden Estate 2021", CarWords("Halden", "Estate", "dark blue", 2021, "estate")),
        ("Halden Estate", CarWords("Halden", "Estate", "", None, "estate")),
        (
            "Pearl White Corrie 3-door (2016)",
            CarWords("Corrie", "3-door", "pearl white", 2016, "hatchback_3"),
        ),
        ("Dark Horse Coupe", CarWords("Dark", "Horse Coupe", "", None, "coupe")),
        ("white van", CarWords("van", "", "white", None, "van")),
        ("", CarWords()),
    ],
)
def test_car_is_taken_apart_into_colour_make_model_and_year(text: str, expected: CarWords) -> None:
    assert read_car(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Jo Tern", ["Jo Tern"]),
        ("Jo Tern / Sam Tern", ["Jo Tern", "Sam Tern"]),
        ("Jo Tern; Sam  Tern", ["Jo Tern", "Sam Tern"]),
        ("Jo Tern paid by Sam Tern", ["Jo Tern", "Sam Tern"]),
        ("Ines Marlowe-Finch", ["Ines Marlowe-Finch"]),
        (" / ", []),
        ("?", []),
    ],
)
def test_owners_of_one_cell_are_told_apart(text: str, expected: list[str]) -> None:
    assert read_owners(text) == expected


@settings(max_examples=100)
@given(cell=st.one_of(st.none(), st.text(max_size=40), st.integers(), st.floats()))
def test_no_cell_breaks_a_reader(cell: Cell) -> None:
    remarks: list[Remark] = []
    kilometres = read_odometer(cell, unit="km", remarks=remarks)
    assert kilometres is None or 0 <= kilometres <= 3_000_000
    number = read_phone(cell, region="GB", remarks=remarks)
    assert number == "" or number.startswith("+")
    read_yes_no(cell)
    read_parking(cell)
    read_washing(cell)
    read_car(str(cell))
    read_owners(str(cell))
    with suppress(Unreadable):
        mark, _ = read_plate(cell)
        assert len(mark) <= 12
