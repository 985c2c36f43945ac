"""Odometers in kilometres and miles."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.distance import distance_words, from_km, in_the_unit, to_km


def test_a_thousand_miles_are_1609_kilometres() -> None:
    # International yard and pound agreement, 1959: a mile is 1.609344 km exactly.
    assert to_km(1000, in_miles=True) == 1609
    assert to_km(1000, in_miles=False) == 1000


@settings(max_examples=100)
@given(st.integers(min_value=0, max_value=2_000_000))
def test_what_was_read_in_miles_is_shown_again_in_the_same_miles(read: int) -> None:
    assert from_km(to_km(read, in_miles=True), in_miles=True) == read


def test_distances_are_said_in_the_studios_unit() -> None:
    assert distance_words(61_240, in_miles=False) == "61,240 km"
    assert distance_words(61_240, in_miles=True) == "38,053 miles"


def test_sentences_of_the_engine_are_told_in_the_studios_unit() -> None:
    # 22,000 / 1.609344 is 13,670.2.
    words = "from January 2026: 22,000 km a year: wears 1.15 times as fast"
    assert in_the_unit(words, in_miles=False) == words
    assert (
        in_the_unit(words, in_miles=True)
        == "from January 2026: 13,670 miles a year: wears 1.15 times as fast"
    )
    assert (
        in_the_unit("summer heat from June: 1.2 times", in_miles=True) == "summer heat from June: 1.2 times"
    )
