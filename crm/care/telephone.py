"""Telephone numbers: stored in the international form of ITU-T E.164, shown the way people say them.

"Possible" decides, not "valid": numbering plans move faster than any table, and a number that a
customer answers must never be refused.
"""

from __future__ import annotations

import phonenumbers
from phonenumbers import NumberParseException, PhoneNumberFormat, ValidationResult


class NotANumber(ValueError):
    """The text cannot be rung."""


_REASONS = {
    ValidationResult.TOO_SHORT: "That number is too short.",
    ValidationResult.TOO_LONG: "That number is too long.",
    ValidationResult.INVALID_LENGTH: "That number does not have the right count of digits.",
    ValidationResult.INVALID_COUNTRY_CODE: "There is no such country code.",
    ValidationResult.IS_POSSIBLE_LOCAL_ONLY: "That number lacks its area code.",
}


def to_e164(text: str, region: str) -> str:
    """A typed number as `+` and up to 15 digits.

    `region` is the studio's two-letter country, used where no country code is typed. An extension is
    dropped. Raises NotANumber with a sentence.
    """
    if region.upper() not in phonenumbers.SUPPORTED_REGIONS and not text.strip().startswith("+"):
        raise NotANumber(f"Type the number with + and its country code: “{region}” is not known here.")
    try:
        number = phonenumbers.parse(text, region.upper())
    except NumberParseException:
        raise NotANumber("That is not a telephone number: type its digits with the area code.") from None
    verdict = phonenumbers.is_possible_number_with_reason(number)
    if verdict != ValidationResult.IS_POSSIBLE:
        raise NotANumber(_REASONS[verdict])
    return phonenumbers.format_number(number, PhoneNumberFormat.E164)


def spoken(e164: str, region: str = "") -> str:
    """A stored number spaced for reading: national within `region`, international elsewhere."""
    number = phonenumbers.parse(e164, None)
    at_home = region and number.country_code == phonenumbers.country_code_for_region(region.upper())
    style = PhoneNumberFormat.NATIONAL if at_home else PhoneNumberFormat.INTERNATIONAL
    return phonenumbers.format_number(number, style)


def national_digits(e164: str) -> str:
    """The digits as dialled within the country, with its trunk prefix: 07700900123."""
    written = phonenumbers.format_number(phonenumbers.parse(e164, None), PhoneNumberFormat.NATIONAL)
    return "".join(character for character in written if character.isdigit())
