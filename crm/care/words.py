"""Trade words for surfaces and for every closed list that a screen, a message or a paper shows.

Names are lower-case, so that a caller can put them into a sentence. Nothing here is stored.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from enum import StrEnum
from functools import cache, lru_cache
from typing import NamedTuple

from crm.care.bodies import Body, surfaces_of_body
from crm.care.names import (
    AIR_NAMES,
    CIRCUMSTANCE_NAMES,
    CLASS_NAMES,
    CONDITION_NAMES,
    END_WORDS,
    GRADE_WORDS,
    MARK_NAMES,
    MOMENT_NAMES,
    PAINT_NAMES,
    PARKING_NAMES,
    PLAN_NAMES,
    PREP_NAMES,
    PROCESS_NAMES,
    WASH_NAMES,
)
from crm.care.surface_names import in_words_of, surface_name, tail_name
from crm.care.surfaces import ALL_GLASS, CABIN, PANELS, Surface, Surfaces, Zone, surfaces_of

__all__ = [
    "AIR_NAMES",
    "CIRCUMSTANCE_NAMES",
    "CLASS_NAMES",
    "CONDITION_NAMES",
    "END_WORDS",
    "GRADE_WORDS",
    "MARK_NAMES",
    "MOMENT_NAMES",
    "PAINT_NAMES",
    "PARKING_NAMES",
    "PLAN_NAMES",
    "PREP_NAMES",
    "PROCESS_NAMES",
    "WASH_NAMES",
    "ZONE_NAMES",
    "Sides",
    "describe",
    "surface_name",
]


class Sides(StrEnum):
    """How the studio speaks of the two sides of a car.

    Stored sides are always left and right from the driver's seat. "Nearside" is the kerb side, so it
    is the left where one drives on the left and the right where one drives on the right.
    """

    LEFT_RIGHT = "left_right"
    NEARSIDE_IS_LEFT = "nearside_is_left"
    NEARSIDE_IS_RIGHT = "nearside_is_right"


_SIDE_WORDS: dict[Sides, dict[str, str]] = {
    Sides.NEARSIDE_IS_LEFT: {"left": "nearside", "right": "offside"},
    Sides.NEARSIDE_IS_RIGHT: {"left": "offside", "right": "nearside"},
}

ZONE_NAMES: dict[Zone, str] = {
    Zone.TOPS: "tops",
    Zone.FRONT: "front bumper and mirror caps",
    Zone.UPPER_SIDES: "upper sides",
    Zone.LOWER_SIDES: "lower sides",
    Zone.SHUTS: "shuts",
    Zone.LOAD_BED: "load bed",
    Zone.WHEELS: "wheel faces",
    Zone.BARRELS: "wheel barrels",
    Zone.WHEELS_TWO: "wheel faces of the second set",
    Zone.BARRELS_TWO: "wheel barrels of the second set",
    Zone.CALIPERS: "calipers",
    Zone.TYRES: "tyre sidewalls",
    Zone.SCREEN: "windscreen",
    Zone.GLASS: "side and rear glass",
    Zone.TRIM: "unpainted trim",
    Zone.SEALS: "rubber seals",
    Zone.METAL: "bright metal",
    Zone.LAMPS: "lamps",
    Zone.SOFT_TOP: "soft top",
    Zone.SEATS: "seats",
    Zone.CABIN_TRIM: "cabin trim",
    Zone.CARPETS: "carpets",
    Zone.ENGINE_BAY: "engine bay",
    Zone.UNDERBODY: "underbody",
}


class _Group(NamedTuple):
    words: str
    members: Surfaces
    bulk: bool = False  # large enough to be worth an "except"


def _named(pattern: str) -> Surfaces:
    return Surfaces.of(surface for surface in Surface if re.fullmatch(pattern, surface.name))


_LOWER_THIRDS = _named(r".*(DOOR|WING)_LOWER")
_HALVED = _named(r".*_(DOOR|WING)")


def _whole_panels() -> list[_Group]:
    """Every door and wing together with its own lower third."""
    return [_Group(surface.key.replace("_", " "), _named(rf"{surface.name}(_LOWER)?")) for surface in _HALVED]


def _single(surface: Surface, body: Body) -> str:
    return surface_name(surface, body) + (", upper part" if surface in _HALVED else "")


_GROUPS: tuple[_Group, ...] = (
    _Group("all painted panels", PANELS, True),
    _Group("upper and lower sides", surfaces_of(Zone.UPPER_SIDES, Zone.LOWER_SIDES), True),
    _Group("tops", surfaces_of(Zone.TOPS)),
    _Group("front bumper and mirror caps", surfaces_of(Zone.FRONT)),
    _Group("upper sides", surfaces_of(Zone.UPPER_SIDES), True),
    _Group("lower sides", surfaces_of(Zone.LOWER_SIDES), True),
    _Group("left side", _named(r"LEFT_.*(DOOR|WING)(_LOWER)?|LEFT_SILL"), True),
    _Group("right side", _named(r"RIGHT_.*(DOOR|WING)(_LOWER)?|RIGHT_SILL"), True),
    _Group("doors and wings, lower thirds", _LOWER_THIRDS, True),
    _Group("left doors", _named(r"LEFT_.*DOOR(_LOWER)?")),
    _Group("right doors", _named(r"RIGHT_.*DOOR(_LOWER)?")),
    _Group("front doors", _named(r".*FRONT_DOOR(_LOWER)?")),
    _Group("rear doors", _named(r".*REAR_DOOR(_LOWER)?")),
    _Group("all doors", _named(r".*DOOR(_LOWER)?")),
    _Group("front wings", _named(r".*FRONT_WING(_LOWER)?")),
    _Group("rear wings", _named(r".*REAR_WING(_LOWER)?")),
    _Group("all wings", _named(r".*WING(_LOWER)?")),
    *_whole_panels(),
    _Group("mirror caps", _named(r".*_MIRROR")),
    _Group("both bumpers", _named(r"(FRONT|REAR)_BUMPER")),
    _Group("both sills", _named(r".*_SILL")),
    _Group("shuts", surfaces_of(Zone.SHUTS)),
    _Group("door shuts", _named(r"(LEFT|RIGHT)_SHUTS")),
    _Group("wheel faces and barrels", surfaces_of(Zone.WHEELS, Zone.BARRELS)),
    _Group("wheel faces", surfaces_of(Zone.WHEELS), True),
    _Group("front wheels", _named(r".*FRONT_WHEEL")),
    _Group("rear wheels", _named(r".*REAR_WHEEL")),
    _Group("second set of wheels", surfaces_of(Zone.WHEELS_TWO, Zone.BARRELS_TWO)),
    _Group("wheel faces of the second set", surfaces_of(Zone.WHEELS_TWO), True),
    _Group("all glass", ALL_GLASS, True),
    _Group("side and rear glass", surfaces_of(Zone.GLASS)),
    _Group("side glass", _named(r"(LEFT|RIGHT)_GLASS")),
    _Group("lamps", surfaces_of(Zone.LAMPS)),
    _Group("headlamps", _named(r".*_HEADLAMP")),
    _Group("whole cabin", CABIN, True),
    _Group("seats", surfaces_of(Zone.SEATS), True),
    _Group("front seats", _named(r"(DRIVER|FRONT_PASSENGER)_SEAT")),
)
_TAIL = Surfaces.of([Surface.BOOT_LID, Surface.TAILGATE_LOWER])
_MOST_EXCEPTIONS = 4


@cache
def _groups(body: Body) -> tuple[_Group, ...]:
    """The groups in the words of a body plan, the largest there first."""
    has = surfaces_of_body(body)
    said = [group._replace(words=in_words_of(body, group.words)) for group in _GROUPS]
    if len(_TAIL & has) > 1:
        said.append(_Group(tail_name(body), _TAIL))
    return tuple(sorted(said, key=lambda group: -len(group.members & has)))


@lru_cache(maxsize=8192)
def describe(surfaces: Surfaces, body: Body, sides: Sides = Sides.LEFT_RIGHT) -> str:
    """A set of surfaces as a detailer would say it about a car of this shape.

    The shortest wording that names exactly the set: "bonnet and roof", "lower sides", "all painted
    panels except left rear wing". A door or wing is named plainly only where its lower third is in
    the set too. A group's words stand for those of its surfaces that the body has; a surface that the
    body does not have is still named when it was put in on its own. The empty set is "nothing".
    """
    if not surfaces:
        return "nothing"
    if surfaces == surfaces_of_body(body):
        return "the whole car"
    phrases = _shortest(surfaces, body)
    return _with_sides(_listed(phrases), sides)


def _shortest(surfaces: Surfaces, body: Body) -> list[str]:
    """The best of plain lists and of "a large group except a few", fewest named things first."""
    has = surfaces_of_body(body)
    ways = [(0, _plain(surfaces, body))]
    for group in (group for group in _groups(body) if group.bulk):
        members = group.members & has
        missing = members - surfaces
        if not members or not missing or 2 * len(missing) >= len(members):
            continue
        left_out = _exceptions(group, missing, body)
        if len(left_out) > _MOST_EXCEPTIONS:
            continue
        absent = group.members - has
        rest = surfaces - members - (absent if absent <= surfaces else Surfaces())
        phrase = f"{group.words} except {_listed(left_out)}"
        ways.append((len(left_out), [phrase, *(_shortest(rest, body) if rest else [])]))
    return min(ways, key=lambda way: (way[0] + len(way[1]), len(_listed(way[1]))))[1]


def _exceptions(group: _Group, missing: Surfaces, body: Body) -> list[str]:
    """Names for what a group lacks; inside "upper sides" a wing needs no "upper part", and so on."""
    if group.members <= surfaces_of(Zone.UPPER_SIDES) or group.members <= surfaces_of(Zone.LOWER_SIDES):
        return [surface_name(surface, body).removesuffix(", lower third") for surface in missing]
    return _plain(missing, body)


def _plain(surfaces: Surfaces, body: Body) -> list[str]:
    """The set as a list of disjoint named groups, the largest that fit first, in the order of a car."""
    has, remaining = surfaces_of_body(body), surfaces
    found: list[tuple[int, str]] = []
    for group in _groups(body):
        members = group.members if group.members <= remaining else group.members & has
        if len(members) > 1 and members <= remaining:
            found.append((min(members), group.words))
            remaining = remaining - members
    found += [(surface, _single(surface, body)) for surface in remaining]
    return [words for _, words in sorted(found)]


def _listed(phrases: Sequence[str]) -> str:
    """One phrase, "a and b" or "a, b and c", each worded so that its own comma cannot mislead."""
    if len(phrases) == 1:
        return phrases[0]
    clear = [_within_a_list(phrase) for phrase in phrases]
    return ", ".join(clear[:-1]) + " and " + clear[-1]


def _within_a_list(phrase: str) -> str:
    group, excepted, left_out = phrase.partition(" except ")
    if excepted:
        return f"{group} (except {left_out})"
    return re.sub(r"^(.+), (lower thirds?|(?:upper|lower) part|top|rear face)$", r"\2 of \1", phrase)


def _with_sides(words: str, sides: Sides) -> str:
    spoken = _SIDE_WORDS.get(sides)
    if spoken is None:
        return words
    return re.sub(r"\b(left|right)\b", lambda found: spoken[found[1]], words)
