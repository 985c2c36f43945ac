"""What each surface is called on a car of each shape.

The same place on a car has another name on another shape: what closes the rear of a saloon is a boot lid,
of an estate a tailgate, of a van its back doors; a car with one door a side has a left door, not a left
front door. Names are lower-case, so that a caller can put them into a sentence. Common practice, no source.
"""

from __future__ import annotations

import re
from functools import cache

from crm.care.bodies import Body, surfaces_of_body
from crm.care.surfaces import Surface

_OWN_NAMES: dict[Surface, str] = {
    Surface.BOOT_LID: "boot lid, top",
    Surface.TAILGATE_LOWER: "boot lid, rear face",
    Surface.LEFT_MIRROR: "left mirror cap",
    Surface.RIGHT_MIRROR: "right mirror cap",
    Surface.LEFT_SHUTS: "left door shuts",
    Surface.RIGHT_SHUTS: "right door shuts",
    Surface.TYRES: "tyre sidewalls",
    Surface.LEFT_GLASS: "left side glass",
    Surface.RIGHT_GLASS: "right side glass",
    Surface.PLASTIC_TRIM: "unpainted trim",
    Surface.SEALS: "rubber seals",
    Surface.BRIGHT_METAL: "bright metal",
    Surface.DRIVER_SEAT: "driver's seat",
    Surface.FRONT_PASSENGER_SEAT: "front passenger seat",
    Surface.SECOND_ROW: "second row of seats",
    Surface.THIRD_ROW: "third row of seats",
    Surface.WHEEL_BARRELS_TWO: "wheel barrels of the second set",
}

_TAILGATE = {
    Surface.BOOT_LID: "tailgate, upper part",
    Surface.TAILGATE_LOWER: "tailgate below the glass",
    Surface.BOOT_SHUT: "tailgate shut",
}
_BACK_DOORS = {
    Surface.BOOT_LID: "back doors, upper part",
    Surface.TAILGATE_LOWER: "back doors, lower part",
    Surface.BOOT_SHUT: "back door shuts",
}
_OF_BODY: dict[Body, dict[Surface, str]] = {
    Body.HATCHBACK: _TAILGATE,
    Body.HATCHBACK_3: _TAILGATE,
    Body.ESTATE: _TAILGATE,
    Body.VAN: _BACK_DOORS,
    Body.PICK_UP: {Surface.TAILGATE_LOWER: "tailgate"},
}

_TAIL: dict[Body, str] = {
    Body.HATCHBACK: "tailgate",
    Body.HATCHBACK_3: "tailgate",
    Body.SALOON: "boot lid",
    Body.ESTATE: "tailgate",
    Body.COUPE: "boot lid",
    Body.CONVERTIBLE: "boot lid",
    Body.VAN: "back doors",
    Body.PICK_UP: "tailgate",
}

_ONE_DOOR_A_SIDE = (
    (r"\b(left|right) front door\b", r"\1 door"),
    (r"^(left|right) doors\b", r"\1 door"),
    (r"^(all|front) doors\b", "both doors"),
)
_SIDE_DOORS = ((r"\brear (doors?)\b", r"side \1"), (r"^all doors\b", "front and side doors"))
_BED = (
    (r"\brear wing(s?)\b", r"bed side\1"),
    (r"^all wings\b", "front wings and bed sides"),
    (r"^doors and wings\b", "doors, wings and bed sides"),
)
_TURNS: dict[Body, tuple[tuple[str, str], ...]] = {
    Body.HATCHBACK_3: _ONE_DOOR_A_SIDE,
    Body.COUPE: _ONE_DOOR_A_SIDE,
    Body.CONVERTIBLE: _ONE_DOOR_A_SIDE,
    Body.VAN: _SIDE_DOORS,
    Body.PICK_UP: _BED,
}
"""Words that are said otherwise on a shape: a side door of a van slides, and a pick-up has a bed behind the cab."""


def surface_name(surface: Surface, body: Body) -> str:
    """One surface as it is called on a car of this shape; no two surfaces of a shape share a name.

    A surface that the shape does not have keeps its plain name, so that it can be said that it is missing.
    """
    return _names(body)[surface]


def tail_name(body: Body) -> str:
    """What closes the rear of this shape, as a whole: boot lid, tailgate, back doors."""
    return _TAIL[body]


def in_words_of(body: Body, words: str) -> str:
    """Words for several surfaces, such as "rear doors", as they are said of this shape."""
    for pattern, said in _TURNS.get(body, ()):
        words = re.sub(pattern, said, words)
    return words


@cache
def _names(body: Body) -> dict[Surface, str]:
    has, own = surfaces_of_body(body), {**_OWN_NAMES, **_OF_BODY.get(body, {})}
    return {
        surface: _plain_name(surface, own)
        if surface not in has
        else in_words_of(body, _plain_name(surface, own))
        for surface in Surface
    }


def _plain_name(surface: Surface, own: dict[Surface, str]) -> str:
    if surface in own:
        return own[surface]
    plain = surface.key.replace("_", " ")
    if plain.endswith(" lower"):
        return plain.removesuffix(" lower") + ", lower third"
    if plain.endswith(" wheel two"):
        return plain.removesuffix(" two") + " of the second set"
    return plain
