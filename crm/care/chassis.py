"""Chassis numbers: a normal form for storage, and notes that never refuse.

A car may have a short or re-stamped number (kit, classic, early import), and most of the world does
not use a check character. So length, letters and check character are notes; nothing is altered.
"""

from __future__ import annotations

import re
import unicodedata

FULL_LENGTH = 17
LONGEST_CHASSIS = 30
CHECK_PLACE = 8
_DROPPED = re.compile(r"[\s\-\u2010-\u2015\u2212*./]+")
_NEVER_USED = {"I": "1", "O": "0", "Q": "0"}
_CHECKED_MAKERS = "12345L"

_VALUES = (
    dict(zip("0123456789", range(10), strict=True))
    | {
        letter: value
        for letters, first in (("ABCDEFGH", 1), ("JKLMN", 1), ("STUVWXYZ", 2))
        for value, letter in enumerate(letters, start=first)
    }
    | {"P": 7, "R": 9}
)
_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)


class NotAChassisNumber(ValueError):
    """The text cannot be a chassis number of any kind."""


def normal_chassis(text: str) -> str:
    """The number as it is stored: upper case, without spaces, hyphens, dots, slashes and stars.

    Any 1 to 30 letters and digits. Raises NotAChassisNumber.
    """
    normal = _DROPPED.sub("", unicodedata.normalize("NFKC", text)).upper()
    if not normal:
        raise NotAChassisNumber("Type the letters and digits of the chassis number, or leave it empty.")
    wrong = [character for character in normal if not character.isalnum()]
    if wrong:
        raise NotAChassisNumber(
            f"A chassis number has letters and digits only: “{wrong[0]}” cannot be part of it."
        )
    if len(normal) > LONGEST_CHASSIS:
        raise NotAChassisNumber(
            f"A chassis number has at most {LONGEST_CHASSIS} characters here; this has {len(normal)}."
        )
    return normal


def check_character(number: str) -> str:
    """The check character that the ninth place would hold: 0 to 9 or X.

    49 CFR 565.15(c): transliterate (Table III), weigh (Table IV), the remainder by 11 with 10 as X.
    Raises ValueError unless there are 17 digits and letters without I, O and Q.
    """
    if len(number) != FULL_LENGTH or any(character not in _VALUES for character in number):
        raise ValueError("A check character needs 17 digits and letters, none of them I, O or Q.")
    total = sum(_VALUES[character] * weight for character, weight in zip(number, _WEIGHTS, strict=True))
    return "0123456789X"[total % 11]


def chassis_note(text: str) -> str | None:
    """One sentence to look at before saving, or None. Never a reason to refuse.

    Raises NotAChassisNumber as `normal_chassis` does.
    """
    number = normal_chassis(text)
    if len(number) != FULL_LENGTH:
        return (
            f"{len(number)} characters; most cars since the early 1980s have {FULL_LENGTH}. "
            "Right for a kit car, a classic or an early import, otherwise look again."
        )
    unused = [character for character in number if character in _NEVER_USED]
    if unused:
        suggestion = "".join(_NEVER_USED.get(character, character) for character in number)
        return f"{unused[0]} is not used in a number of 17 characters. Did you mean {suggestion}?"
    if any(character not in _VALUES for character in number):
        return "A number of 17 characters has plain letters A to Z and digits. Look again."
    return _check_note(number)


def _check_note(number: str) -> str | None:
    """The check character, where the ninth place could be one: a letter other than X cannot."""
    stamped, worked_out = number[CHECK_PLACE], check_character(number)
    if stamped == worked_out or stamped not in "0123456789X":
        return None
    if number[0] in _CHECKED_MAKERS:
        return f"The ninth character is {stamped} and should work out as {worked_out}. Read the number again."
    return (
        f"The ninth character is {stamped}; as a check character it would be {worked_out}. "
        "Many cars have no check character there, so this may be right."
    )
