"""Telephone numbers: fictional ranges only. E.164 form and "possible" are pinned, "valid" is not used."""

from __future__ import annotations

import phonenumbers
import pytest

from crm.care.telephone import NotANumber, national_digits, spoken, to_e164

# Drama and fiction ranges; results computed with phonenumbers 9.0.43.
DRAMA = [
    ("07700 900123", "GB", "+447700900123"),
    ("01632 960123", "GB", "+441632960123"),
    ("020 7946 0123", "GB", "+442079460123"),
    ("+44 (0)20 7946 0123", "GB", "+442079460123"),
    ("0044 20 7946 0123", "GB", "+442079460123"),
    ("0113 496 0123", "GB", "+441134960123"),
    ("0115 496 0123", "GB", "+441154960123"),
    ("212-555-0123", "US", "+12125550123"),
    ("(555) 555-0123", "US", "+15555550123"),
    ("0491 570 156", "AU", "+61491570156"),
    ("+44 7700 900123", "US", "+447700900123"),
]


@pytest.mark.parametrize(("typed", "region", "stored"), DRAMA)
def test_to_e164_reads_numbers_as_people_write_them(typed: str, region: str, stored: str) -> None:
    assert to_e164(typed, region) == stored


def test_to_e164_takes_a_possible_number_that_no_plan_calls_valid() -> None:
    number = phonenumbers.parse("07700 900123", "GB")
    assert not phonenumbers.is_valid_number(number)
    assert to_e164("07700 900123", "GB") == "+447700900123"


@pytest.mark.parametrize(
    "typed", ["", "hello", "1", "07700", "960123", "+999 123456", "07700 900123 900123 9"]
)
def test_to_e164_refuses_with_a_sentence(typed: str) -> None:
    with pytest.raises(NotANumber) as refusal:
        to_e164(typed, "GB")
    assert str(refusal.value).endswith(".")


def test_to_e164_asks_for_the_area_code_of_a_local_number() -> None:
    with pytest.raises(NotANumber, match="lacks its area code"):
        to_e164("960123", "GB")


def test_to_e164_needs_a_country_code_where_the_region_is_unknown() -> None:
    assert to_e164("+447700900123", "XX") == "+447700900123"
    with pytest.raises(NotANumber, match="country code"):
        to_e164("07700900123", "XX")


def test_spoken_is_national_at_home_and_international_abroad() -> None:
    assert spoken("+447700900123", "GB") == "07700 900123"
    assert spoken("+447700900123", "us") == "+44 7700 900123"
    assert spoken("+447700900123") == "+44 7700 900123"


def test_national_digits_keep_the_trunk_prefix() -> None:
    assert national_digits("+447700900123") == "07700900123"
    assert national_digits("+12125550123") == "2125550123"
