"""What one sees of a car, held against typed words."""

from __future__ import annotations

import pytest

from crm.care.finding import KeyKind, look_keys, look_words, query_keys
from crm.care.looks import Looks, likeness

VAN = Looks("White", "Marram", "Van", 2019)


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("marram", "make"),
        ("white marram", "colour and make"),
        ("marram van 2019", "make, model and year 2019"),
        ("van white", "colour and model"),
        ("whit marrma", "colour and make"),
        ("marram 2019", "make and year 2019"),
    ],
)
def test_it_is_told_what_of_a_car_answers(typed: str, told: str) -> None:
    assert likeness(typed, VAN)[1] == told


def test_every_word_as_it_stands_is_the_nearest_and_a_slip_costs() -> None:
    whole, begun, slip, one_of_two = (
        likeness(typed, VAN)[0] for typed in ("white van", "whi van", "wihte van", "white zzz")
    )
    assert whole == 1.0
    assert whole > begun > slip > one_of_two


def test_a_car_of_which_nothing_is_known_answers_to_nothing() -> None:
    assert likeness("blue halden", Looks("", "", "", None)) == (0.0, "")


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("2019", []),
        ("qa26", []),
        ("bl", []),
        ("3-door", ["door"]),
        ("a blue Halden 2019", ["blue", "halden", "2019"]),
        ("c3 red", ["c3", "red"]),
    ],
)
def test_a_number_alone_says_nothing_of_how_a_car_looks(typed: str, words: list[str]) -> None:
    assert look_words(typed) == words
    assert any(key.kind is KeyKind.LOOK for key in query_keys(typed)) == bool(words)


def test_a_number_is_kept_whole_and_a_word_with_a_letter_left_out() -> None:
    assert look_keys("Red", "Marram", "3-door", "2019") == {
        *("red", "3", "2019"),
        *("marram", "arram", "mrram", "maram", "marrm", "marra"),
        *("door", "oor", "dor", "doo"),
    }
