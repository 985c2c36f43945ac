"""The words of paint thickness and correction as closed lists, and how each is called on a screen.

Names are lower-case, so that a caller can put them into a sentence. Stored values never change.
"""

from __future__ import annotations

from enum import IntEnum, StrEnum


class GaugeMode(StrEnum):
    """What one reading was taken with, which follows from what lies under the paint there."""

    MAGNETIC = "magnetic"
    EDDY = "eddy"
    ULTRASONIC = "ultrasonic"
    NOT_MEASURABLE = "not_measurable"


ON_METAL = frozenset({GaugeMode.MAGNETIC, GaugeMode.EDDY})
"""The modes whose readings the bands are for."""

MODE_NAMES: dict[GaugeMode, str] = {
    GaugeMode.MAGNETIC: "steel, magnetic",
    GaugeMode.EDDY: "aluminium, eddy current",
    GaugeMode.ULTRASONIC: "ultrasonic",
    GaugeMode.NOT_MEASURABLE: "not measurable: plastic, carbon or glass-fibre",
}


class SpotPlace(StrEnum):
    """Where on the panel a spot lies: only the flat of a panel makes its figures, edges are kept apart."""

    FLAT = "flat"
    EDGE = "edge"


PLACE_NAMES: dict[SpotPlace, str] = {
    SpotPlace.FLAT: "flat of the panel",
    SpotPlace.EDGE: "edge, crest or crease",
}


class PaintEvent(StrEnum):
    """What makes earlier readings of a panel say nothing about later ones."""

    RESPRAYED = "resprayed"
    REPLACED = "replaced"
    FILM_LAID = "film_laid"
    FILM_REMOVED = "film_removed"


EVENT_WORDS: dict[PaintEvent, str] = {
    PaintEvent.RESPRAYED: "resprayed",
    PaintEvent.REPLACED: "replaced",
    PaintEvent.FILM_LAID: "covered with film",
    PaintEvent.FILM_REMOVED: "freed of its film",
}


class CutWeight(StrEnum):
    """How hard a cutting compound was worked. Not recorded is None."""

    MEDIUM = "medium"
    HEAVY = "heavy"


WEIGHT_NAMES: dict[CutWeight, str] = {CutWeight.MEDIUM: "medium cut", CutWeight.HEAVY: "heavy cut"}


class Past(StrEnum):
    """What is known of a car's paint before the studio first polished it."""

    NEW = "new"
    USED = "used"
    UNKNOWN = "unknown"


PAST_NAMES: dict[Past, str] = {
    Past.NEW: "came to us new",
    Past.USED: "had owners before",
    Past.UNKNOWN: "not known",
}


class Finish(StrEnum):
    """What somebody who looked found the paint of a panel to be. Nobody looked is None."""

    FACTORY = "factory"
    REFINISH_SOUND = "refinish_sound"
    REFINISH_UNKNOWN = "refinish_unknown"
    FAILING = "failing"


FINISH_NAMES: dict[Finish, str] = {
    Finish.FACTORY: "factory paint",
    Finish.REFINISH_SOUND: "refinished, and sound in a test spot",
    Finish.REFINISH_UNKNOWN: "refinished, quality not known",
    Finish.FAILING: "crazed, milky or lifting clear",
}


class Heaviest(IntEnum):
    """The hardest machine work that a panel should still see."""

    NOTHING = 0
    FINISHING = 1
    LIGHT = 2
    CUT = 3


class Stages(StrEnum):
    """How many stages of machine work a correction took."""

    ENHANCEMENT = "enhancement"
    ONE = "one"
    TWO = "two"
    MORE = "more"


STAGE_NAMES: dict[Stages, str] = {
    Stages.ENHANCEMENT: "an enhancement",
    Stages.ONE: "one stage",
    Stages.TWO: "two stages",
    Stages.MORE: "three stages or more",
}


class Light(StrEnum):
    """What the paint was looked at under: marks that show under one light hide under another."""

    SUN = "sun"
    DAYLIGHT = "daylight"
    HAND_LAMP = "hand_lamp"
    HEAD_TORCH = "head_torch"
    BAY_LIGHTS = "bay_lights"


LIGHT_NAMES: dict[Light, str] = {
    Light.SUN: "direct sun",
    Light.DAYLIGHT: "overcast daylight",
    Light.HAND_LAMP: "hand lamp",
    Light.HEAD_TORCH: "head torch",
    Light.BAY_LIGHTS: "bay lights",
}
