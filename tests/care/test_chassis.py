"""Chassis numbers against 49 CFR 565.15 and its sample (read in mirrors); arithmetic recomputed."""

from __future__ import annotations

import pytest

from crm.care.chassis import NotAChassisNumber, chassis_note, check_character, normal_chassis


@pytest.mark.parametrize(
    ("number", "character"),
    [
        ("1G4AH59H45G118341", "4"),  # the regulation's own sample: sum 411 = 37 * 11 + 4
        ("1M8GDM9AXKP042788", "X"),  # standard teaching example: sum 351, remainder 10
        ("11111111111111111", "1"),  # seventeen ones: 89 = 8 * 11 + 1
        ("5GZCZ43D13S812715", "1"),  # sum 408
        ("SGZCZ43D13S812715", "X"),  # the same with 5 misread as S: sum 384
    ],
)
def test_check_character_matches_published_examples(number: str, character: str) -> None:
    assert check_character(number) == character


@pytest.mark.parametrize("number", ["1111", "IIIIIIIIIIIIIIIII", "1111111111111111Ü", ""])
def test_check_character_needs_seventeen_plain_characters(number: str) -> None:
    with pytest.raises(ValueError, match="17 digits and letters"):
        check_character(number)


def test_check_character_catches_every_slip_of_one_character_but_equal_values() -> None:
    number = "1M8GDM9AXKP042788"
    values = dict(
        zip(
            "0123456789ABCDEFGHJKLMNPRSTUVWXYZ",
            [*range(10), *range(1, 9), 1, 2, 3, 4, 5, 7, 9, *range(2, 10)],
            strict=True,
        )
    )
    for place in set(range(17)) - {8}:
        for other, value in values.items():
            slipped = number[:place] + other + number[place + 1 :]
            assert (check_character(slipped) == "X") == (value == values[number[place]])


@pytest.mark.parametrize(
    ("typed", "stored"),
    [("*11111 11111-11111.11*", "1" * 17), ("hal 0042", "HAL0042"), ("b/123", "B123"), ("1i0o", "1I0O")],
)
def test_normal_chassis_drops_what_is_stamped_around_it_and_alters_nothing(typed: str, stored: str) -> None:
    assert normal_chassis(typed) == stored


@pytest.mark.parametrize("typed", ["", " * ", "12#4", "1" * 31])
def test_normal_chassis_refuses_what_cannot_be_one(typed: str) -> None:
    with pytest.raises(NotAChassisNumber) as refusal:
        normal_chassis(typed)
    assert str(refusal.value).endswith(".")


def test_chassis_note_is_silent_for_a_number_that_works_out() -> None:
    assert chassis_note("1111 1111 1111 11111") is None


def test_chassis_note_speaks_of_length_without_refusing() -> None:
    note = chassis_note("HAL0042")
    assert note is not None
    assert note.startswith("7 characters;")


def test_chassis_note_suggests_digits_for_letters_that_are_not_used() -> None:
    assert chassis_note("1G4AH59H45GI18341") == (
        "I is not used in a number of 17 characters. Did you mean 1G4AH59H45G118341?"
    )
    assert chassis_note("QOQOQOQOQOQOQOQOQ") == (
        "Q is not used in a number of 17 characters. Did you mean 00000000000000000?"
    )


def test_chassis_note_on_the_check_character_is_firm_only_where_it_is_the_rule() -> None:
    firm = chassis_note("1G4AH59H35G118341")
    soft = chassis_note("SGZCZ43D13S812715")
    assert firm == "The ninth character is 3 and should work out as 4. Read the number again."
    assert soft is not None
    assert "may be right" in soft


def test_chassis_note_leaves_a_ninth_place_alone_that_cannot_be_a_check_character() -> None:
    assert chassis_note("SGZCZ43DZ3S812715") is None


def test_chassis_note_mentions_other_alphabets() -> None:
    assert chassis_note("1111111111111111Ü") == (
        "A number of 17 characters has plain letters A to Z and digits. Look again."
    )
