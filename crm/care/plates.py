"""Registration marks: one normal form for storage, a folded form for search, and notes that never refuse.

Any mark of 1 to 12 letters and digits is accepted, because a studio sees imports, trade plates and
private marks. Shapes are recognised only to space a mark and to point at a likely slip.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from datetime import date, timedelta

LONGEST_MARK = 12
_DROPPED = re.compile(r"[\s\-\u2010-\u2015\u2212\u00b7.]+")
_FOLD = str.maketrans("OIZSB", "01258")
_LOOKALIKES = {
    "0": "O",
    "1": "I",
    "2": "Z",
    "5": "S",
    "8": "B",
    "O": "0",
    "I": "1",
    "Z": "2",
    "S": "5",
    "B": "8",
}

_CURRENT = re.compile(r"([A-Z]{2}\d{2})([A-Z]{3})")
_PREFIX = re.compile(r"([A-Z]\d{1,3})([A-Z]{3})")
_SUFFIX = re.compile(r"([A-Z]{3})(\d{1,3}[A-Z])")
_DATELESS = re.compile(r"([A-Z]{1,3})(\d{1,4})")
_DATELESS_REVERSED = re.compile(r"(\d{1,4})([A-Z]{1,3})")
_FRENCH = re.compile(r"([A-Z]{2})(\d{3})([A-Z]{2})")
_IRISH = re.compile(r"(\d{2}|1[3-9][12]|[2-9]\d[12])([A-Z]{1,2})(\d{1,6})")
_DIPLOMATIC = re.compile(r"(\d{3})([DX])(\d{3})")
_NORWEGIAN = re.compile(r"([A-Z]{2})(\d{5})")

_SHAPES: tuple[tuple[re.Pattern[str], str], ...] = (
    (_CURRENT, " "),
    (_PREFIX, " "),
    (_SUFFIX, " "),
    (_DATELESS, " "),
    (_DATELESS_REVERSED, " "),
    (_FRENCH, "-"),
    (_IRISH, "-"),
    (_DIPLOMATIC, " "),
    (_NORWEGIAN, " "),
)
"""Shapes in the order in which they are tried, and what stands between their parts.

