"""Surfaces in the short hand of a job list: "all over exc. LR wing", "bonnet, n/s doors", "alloys"."""

from __future__ import annotations

import re
from dataclasses import dataclass

from crm.care.surfaces import ALL_GLASS, NOTHING, PANELS, Surface, Surfaces, Zone, surfaces_of

LEFT_HAND_TRAFFIC = frozenset(["GB", "IE", "AU", "NZ", "JP", "IN", "ZA", "MT", "CY", "HK", "SG", "TH", "KE"])
"""Countries where one drives on the left, so that the nearside is the left; from memory."""


def _named(*keys: str) -> Surfaces:
    return Surfaces.from_keys(keys)


def _every(*parts: str) -> Surfaces:
    return Surfaces.of(
        surface for surface in Surface for part in parts if surface.key in (f"left_{part}", f"right_{part}")
    )


PLACES: dict[str, Surfaces] = {
    "all over": PANELS,
    "all round": PANELS,
    "whole car": PANELS,
    "full car": PANELS,
    "all panels": PANELS,
    "all painted panels": PANELS,
    "all paint": PANELS,
    "paintwork": PANELS,
    "bodywork": PANELS,
    "paint": PANELS,
    "body": PANELS,
    "bonnet": _named("bonnet"),
    "roof": _named("roof"),
    "boot lid": _named("boot_lid"),
    "boot": _named("boot_lid"),
    "tailgate": _named("boot_lid", "tailgate_lower"),
    "tops": surfaces_of(Zone.TOPS),
    "horizontals": surfaces_of(Zone.TOPS),
    "front end": surfaces_of(Zone.FRONT)
    | _named(
        "bonnet", "left_front_wing", "right_front_wing", "left_front_wing_lower", "right_front_wing_lower"
    ),
    "front bumper": _named("front_bumper"),
    "rear bumper": _named("rear_bumper"),
    "bumpers": _named("front_bumper", "rear_bumper"),
    "bumper": _named("front_bumper", "rear_bumper"),
    "mirror caps": _every("mirror"),
    "mirrors": _every("mirror"),
    "front doors": _every("front_door", "front_door_lower"),
    "rear doors": _every("rear_door", "rear_door_lower"),
    "doors": _every("front_door", "front_door_lower", "rear_door", "rear_door_lower"),
    "front wings": _every("front_wing", "front_wing_lower"),
    "rear wings": _every("rear_wing", "rear_wing_lower"),
    "rear quarters": _every("rear_wing", "rear_wing_lower"),
    "wings": _every("front_wing", "front_wing_lower", "rear_wing", "rear_wing_lower"),
    "sills": _every("sill"),
    "lower sides": surfaces_of(Zone.LOWER_SIDES),
    "lower half": surfaces_of(Zone.LOWER_SIDES),
    "lowers": surfaces_of(Zone.LOWER_SIDES),
    "upper sides": surfaces_of(Zone.UPPER_SIDES),
    "sides": surfaces_of(Zone.UPPER_SIDES, Zone.LOWER_SIDES),
    "door shuts": surfaces_of(Zone.SHUTS),
    "shuts": surfaces_of(Zone.SHUTS),
    "load bed": surfaces_of(Zone.LOAD_BED),
    "wheel faces": surfaces_of(Zone.WHEELS),
    "alloys": surfaces_of(Zone.WHEELS),
    "wheels": surfaces_of(Zone.WHEELS),
    "rims": surfaces_of(Zone.WHEELS),
    "faces": surfaces_of(Zone.WHEELS),
    "winter wheels": surfaces_of(Zone.WHEELS_TWO),
    "second set": surfaces_of(Zone.WHEELS_TWO),
    "barrels": surfaces_of(Zone.BARRELS),
    "calipers": surfaces_of(Zone.CALIPERS),
    "tyres": surfaces_of(Zone.TYRES),
    "windscreen": surfaces_of(Zone.SCREEN),
    "screen": surfaces_of(Zone.SCREEN),
    "side glass": surfaces_of(Zone.GLASS),
    "side windows": surfaces_of(Zone.GLASS),
    "all glass": ALL_GLASS,
    "windows": ALL_GLASS,
    "glass": ALL_GLASS,
    "trim": surfaces_of(Zone.TRIM),
    "plastics": surfaces_of(Zone.TRIM),
    "seals": surfaces_of(Zone.SEALS),
    "rubbers": surfaces_of(Zone.SEALS),
    "tailpipes": surfaces_of(Zone.METAL),
    "chrome": surfaces_of(Zone.METAL),
    "headlights": _every("headlamp"),
    "headlamps": _every("headlamp"),
    "soft top": surfaces_of(Zone.SOFT_TOP),
    "hood": surfaces_of(Zone.SOFT_TOP),
    "front seats": _named("driver_seat", "front_passenger_seat"),
    "driver's seat": _named("driver_seat"),
    "seats": surfaces_of(Zone.SEATS),
    "leather": surfaces_of(Zone.SEATS),
    "upholstery": surfaces_of(Zone.SEATS),
    "carpets": surfaces_of(Zone.CARPETS),
    "mats": surfaces_of(Zone.CARPETS),
    "engine bay": surfaces_of(Zone.ENGINE_BAY),
    "underside": surfaces_of(Zone.UNDERBODY),
}

