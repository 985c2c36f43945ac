"""The facts of many layers as columns of numbers, and every figure of the model by the answers that decide it.

An answer is a code: 0 where nobody gave one, 1 for a car that is laid up, then the answers in their order. The
figures come from the functions that a single forecast uses, asked once for each place and answer.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Any, NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

from crm.care.coats import Coat
from crm.care.life import life_of, life_window
from crm.care.surfaces import Zone
from crm.care.tables import Tables
from crm.care.terms import Air, Parking, Prep, Process, ProductClass, Wash
from crm.care.wear import UNKNOWN_USE, Speeds, Use, lump_of, quality_of, speeds_of

Floats: TypeAlias = npt.NDArray[np.float64]
Ints: TypeAlias = npt.NDArray[np.int64]

_STORED = 1
_STORED_USE = UNKNOWN_USE._replace(stored=True)
_CLASSES, _ZONES = tuple(ProductClass), tuple(Zone)
_PREPS, _AIRS = (None, *Prep), (None, *Air)
PROCESSES = tuple(Process)


def _codes(answers: Iterable[Any]) -> dict[Any, int]:
    return {None: 0} | {answer: code for code, answer in enumerate(answers, start=_STORED + 1)}


_CLASS_CODE = {member: code for code, member in enumerate(_CLASSES)}
_ZONE_CODE = {member: code for code, member in enumerate(_ZONES)}
_PREP_CODE = {member: code for code, member in enumerate(_PREPS)}
_AIR_CODE = {member: code for code, member in enumerate(_AIRS)}
PROCESS_CODE = {member: code for code, member in enumerate(PROCESSES)}
_PARKING_CODE, _WASH_CODE, _SALT_CODE = _codes(Parking), _codes(Wash), _codes((False, True))


class Answers(NamedTuple):
    """The codes of a use; `plan` is 0 or 1."""

    parking: int
    distance: int
    summer: int
    winter: int
    salt: int
    plan: int


UNKNOWN_ANSWERS = Answers(0, 0, 0, 0, 0, 0)


def answers_of(use: Use) -> Answers:
    """What a use says, in codes."""
    if use.stored:
        return Answers(_STORED, _STORED, _STORED, _STORED, _STORED, int(use.on_plan))
    return Answers(
        _PARKING_CODE[use.parking],
        0 if use.band is None else use.band + 2,
        _WASH_CODE[use.summer],
        _WASH_CODE[use.winter],
        _SALT_CODE[use.salted],
        int(use.on_plan),
    )


class Figures(NamedTuple):
    """Every factor of a class in a zone by code, each with a column for the three clocks but `zone` and `plan`.

    `lumps` is by process and by code of the wash that is the habit then.
    """

    zone: Any
    parking: Any
    heat: Any
    distance: Any
    summer: Any
    winter: Any
    salt: Any
    plan: Any
    lumps: Any

    def speeds(self, place: Ints, answers: Ints) -> Speeds:
        """The factors for places (rows of these figures) and answers (a row of six codes each), as columns."""
        parking, distance, summer, winter, salt, plan = answers.T
        columns: list[Any] = [
            self.zone[place],
            self.parking[place, parking].T,
            self.distance[place, distance].T,
            self.summer[place, summer].T,
            self.winter[place, winter].T,
            self.salt[place, salt].T,
            self.heat[place, parking].T,
            self.plan[place, plan],
        ]
        return Speeds(*columns)


@lru_cache(maxsize=1024)
def _figures_of(product_class: ProductClass, zone: Zone, tables: Tables) -> Figures:
    def speeds(**answer: Any) -> Speeds:
        return speeds_of(product_class, zone, UNKNOWN_USE._replace(**answer), tables)

    def each(answer: str, values: Iterable[Any]) -> list[Speeds]:
        return [speeds(), speeds(stored=True), *(speeds(**{answer: value}) for value in values)]

    parked, washed = each("parking", Parking), [each("summer", Wash), each("winter", Wash)]
    uses = [UNKNOWN_USE, _STORED_USE, *(UNKNOWN_USE._replace(summer=wash) for wash in Wash)]
    return Figures(
        zone=speeds().zone,
        parking=np.array([of.parking for of in parked]),
        heat=np.array([of.heat for of in parked]),
        distance=np.array([of.distance for of in each("band", range(len(tables.wear.distance)))]),
        summer=np.array([of.summer for of in washed[0]]),
        winter=np.array([of.winter for of in washed[1]]),
        salt=np.array([of.salt for of in each("salted", (False, True))]),
        plan=np.array([speeds().plan, speeds(on_plan=True).plan]),
        lumps=np.array(
            [
                [lump_of(process, product_class, zone, use, False, tables) for use in uses]
                for process in PROCESSES
            ]
        ),
    )


class Layers(NamedTuple):
    """A row for each layer: the day it was laid (an ordinal), its place in `figures`, its three lives and qualities.

    Lives are in reference months; nan where the class has no forecast.
    """

    laid: Ints
    place: Ints
    lives: Floats
    quality: Floats
    figures: Figures


def layers_of(coats: Sequence[Coat], tables: Tables) -> Layers:
    """The columns of so many layers; every life, quality and figure is worked out once."""
    place = np.array(
        [_CLASS_CODE[coat.product_class] * len(_ZONES) + _ZONE_CODE[coat.zone] for coat in coats]
    )
    known_lives: dict[Any, int] = {}
    life = np.array([known_lives.setdefault(coat.life, len(known_lives)) for coat in coats])
    laid_as = np.array(
        [
            (_PREP_CODE[coat.prep] * len(_AIRS) + _AIR_CODE[coat.air]) * 2 + coat.got_wet_early
            for coat in coats
        ]
    )
    hard_used = np.array([coat.hard_used for coat in coats])
    places, at = np.unique(place, return_inverse=True)
    kinds = [
        _figures_of(_CLASSES[code // len(_ZONES)], _ZONES[code % len(_ZONES)], tables) for code in places
    ]
    firsts, which = _first_of((place * len(known_lives) + life) * 2 + hard_used)
    lives = np.array([_lives_of(coats[first], tables) for first in firsts])[which]
    firsts, which = _first_of(place // len(_ZONES) * (len(_PREPS) * len(_AIRS) * 2) + laid_as)
    quality = np.array([_quality_of(coats[first], tables) for first in firsts])[which]
    laid = np.array([coat.laid_on.toordinal() for coat in coats])
    figures = Figures(*(np.stack(column) for column in zip(*kinds, strict=True)))
    return Layers(laid, at, lives, quality, figures)


def _first_of(keys: Ints) -> tuple[Ints, Ints]:
    """Of each different key the first row that has it, and for each row which of them is its own."""
    _, firsts, which = np.unique(keys, return_index=True, return_inverse=True)
    return firsts, which


def _lives_of(coat: Coat, tables: Tables) -> tuple[float, float, float]:
    life = life_of(coat.product_class, coat.zone, own=coat.life, hard_used=coat.hard_used, tables=tables)
    return life_window(life) if life else (np.nan, np.nan, np.nan)


def _quality_of(coat: Coat, tables: Tables) -> tuple[float, float, float]:
    return quality_of(coat.product_class, coat.air, coat.prep, coat.got_wet_early, tables)