Great Britain after the licensing agency's leaflet INF104; Ireland year, half-year and county; France
since 2009; Norway from memory.
"""


class NotAMark(ValueError):
    """The text cannot be a registration mark."""


@dataclass(frozen=True, slots=True)
class AgeSpan:
    """The days, first and last, between which a mark was first issued."""

    first: date
    last: date


def normal_mark(text: str) -> str:
    """The mark as it is stored: upper case, without spaces, hyphens and dots.

    1 to 12 letters (of any script, so `FÜ AB 12` stays itself) and digits. Raises NotAMark.
    """
    normal = _DROPPED.sub("", unicodedata.normalize("NFKC", text)).upper()
    if not normal:
        raise NotAMark(
            "Type the letters and digits of the plate, or leave it empty if there is no plate yet."
        )
    wrong = [character for character in normal if not _belongs(character)]
    if wrong:
        raise NotAMark(f"A plate has letters and digits only: “{wrong[0]}” cannot be part of it.")
    if len(normal) > LONGEST_MARK:
        raise NotAMark(f"A plate has at most {LONGEST_MARK} letters and digits; this has {len(normal)}.")
    return normal


def _belongs(character: str) -> bool:
    category = unicodedata.category(character)
    return category[0] in "LM" or category == "Nd"


def folded(text: str) -> str:
    """The normal form with look-alikes made one: O is 0, I is 1, Z is 2, S is 5, B is 8.

    For search only; storage never folds.
    """
    return _DROPPED.sub("", unicodedata.normalize("NFKC", text)).upper().translate(_FOLD)


def display_mark(normal: str) -> str:
    """A stored mark spaced by its shape where the shape is recognised, otherwise as it is."""
    for shape, between in _SHAPES:
        found = shape.fullmatch(normal)
        if found:
            return between.join(found.groups())
    return normal


def mark_note(normal: str) -> str | None:
    """One sentence to look at before saving, or None. Never a reason to refuse.

    Letters that are never issued are after leaflet INF104 as published by the licensing agency.
    """
    if found := _CURRENT.fullmatch(normal):
        return _current_note(found[1], found[2])
    if found := _PREFIX.fullmatch(normal):
        if normal[0] == "Q":
            return "A Q plate: the age of the car is not known (a kit, a rebuild or some imports)."
        return _age_letter_note(normal[0])
    if found := _SUFFIX.fullmatch(normal):
        return _age_letter_note(normal[-1])
    if display_mark(normal) == normal:
        return _lookalike_note(normal)
    return None


def _current_note(tag_and_age: str, last_three: str) -> str | None:
    if set(tag_and_age[:2]) & set("IQZ"):
        return "I, Q and Z are not used in the first pair of a mark of this style. Check it, or keep it."
    if set(last_three) & set("IQ"):
        return "I and Q are not used in the last three letters of a mark of this style. Check it, or keep it."
    if tag_and_age[2:] == "01":
        return "No mark of this style carries the age 01. Check it, or keep it."
    return None


def _age_letter_note(letter: str) -> str | None:
    if letter in "IOQUZ":
        return f"{letter} was never used as the age letter of a mark of this style. Check it, or keep it."
    return None


def _lookalike_note(normal: str) -> str | None:
    """A mark of the current length in which one look-alike was typed for another."""
    if len(normal) != 7:
        return None
    wanted = ["letter", "letter", "digit", "digit", "letter", "letter", "letter"]
    mended = "".join(
        character if character.isdigit() == (kind == "digit") else _LOOKALIKES.get(character, character)
        for character, kind in zip(normal, wanted, strict=True)
    )
    if mended != normal and _CURRENT.fullmatch(mended):
        return f"Did you mean {display_mark(mended)}? It is kept as typed until you change it."
    return None


def age_identifier(day: date) -> str:
    """The two digits of a current-style British mark first issued on this day.

    March to August: the year; September to February: 50 more than the September's year (INF104).
    Raises ValueError before September 2001 and after February 2051.
    """
    if not date(2001, 9, 1) <= day < date(2051, 3, 1):
        raise ValueError("Marks of this style are issued from September 2001 to February 2051.")
    if 3 <= day.month <= 8:
        return f"{day.year % 100:02}"
    autumn = day.year if day.month >= 9 else day.year - 1
    return f"{(autumn + 50) % 100:02}"


def age_of(normal: str) -> AgeSpan | None:
    """When a mark of this shape was first issued, or None where the shape does not tell.

    Prefix and suffix marks give only the years of their style. A private mark may sit on a younger
    car, so this is a hint beside the plate, never the car's year.
    """
    if _CURRENT.fullmatch(normal):
        return _span_of_identifier(int(normal[2:4]))
    if _PREFIX.fullmatch(normal) and normal[0] not in "IOQUZ":
        return AgeSpan(date(1983, 8, 1), date(2001, 8, 31))
    if _SUFFIX.fullmatch(normal) and normal[-1] not in "IOQUZ":
        return AgeSpan(date(1963, 1, 1), date(1983, 7, 31))
    if found := _IRISH.fullmatch(normal):
        return _irish_span(found[1])
    return None


def _span_of_identifier(identifier: int) -> AgeSpan | None:
    if identifier == 1:
        return None
    if 2 <= identifier <= 50:
        return AgeSpan(date(2000 + identifier, 3, 1), date(2000 + identifier, 8, 31))
    autumn = 1950 + identifier if identifier > 50 else 2050
    return AgeSpan(date(autumn, 9, 1), date(autumn + 1, 3, 1) - timedelta(days=1))


def _irish_span(year_part: str) -> AgeSpan | None:
    """Plain years 1987 to 2012, a half-year digit since 2013."""
    if len(year_part) == 3:
        year = 2000 + int(year_part[:2])
        first_half = year_part[2] == "1"
        return (
            AgeSpan(date(year, 1, 1), date(year, 6, 30))
            if first_half
            else AgeSpan(date(year, 7, 1), date(year, 12, 31))
        )
    two = int(year_part)
    if 12 < two < 87:
        return None
    year = 1900 + two if two >= 87 else 2000 + two
    return AgeSpan(date(year, 1, 1), date(year, 12, 31))