_PLACE = re.compile(
    r"(?<![\w'])("
    + "|".join(re.escape(words) for words in sorted(PLACES, key=len, reverse=True))
    + r")(?![\w'])"
)
_SIDED = re.compile(
    r"(?<!\w)(?:(?P<long>left|right|near ?side|off ?side|n/s|o/s|ns|os|l/h|r/h|lh|rh)[ ./]*(?P<end>front|rear|f|r)?"
    r"|(?P<pair>[lr]/?[fr]|ns[fr]|os[fr]))[ ./]*"
    r"(?P<part>wing|quarter|door|doors|wheel|mirror|sill|headlamp|headlight|side|glass|shuts)(?!\w)"
)
_PARTS: dict[str, tuple[str, ...]] = {
    "mirror": ("mirror",),
    "sill": ("sill",),
    "headlamp": ("headlamp",),
    "headlight": ("headlamp",),
    "glass": ("glass",),
    "shuts": ("shuts",),
    "side": (
        "front_wing",
        "front_wing_lower",
        "front_door",
        "front_door_lower",
        "rear_door",
        "rear_door_lower",
        "rear_wing",
        "rear_wing_lower",
        "sill",
    ),
}
_ENDED = {"wing": "wing", "quarter": "wing", "door": "door", "doors": "door", "wheel": "wheel"}


@dataclass(frozen=True)
class Found:
    """Surfaces read from words, and the words that are left."""

    surfaces: Surfaces
    rest: str


def find_places(text: str, *, region: str) -> Found:
    """Take every surface out of a piece of a job list. Left and right are the driver's."""
    found = NOTHING
    near_is_left = region in LEFT_HAND_TRAFFIC
    while match := _SIDED.search(text):
        found |= _sided(match, near_is_left)
        text = f"{text[: match.start()]} {text[match.end() :]}"
    while match := _PLACE.search(text):
        found |= PLACES[match[1]]
        text = f"{text[: match.start()]} {text[match.end() :]}"
    return Found(found, " ".join(text.split()))


def _sided(match: re.Match[str], near_is_left: bool) -> Surfaces:
    long, pair = match["long"] or "", match["pair"] or ""
    side = _side(long or pair[:-1], near_is_left)
    end = (match["end"] or pair[-1:])[:1]
    part = match["part"]
    if part in _PARTS:
        return _named(*(f"{side}_{name}" for name in _PARTS[part]))
    ends = {"f": ("front",), "r": ("rear",)}.get(end, ("front", "rear"))
    keys = [f"{side}_{place}_{_ENDED[part]}" for place in ends]
    if _ENDED[part] != "wheel":
        keys += [f"{key}_lower" for key in keys]
    return _named(*keys)


def _side(word: str, near_is_left: bool) -> str:
    if word.startswith(("near", "n")):
        return "left" if near_is_left else "right"
    if word.startswith(("off", "o")):
        return "right" if near_is_left else "left"
    return "left" if word.startswith("l") else "right"
