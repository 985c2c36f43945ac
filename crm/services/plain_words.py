"""Sentences for what the library's own checks find, in place of its own: what is wrong, and how to mend it."""

from __future__ import annotations

from django.core.exceptions import ValidationError

_EMPTY = "It is empty. Write it down."
_DIGITS = "That number has too many digits. Shorten it."

SENTENCES: dict[str, str] = {
    "required": _EMPTY,
    "blank": _EMPTY,
    "null": _EMPTY,
    "invalid": "That cannot be read. Look at it and type it again.",
    "invalid_choice": "Choose one of those that are offered.",
    "invalid_list": "Choose among those that are offered.",
    "invalid_pk_value": "Choose one of those that are offered.",
    "max_length": "That is too long: it has %(show_value)d characters, and %(limit_value)d are the most. Shorten it.",
    "min_length": "That is too short: it needs %(limit_value)d characters at least.",
    "max_value": "That cannot be right: %(limit_value)s is the most.",
    "min_value": "That cannot be right: %(limit_value)s is the least.",
    "max_digits": _DIGITS,
    "max_decimal_places": _DIGITS,
    "max_whole_digits": _DIGITS,
    "null_characters_not_allowed": "It holds a character that cannot be kept. Type it again.",
}
"""By the code of the check; the figures that it found are filled in."""


def first_sentence(errors: list[ValidationError]) -> str:
    """What the first of a column's errors says, in our words where it is one of the library's checks."""
    error = errors[0]
    sentence = SENTENCES.get(error.code or "", error.message)
    return str(sentence % error.params if error.params else sentence)
