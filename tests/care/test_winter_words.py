"""The sentences of the winter round."""

from __future__ import annotations

from datetime import date

import pytest

from crm.care.surfaces import Zone
from crm.care.terms import ProductClass
from crm.care.winter_figures import WINTER
from crm.care.winter_words import (
    cover_words,
    days_words,
    hours_words,
    nights_words,
    no_room_words,
    salt_words,
)
from crm.care.winter_worth import Cover, Lying
from tests.care.sample_coats import COP, SEA
from tests.care.sample_winter import ON, SPAN, lying


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (0.5, "half an hour"),
        (1, "one hour"),
        (3.5, "three and a half hours"),
        (6, "six hours"),
        (9.5, "nine and a half hours"),
        (12, "twelve hours"),
        (20, "20 hours"),
        (6.2, "6.2 hours"),
    ],
)
def test_hours_are_said_as_one_says_them(hours: float, words: str) -> None:
    assert hours_words(hours) == words


def test_half_a_night_is_perhaps_a_night() -> None:
    assert [nights_words(nights) for nights in (0, 0.5, 1, 1.5)] == [
        "",
        "perhaps a night in the bay",
        "a night in the bay",
        "1.5 nights in the bay",
    ]


def test_days_are_whole_ones() -> None:
    assert (days_words(0.6), days_words(6.4)) == ("1 unprotected day", "6 unprotected days")


def test_layer_is_named_with_its_day_its_place_and_when_it_is_likely_thin() -> None:
    one = Cover(Zone.LOWER_SIDES, (lying(SEA, date(2026, 9, 14)),))
    assert cover_words(one, SPAN, ON) == (
        "its paint sealant of 14 September 2026 on the lower sides is likely thin by early January 2027"
    )


def test_likely_date_of_the_stored_window_goes_before_the_curve() -> None:
    layer = lying(SEA, date(2026, 9, 14))
    stored = Lying(SEA, layer.laid_on, layer.worn, date(2027, 1, 30))
    assert cover_words(Cover(Zone.TOPS, (stored,)), SPAN, ON).endswith("is likely thin by late January 2027")
    past = Lying(SEA, layer.laid_on, layer.worn, date(2026, 8, 2))
    assert cover_words(Cover(Zone.TOPS, (past,)), SPAN, ON).endswith(
        "has likely been thin since early August 2026"
    )


def test_layer_that_has_gone_by_the_first_salted_day_is_said_to_go_before_it() -> None:
    one = Cover(Zone.TOPS, (lying(SEA, date(2026, 1, 14), Zone.TOPS),))
    assert cover_words(one, SPAN, ON) == (
        "its paint sealant of 14 January 2026 on the tops is likely thin before the salted months begin"
    )


def test_layer_that_likely_holds_may_be_thin() -> None:
    one = Cover(Zone.TOPS, (lying(COP, date(2026, 6, 1), Zone.TOPS),))
    assert cover_words(one, SPAN, ON) == (
        "its coating of 1 June 2026 on the tops may be thin before the salted months are over"
    )


def test_of_several_layers_the_one_that_holds_longest_is_named() -> None:
    one = Cover(Zone.TOPS, (lying(SEA, date(2026, 4, 1), Zone.TOPS), lying(COP, date(2024, 6, 1), Zone.TOPS)))
    assert cover_words(one, SPAN, ON).startswith("its coating of 1 June 2024")


def test_bare_and_unknown_places_are_called_so() -> None:
    unknown = Lying(ProductClass.UNKNOWN, date(2020, 1, 1), None)
    assert cover_words(Cover(Zone.SCREEN), SPAN, ON) == "nothing protects its windscreen"
    assert cover_words(Cover(Zone.TOPS, (), 0.3), SPAN, ON) == "nothing protects a part of its tops"
    assert cover_words(Cover(Zone.TOPS, (unknown,)), SPAN, ON) == (
        "nobody knows how long what lies on the tops lasts"
    )
    part = Cover(Zone.TOPS, (lying(SEA, date(2026, 9, 14)),), 0.5)
    assert " on a part of the tops is likely thin" in cover_words(part, SPAN, ON)


def test_salt_is_said_as_far_as_it_is_known() -> None:
    assert salt_words(True, 12_000, WINTER) == ["driven on salted roads"]
    assert salt_words(None, None, WINTER) == ["whether it meets salt is not known"]
    assert salt_words(True, 32_000, WINTER) == ["driven on salted roads", "32,000 km a year"]


def test_want_of_room_is_said_beside_the_last_car_that_is_in() -> None:
    assert no_room_words("the week of 5 October", 6, 3.9, 5.25) == (
        "no room left: the last car in the week of 5 October avoids 5.2 unprotected days for each hour of work,"
        " this one 3.9"
    )
    for marginal in (3.0, 3.9, None):
        assert no_room_words("the week of 5 October", 6, 3.9, marginal) == (
            "no room left: six hours no longer fit into the week of 5 October, its best, or into another"
        )
