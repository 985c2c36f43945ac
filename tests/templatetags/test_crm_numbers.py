"""Numbers as the pages write them."""

from __future__ import annotations

import pytest

from crm.templatetags.crm_numbers import about, percent


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (0, "0"),
        (0.04, "0"),
        (3.5, "3.5"),
        (4.0, "4"),
        (9.94, "9.9"),
        (9.96, "10"),
        (18.4, "18"),
        (96.5, "96"),
    ],
)
def test_hours_are_said_with_one_place_under_ten(number: float, words: str) -> None:
    assert about(number) == words


def test_shares_are_said_in_hundredths() -> None:
    assert [percent(share) for share in (0.15, 0.085, 1)] == ["15", "8", "100"]
