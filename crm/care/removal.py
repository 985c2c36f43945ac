"""What a process takes off, wears or should never touch; and what a later layer takes over from.

Only a physical event or a person ends a layer, and only on the surfaces that it touched.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Any

from crm.care.names import PROCESS_NAMES
from crm.care.surfaces import EVERYTHING, Surfaces, Zone, surfaces_of
from crm.care.terms import EndReason, Process, ProductClass


class Family(StrEnum):
    """Classes that a process treats alike."""

    WAX = "wax"
    SEALANT = "sealant"
    LIGHT_COATING = "light_coating"
    COATING = "coating"
    FILM = "film"
    DRESSING = "dressing"
    FABRIC = "fabric"
    UNKNOWN = "unknown"


class Effect(StrEnum):
    """What a process does to a layer of a class."""

    NOTHING = "nothing"
    WEARS = "wears"
    ENDS = "ends"
    HARMS = "harms"


@dataclass(frozen=True, slots=True)
class Lying:
    """A layer as it still lies on `surfaces`; what earlier processes ended is already taken out.

    `maker` is the maker's system where it is known. `topper_from` None means the class decides.
    """

    key: int
    product_class: ProductClass
    product_key: int | None
    name: str
    surfaces: Surfaces
    laid_at: datetime
    cured_at: datetime | None = None
    topper_from: datetime | None = None
    batch: str = ""
    maker: str = ""


@dataclass(frozen=True, slots=True)
class Ends:
    """A layer (`key`) that stops on these surfaces, why, and a sentence for the record."""

    key: int
    surfaces: Surfaces
    reason: EndReason
    words: str


@dataclass(frozen=True, slots=True)
class _Rule:
    effects: Mapping[Family, Effect]
    reach: Surfaces
    reason: EndReason | None


_UNTOUCHED = _Rule({}, EVERYTHING, None)


def family_of(product_class: ProductClass) -> Family:
    """The family by which the removal table treats a class."""
    return _families()[product_class]


def effect_of(process: Process, product_class: ProductClass) -> Effect:
    """Whether a process ends, wears or harms a layer of this class, or leaves it be.

    Common practice, no source. The polishing of a coating is taken to end it on that panel: nobody can
    vouch for what is left. Film is harmed by polish and clay but stays on the car, so a person ends it.
    """
    return _rule(process).effects.get(family_of(product_class), Effect.NOTHING)


def ends(process: Process, surfaces: Surfaces, lying: Sequence[Lying]) -> tuple[Ends, ...]:
    """Which layers stop where, because a process was done to these surfaces."""
    rule = _rule(process)
    found = []
    for layer in lying:
        touched = layer.surfaces & surfaces & rule.reach
        if touched and rule.reason and effect_of(process, layer.product_class) is Effect.ENDS:
            words = f"{layer.name} ended there: {PROCESS_NAMES[process]}."
            found.append(Ends(layer.key, touched, rule.reason, words))
    return tuple(found)


def superseded(
    product_class: ProductClass, surfaces: Surfaces, *, lying: Sequence[Lying], key: int
) -> tuple[Ends, ...]:
    """Which layers a new one (`key`, of this class, on these surfaces) takes over from.

    A layer takes over from one of its own class, and on tyres, glass, trim and leather from any of the
    same purpose. A topper never takes over from the coating beneath. Common practice, no source.
    """
    followed = _followed_by(product_class)
    return tuple(
        Ends(layer.key, touched, EndReason.SUPERSEDED, f"{layer.name} taken over there by a later layer.")
        for layer in lying
        if layer.key != key and layer.product_class in followed and (touched := layer.surfaces & surfaces)
    )


def _followed_by(product_class: ProductClass) -> set[ProductClass]:
    if product_class is ProductClass.UNKNOWN:
        return set()
    relatives = (group for group in _data()["takes_over"].values() if product_class.value in group)
    return {product_class} | {ProductClass(member) for group in relatives for member in group}


@cache
def _data() -> dict[str, Any]:
    return tomllib.loads(files("crm.care").joinpath("data/removal.toml").read_text("utf-8"))


@cache
def _families() -> dict[ProductClass, Family]:
    return {
        ProductClass(member): Family(family)
        for family, members in _data()["families"].items()
        for member in members
    }


@cache
def _rule(process: Process) -> _Rule:
    row = _data()["process"].get(process.value)
    if row is None:
        return _UNTOUCHED
    effects = {
        Family(family): effect
        for effect in (Effect.WEARS, Effect.ENDS, Effect.HARMS)
        for family in row.get(effect.value, ())
    }
    reach = surfaces_of(*(Zone(zone) for zone in row["only"])) if "only" in row else EVERYTHING
    return _Rule(effects, reach, EndReason(row["reason"]) if "reason" in row else None)
