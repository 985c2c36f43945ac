"""Days as they are written in a list. The serial numbers are those of common spreadsheet programs."""

from __future__ import annotations

from contextlib import suppress
from datetime import date, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.services.bring_in.cells import Sure, Unreadable, month_comes_first, read_date
from crm.services.bring_in.sheetfile import Cell

TODAY = date(2026, 11, 25)
IN_A_WORKBOOK = datetime.fromisoformat("2025-05-03T14:30")
"""Workbooks know no zones."""


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        (date(2025, 5, 3), date(2025, 5, 3)),
        (IN_A_WORKBOOK, date(2025, 5, 3)),
        ("2025-05-03", date(2025, 5, 3)),
        ("2025-5-3", date(2025, 5, 3)),
        ("2025/05/03", date(2025, 5, 3)),
        ("2025.05.03", date(2025, 5, 3)),
        ("2025-05-03T08:52:00", date(2025, 5, 3)),
        ("2025-05-03 08:52", date(2025, 5, 3)),
        ("23/5/2025", date(2025, 5, 23)),
        ("5/23/2025", date(2025, 5, 23)),
        ("23-5-25", date(2025, 5, 23)),
        ("23.05.25", date(2025, 5, 23)),
        ("23 5 25", date(2025, 5, 23)),
        ("5/5/25", date(2025, 5, 5)),
        ("3 May 25", date(2025, 5, 3)),
        ("3 May 2025", date(2025, 5, 3)),
        ("03-May-2025", date(2025, 5, 3)),
        ("3rd of May 2025", date(2025, 5, 3)),
        ("3rd May 2025", date(2025, 5, 3)),
        ("1st Sept 2025", date(2025, 9, 1)),
        ("2nd Sep. 2025", date(2025, 9, 2)),
        ("22nd October 2022", date(2022, 10, 22)),
        ("Tue 1 Nov 2022", date(2022, 11, 1)),
        ("Saturday, 3 May 2025", date(2025, 5, 3)),
        ("3 May '25", date(2025, 5, 3)),
        ("May 3, 2025", date(2025, 5, 3)),
        ("May 3rd 2025", date(2025, 5, 3)),
        ("  3 MAY 2025 ", date(2025, 5, 3)),
        ("29/2/2024", date(2024, 2, 29)),
        (45_000, date(2023, 3, 15)),
        (45_000.75, date(2023, 3, 15)),
        ("45000", date(2023, 3, 15)),
        (44_197, date(2021, 1, 1)),
    ],
)
def test_date_is_read_in_every_form_of_a_list(cell: Cell, expected: date) -> None:
    assert read_date(cell, today=TODAY, month_first=None) == (expected, [])


@pytest.mark.parametrize(
    ("cell", "sentence"),
    [
        ("", "there is no date"),
        (None, "there is no date"),
        ("31/2/25", "“31/2/25” is not a day that exists"),
        ("29 Feb 2023", "“29 Feb 2023” is not a day that exists"),
        ("32/1/25", "“32/1/25” is not a day that exists"),
        ("13/13/25", "“13/13/25” is not a day that exists"),
        ("sometime in spring", "“sometime in spring” is not a date"),
        ("3 Mayor 2023", "“3 Mayor 2023” is not a date"),
        ("decon 2023", "“decon 2023” is not a date"),
        ("0000-01-01", "“0000-01-01” is not a day that exists"),
        ("14/3/2031", "14 March 2031 has not come yet"),
        (date(2026, 11, 26), "26 November 2026 has not come yet"),
        ("15 June 1066", "15 June 1066 is before 1970"),
        (1, "1 is not a date"),
        (12_345_678, "1.23457e+07 is not a date"),
        (float("nan"), "nan is not a date"),
        (True, "“True” is not a date"),
    ],
)
def test_what_is_no_day_is_refused_with_a_sentence(cell: Cell, sentence: str) -> None:
    with pytest.raises(Unreadable) as caught:
        read_date(cell, today=TODAY, month_first=None)
    assert str(caught.value) == sentence


@pytest.mark.parametrize(
    ("text", "expected"),
    [("1/2/26", 2026), ("1/2/25", 2025), ("1/2/99", 1999), ("1/2/70", 1970), ("1/2/00", 2000)],
)
def test_two_digit_year_is_the_last_one_that_was(text: str, expected: int) -> None:
    assert read_date(text, today=TODAY, month_first=False)[0].year == expected


def test_two_digit_year_of_a_year_to_come_is_a_century_ago_and_refused() -> None:
    with pytest.raises(Unreadable, match=r"^1 February 1927 is before 1970$"):
        read_date("1/2/27", today=TODAY, month_first=False)


def test_month_without_a_day_is_a_guess() -> None:
    day, remarks = read_date("June 2023", today=TODAY, month_first=None)
    assert day == date(2023, 6, 1)
    assert [(remark.sure, remark.words) for remark in remarks] == [
        (Sure.GUESSED, "“June 2023” has no day: taken as 1 June 2023")
    ]


def test_ambiguous_day_is_guessed_as_day_first_where_the_list_does_not_tell() -> None:
    day, remarks = read_date("3/5/25", today=TODAY, month_first=None)
    assert day == date(2025, 5, 3)
    assert [remark.words for remark in remarks] == ["“3/5/25” taken as 3 May 2025, the day before the month"]


@pytest.mark.parametrize(
    ("cells", "month_first", "read"),
    [
        (["3/5/25", "23/5/25"], False, date(2025, 5, 3)),
        (["3/5/25", "5/23/25"], True, date(2025, 3, 5)),
        (["3/5/25", "5/23/25", "23/5/25"], None, date(2025, 5, 3)),
        (["3/5/25", "5/23/25", "23/5/25", "24/5/25"], False, date(2025, 5, 3)),
        (["3/5/25", date(2025, 12, 31), 45_000, None], None, date(2025, 5, 3)),
    ],
)
def test_other_dates_of_the_list_decide_which_comes_first(
    cells: list[Cell], month_first: bool | None, read: date
) -> None:
    assert month_comes_first(cells) == month_first
    day, remarks = read_date(cells[0], today=TODAY, month_first=month_first)
    assert (day, bool(remarks)) == (read, month_first is None)


anything = st.one_of(
    st.none(),
    st.text(max_size=30),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.dates(),
    st.datetimes(),
    st.from_regex(r"\d{1,5}[-/. ]\d{1,3}[-/. ]\d{1,5}", fullmatch=True),
    st.from_regex(r"[a-z]{3,9} ?\d{1,2}[a-z]{0,2},? \d{2,4}", fullmatch=True),
)


@settings(max_examples=100)
@given(cell=anything, month_first=st.sampled_from([True, False, None]))
def test_any_cell_is_a_day_of_the_past_or_unreadable(cell: Cell, month_first: bool | None) -> None:
    with suppress(Unreadable):
        day, remarks = read_date(cell, today=TODAY, month_first=month_first)
        assert date(1970, 1, 1) <= day <= TODAY
        assert all(remark.sure is Sure.GUESSED for remark in remarks)
