"""Registration marks against the leaflet INF104 (as read in mirrors) and invented marks."""

from __future__ import annotations

from datetime import date

import pytest

from crm.care.plates import (
    AgeSpan,
    NotAMark,
    age_identifier,
    age_of,
    display_mark,
    folded,
    mark_note,
    normal_mark,
)


@pytest.mark.parametrize(
    ("typed", "stored"),
    [
        ("qa26 dem", "QA26DEM"),
        (" Q-A 26\u2013dem ", "QA26DEM"),
        ("fü ab 12", "FÜAB12"),
        ("u\u0308x 1", "ÜX1"),
        ("1", "1"),
        ("QZ76\u00a0DMO", "QZ76DMO"),
        ("0O1IQQ", "0O1IQQ"),
    ],
)
def test_normal_mark_keeps_letters_and_digits_only_and_never_folds(typed: str, stored: str) -> None:
    assert normal_mark(typed) == stored


@pytest.mark.parametrize("typed", ["", "  - ", "QA26DEM!", "QA_26", "A" * 13, "🚗"])
def test_normal_mark_refuses_what_cannot_be_a_mark_with_a_sentence(typed: str) -> None:
    with pytest.raises(NotAMark) as refusal:
        normal_mark(typed)
    assert str(refusal.value).endswith(".")


def test_normal_mark_takes_twelve_characters() -> None:
    assert normal_mark("A" * 12) == "A" * 12


@pytest.mark.parametrize(("one", "other"), [("0", "O"), ("1", "I"), ("2", "Z"), ("5", "S"), ("8", "B")])
def test_folded_makes_lookalikes_one(one: str, other: str) -> None:
    assert folded(f"Q{one}X") == folded(f"q {other}-x")


def test_folded_keeps_other_letters_apart() -> None:
    assert folded("ACDEFGHJKLMNPQRTUVWXY") == "ACDEFGHJKLMNPQRTUVWXY"


@pytest.mark.parametrize(
    ("stored", "shown"),
    [
        ("QA26DEM", "QA26 DEM"),
        ("Q9XXX", "Q9 XXX"),
        ("XXX999X", "XXX 999X"),
        ("QX1234", "QX 1234"),
        ("1234QX", "1234 QX"),
        ("261XX123", "261-XX-123"),
        ("07XX123", "07-XX-123"),
        ("101D101", "101 D 101"),
        ("101X101", "101 X 101"),
        ("QX12345", "QX 12345"),
        ("FÜAB12", "FÜAB12"),
        ("QA123QA", "QA-123-QA"),
    ],
)
def test_display_mark_spaces_known_shapes_and_leaves_others(stored: str, shown: str) -> None:
    assert display_mark(stored) == shown
    assert normal_mark(shown) == stored


@pytest.mark.parametrize(
    "stored", ["QA26DEM", "AI26DEM", "ZA26DEM", "AA26QAA", "AA26AIA", "AA01AAA", "O12AAA", "AAA12U"]
)
def test_mark_note_points_at_letters_that_are_never_issued(stored: str) -> None:
    note = mark_note(stored)
    assert note is not None
    assert "Check it, or keep it." in note


@pytest.mark.parametrize("stored", ["AA26AAZ", "A12AAA", "AAA12A", "261XX123", "FÜAB12", "AAA1", "TRADE99"])
def test_mark_note_is_silent_where_nothing_is_odd(stored: str) -> None:
    assert mark_note(stored) is None


def test_mark_note_says_that_a_q_plate_hides_the_age() -> None:
    assert (
        mark_note("Q123AAA")
        == "A Q plate: the age of the car is not known (a kit, a rebuild or some imports)."
    )


@pytest.mark.parametrize("slip", ["XX2IXXX", "XXZ1XXX"])
def test_mark_note_suggests_the_lookalike_of_a_slip(slip: str) -> None:
    assert mark_note(slip) == "Did you mean XX21 XXX? It is kept as typed until you change it."


@pytest.mark.parametrize(
    ("day", "identifier"),
    [
        # INF104 rule; examples recomputed.
        (date(2021, 8, 10), "21"),
        (date(2021, 11, 8), "71"),
        (date(2019, 1, 10), "68"),
        (date(2026, 2, 28), "75"),
        (date(2026, 3, 1), "26"),
        (date(2026, 9, 1), "76"),
        (date(2027, 2, 28), "76"),
        (date(2001, 9, 1), "51"),
        (date(2051, 2, 28), "00"),
    ],
)
def test_age_identifier_follows_the_half_years(day: date, identifier: str) -> None:
    assert age_identifier(day) == identifier
    span = age_of(f"AA{identifier}AAA")
    assert span is not None
    assert span.first <= day <= span.last


@pytest.mark.parametrize("day", [date(2001, 8, 31), date(2051, 3, 1)])
def test_age_identifier_refuses_days_outside_the_style(day: date) -> None:
    with pytest.raises(ValueError, match="September 2001"):
        age_identifier(day)


@pytest.mark.parametrize(
    ("stored", "span"),
    [
        ("AA71AAA", AgeSpan(date(2021, 9, 1), date(2022, 2, 28))),
        ("AA73AAA", AgeSpan(date(2023, 9, 1), date(2024, 2, 29))),
        ("AA01AAA", None),
        ("A1AAA", AgeSpan(date(1983, 8, 1), date(2001, 8, 31))),
        ("AAA1A", AgeSpan(date(1963, 1, 1), date(1983, 7, 31))),
        ("Q1AAA", None),
        ("AAA1234", None),
        ("131XX1234", AgeSpan(date(2013, 1, 1), date(2013, 6, 30))),
        ("262XX1", AgeSpan(date(2026, 7, 1), date(2026, 12, 31))),
        ("07XX1234", AgeSpan(date(2007, 1, 1), date(2007, 12, 31))),
        ("99XX1", AgeSpan(date(1999, 1, 1), date(1999, 12, 31))),
        ("50XX1", None),
        ("FÜAB12", None),
    ],
)
def test_age_of_tells_only_what_the_shape_tells(stored: str, span: AgeSpan | None) -> None:
    assert age_of(stored) == span
