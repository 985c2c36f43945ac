"""Reading one cell at a time: what is understood, what is guessed, and what cannot be read."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import IntEnum

from crm.care.plates import NotAMark, normal_mark
from crm.care.telephone import NotANumber, to_e164
from crm.care.terms import Parking, Wash
from crm.services.bring_in.sheetfile import Cell, as_text

KM_A_MILE = 1.609344
"""Exactly, by the international yard and pound agreement of 1959."""
FIRST_DAY = date(1970, 1, 1)
SERIAL_ZERO = date(1899, 12, 30)
"""Day 0 of the serial dates that workbooks store; right for every day after February 1900."""


class Sure(IntEnum):
    """How far a reading can be relied on."""

    UNDERSTOOD = 0
    GUESSED = 1
    REFUSED = 2


@dataclass(frozen=True)
class Remark:
    """One thing to tell the person whose list it is."""

    sure: Sure
    words: str


class Unreadable(ValueError):
    """The cell cannot be read as what its column says."""


MONTH_NAMES = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip
_ISO = re.compile(r"^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[t ].*)?$")
_NUMBERS = re.compile(r"^(\d{1,2})[-/. ](\d{1,2})[-/. ](\d{4}|\d{2})$")
_WORDS = re.compile(
    r"^(?:[a-z]+,? +)?(\d{1,2})(?:st|nd|rd|th)?[ \-./]*(?:of +)?([a-z]{3,9})\.?[ \-./,']*(\d{4}|\d{2})$"
)
_MONTH_FIRST_WORDS = re.compile(r"^([a-z]{3,9})\.? +(\d{1,2})(?:st|nd|rd|th)?,? +(\d{4}|\d{2})$")
_MONTH_ONLY = re.compile(r"^([a-z]{3,9})\.?[ \-/']*(\d{4}|\d{2})$")


def month_comes_first(cells: Iterable[Cell]) -> bool | None:
    """Whether dates such as 3/5/25 mean 5 March in this list: True, False, or None where nothing tells."""
    day_first = month_first = 0
    for cell in cells:
        found = _NUMBERS.match(as_text(cell)) if isinstance(cell, str) else None
        if found:
            day_first += int(found[1]) > 12 >= int(found[2])
            month_first += int(found[2]) > 12 >= int(found[1])
    if day_first == month_first:
        return None
    return month_first > day_first


def read_date(cell: Cell, *, today: date, month_first: bool | None) -> tuple[date, list[Remark]]:
    """A day. Raises Unreadable with a sentence: no date, not a date, before 1970, or not yet come."""
    remarks: list[Remark] = []
    if isinstance(cell, datetime):
        day = cell.date()
    elif isinstance(cell, date):
        day = cell
    elif isinstance(cell, int | float) and not isinstance(cell, bool):
        day = _serial(cell)
    else:
        day, remarks = _written(as_text(cell), today, month_first)
    if day > today:
        raise Unreadable(f"{day:%-d %B %Y} has not come yet")
    if day < FIRST_DAY:
        raise Unreadable(f"{day.day} {day:%B} {day.year} is before 1970")
    return day, remarks


def _serial(number: float) -> date:
    if not 25_569 <= number < 80_000:
        raise Unreadable(f"{number:g} is not a date")
    return SERIAL_ZERO + timedelta(days=int(number))


def _written(text: str, today: date, month_first: bool | None) -> tuple[date, list[Remark]]:
    low = text.lower()
    if not low:
        raise Unreadable("there is no date")
    if found := _ISO.match(low):
        return _day(int(found[1]), int(found[2]), int(found[3]), text), []
    if found := _NUMBERS.match(low):
        return _by_numbers(found, text, today, month_first)
    if found := _WORDS.match(low):
        return _day(_year(found[3], today), _month(found[2], text), int(found[1]), text), []
    if found := _MONTH_FIRST_WORDS.match(low):
        return _day(_year(found[3], today), _month(found[1], text), int(found[2]), text), []
    if found := _MONTH_ONLY.match(low):
        day = _day(_year(found[2], today), _month(found[1], text), 1, text)
        return day, [Remark(Sure.GUESSED, f"“{text}” has no day: taken as {day:%-d %B %Y}")]
    if low.isdecimal() and len(low) == 5:
        return _serial(int(low)), []
    raise Unreadable(f"“{text[:40]}” is not a date")


def _by_numbers(
    found: re.Match[str], text: str, today: date, month_first: bool | None
) -> tuple[date, list[Remark]]:
    first, second, year = int(found[1]), int(found[2]), _year(found[3], today)
    if first > 12 or second > 12:
        day, month = (first, second) if first > 12 else (second, first)
        return _day(year, month, day, text), []
    day, month = (second, first) if month_first else (first, second)
    read = _day(year, month, day, text)
    if first == second or month_first is not None:
        return read, []
    return read, [Remark(Sure.GUESSED, f"“{text}” taken as {read:%-d %B %Y}, the day before the month")]


def _year(text: str, today: date) -> int:
    if len(text) == 4:
        return int(text)
    year = today.year - today.year % 100 + int(text)
    return year if year <= today.year else year - 100


def _month(text: str, whole: str) -> int:
    """A month by its name or any beginning of it from three letters on."""
    for number, name in enumerate(MONTH_NAMES, 1):
        if name.startswith(text):
            return number
    raise Unreadable(f"“{whole[:40]}” is not a date")


def _day(year: int, month: int, day: int, text: str) -> date:
    try:
        return date(year, month, day)
    except ValueError as error:
        raise Unreadable(f"“{text[:40]}” is not a day that exists") from error


NO_PLATE = {
    "",
    "-",
    "n/a",
    "na",
    "none",
    "tba",
    "tbc",
    "no plate",
    "new",
    "unknown",
    "?",
    "??",
    "trade plate",
}


def read_plate(cell: Cell) -> tuple[str, list[Remark]]:
    """The normal form of a mark, or nothing where the cell says that there is none. Raises Unreadable."""
    text = as_text(cell)
    if text.lower().strip(" .") in NO_PLATE:
        return "", []
    try:
        return normal_mark(text), []
    except NotAMark as error:
        raise Unreadable(f"“{text[:40]}” is not a plate") from error


_ODOMETER = re.compile(r"^(\d[\d ,.']*)(k(?![mi]))?\s*(miles|mile|mls|mi|m|kilometres|km|kms)?$")


def read_odometer(cell: Cell, *, unit: str, remarks: list[Remark]) -> int | None:
    """Whole kilometres. `unit` ("miles" or "km") is what a bare number means. None where nothing can be read."""
    text = as_text(cell).lower().strip(" .~c")
    if text in ("", "-", "?", "n/a", "unknown"):
        return None
    found = _ODOMETER.match(text)
    if not found:
        remarks.append(Remark(Sure.GUESSED, f"odometer “{as_text(cell)[:40]}” kept as a note: not a number"))
        return None
    number = _number(found[1])
    if found[2]:
        number *= 1000
        remarks.append(Remark(Sure.GUESSED, f"odometer “{as_text(cell)[:40]}” taken as {number:,.0f}"))
    is_km = found[3] in ("km", "kms", "kilometres") if found[3] else unit == "km"
    kilometres = round(number if is_km else number * KM_A_MILE)
    if kilometres > 3_000_000:
        remarks.append(
            Remark(Sure.GUESSED, f"odometer “{as_text(cell)[:40]}” kept as a note: more than any car has run")
        )
        return None
    return kilometres


def _number(digits: str) -> float:
    """A number in whatever way its thousands are parted; one or two digits after the last mark are tenths."""
    digits = digits.strip(" ,.'")
    parted = re.fullmatch(r"(.*\d)[.,](\d{1,2})", digits)
    if parted:
        return float(f"{_digits(parted[1])}.{_digits(parted[2])}")
    return float(_digits(digits))


def _digits(text: str) -> str:
    return re.sub(r"\D", "", text)


def read_phone(cell: Cell, *, region: str, remarks: list[Remark]) -> str:
    """A number in its international form, or nothing."""
    text = as_text(cell)
    digits = re.sub(r"\D", "", text)
    if not digits:
        return ""
    for candidate, guessed in ((text, False), ("0" + digits, True)):
        try:
            number = to_e164(candidate, region)
        except NotANumber:
            continue
        if guessed or (isinstance(cell, int | float) and not text.startswith("0")):
            remarks.append(Remark(Sure.GUESSED, f"telephone “{text}” taken as {number}: the 0 was missing"))
        return number
    remarks.append(Remark(Sure.GUESSED, f"telephone “{text[:40]}” kept as a note: not a number one can ring"))
    return ""


_YES = {"y", "yes", "ok", "true", "1", "x", "✓", "fine"}
_NO = {"n", "no", "false", "0", "stop", "never", "opt out", "opted out"}


def read_yes_no(cell: Cell) -> bool | None:
    """Yes, no, or nothing said."""
    text = as_text(cell).lower().strip(" .!")
    return True if text in _YES else False if text in _NO else None


_PARKING = (
    (("carport", "underground"), Parking.CARPORT),
    (("garage", "garaged", "inside"), Parking.GARAGE),
    (("tree", "lime", "railway"), Parking.TREES_OR_INDUSTRY),
    (("sea", "harbour", "front", "beach"), Parking.NEAR_SEA),
    (("street", "drive", "outside", "outdoors", "road"), Parking.OUTDOORS),
)
_WASHING = (
    (("tunnel", "brush wash", "rollers"), Wash.TUNNEL),
    (("touch free", "touchless", "touch-free"), Wash.TOUCH_FREE),
    (("foam brush", "hand car wash", "roadside"), Wash.LANCE_BRUSH),
    (("lance", "jet wash", "wash bay"), Wash.LANCE_OWN_MITT),
    (("hand", "two bucket", "2 bucket", "rinseless", "himself", "herself"), Wash.HAND_NEUTRAL),
    (("never", "hardly", "rarely"), Wash.HARDLY_EVER),
)


def read_parking(cell: Cell) -> Parking | None:
    """Where the car stands at night, by the words for it."""
    text = as_text(cell).lower()
    return next((parking for words, parking in _PARKING if _says(text, words)), None)


def read_washing(cell: Cell) -> Wash | None:
    """How the owner washes, by the words for it."""
    text = as_text(cell).lower()
    return next((wash for words, wash in _WASHING if _says(text, words)), None)


def _says(text: str, words: Sequence[str]) -> bool:
    """Whether one of these stands in the text as a word of its own, or in the plural: there is no tree in a street."""
    return any(re.search(rf"(?<!\w){re.escape(word)}s?(?!\w)", text) for word in words)


_COLOUR_WORDS = """
black white silver grey gray blue red green yellow orange brown beige gold bronze purple pink cream maroon teal
"""
COLOURS = frozenset(_COLOUR_WORDS.split())
_SHADES = ("dark", "light", "metallic", "pearl", "midnight", "pale", "matt", "satin")
_YEAR_IN_TEXT = re.compile(r"\b(19[5-9]\d|20\d\d)\b")
BODIES = {
    "estate": "estate",
    "saloon": "saloon",
    "coupe": "coupe",
    "convertible": "convertible",
    "cabrio": "convertible",
    "van": "van",
    "pick-up": "pick_up",
    "pickup": "pick_up",
    "3-door": "hatchback_3",
    "hatch": "hatchback",
    "hatchback": "hatchback",
}


@dataclass(frozen=True)
class CarWords:
    """A car as somebody wrote it in one cell."""

    make: str = ""
    model: str = ""
    colour: str = ""
    year: int | None = None
    body: str = ""


def read_car(text: str) -> CarWords:
    """Take "dark blue Halden Estate 2021" apart: colour, year, first word the make, the rest the model."""
    found = _YEAR_IN_TEXT.search(text)
    year = int(found[1]) if found else None
    if found:
        text = (text[: found.start()] + text[found.end() :]).strip(" ,()")
    words = [word.strip(",;()") for word in text.split()]
    colour = [word for word in words if word.lower() in COLOURS or word.lower() in _SHADES]
    rest = [word for word in words if word and word not in colour]
    has_colour = any(word.lower() in COLOURS for word in colour)
    if not has_colour:
        rest, colour = [word for word in words if word], []
    body = next((kind for word, kind in BODIES.items() if word in text.lower()), "")
    return CarWords(
        make=rest[0][:40] if rest else "",
        model=" ".join(rest[1:])[:60],
        colour=" ".join(colour).lower()[:40],
        year=year,
        body=body,
    )


_TWO_OWNERS = re.compile(r"\s*(?:/|;|\bpaid by\b|\bpays\b:?)\s*", re.IGNORECASE)


def read_owners(text: str) -> list[str]:
    """The people named in one cell: "Jo Tern / Sam Tern" is two."""
    return [" ".join(name.split())[:120] for name in _TWO_OWNERS.split(text) if name.strip(" -?")]
