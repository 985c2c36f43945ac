"""The text set of the aftercare sheet: reading it, checking it, and asking which texts fit a situation."""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Any, TypeVar

from crm.care.advice_facts import CLOCKS, Setting, Situation
from crm.care.advice_sheet import Rank
from crm.care.surfaces import Zone
from crm.care.terms import Circumstance, Paint, Process, ProductClass, Wash

_Member = TypeVar("_Member", bound=StrEnum)
_SEASONS = ("salt", "open")
_TEXT_FIELDS = frozenset(
    {"code", "topic", "rank", "words", "why", "when", "home", "clocks", "hours"}
    | {"headline", "headline_order", "waits"}
)


class AdviceTextError(ValueError):
    """The advice data cannot be used; the message names the line and what is wrong with it."""


class Part(StrEnum):
    """The files of the text set, in reading order: at equal rank the text read first stays."""

    SAFETY = "safety"
    DONTS = "donts"
    WASHING = "washing"
    STORAGE = "storage"
    CIRCUMSTANCES = "circumstances"
    CLASSES = "classes"


@dataclass(frozen=True, slots=True)
class When:
    """One alternative of a condition: every given field must be met; an empty one asks nothing.

    Class and zone are asked of the same layer, and of the layers of this visit alone where `fresh` is set.
    """

    classes: frozenset[ProductClass]
    without_classes: frozenset[ProductClass]
    zones: frozenset[Zone]
    flags: frozenset[Circumstance]
    without: frozenset[Circumstance]
    paint: frozenset[Paint]
    wash: frozenset[Wash]
    seasons: frozenset[str]
    processes: frozenset[Process]
    salted: bool
    fresh: bool

    def fits_layer(self, product_class: ProductClass, zone: Zone) -> bool:
        """Whether a layer of this class on this zone is one that the alternative speaks about."""
        return (
            (not self.classes or product_class in self.classes)
            and product_class not in self.without_classes
            and (not self.zones or zone in self.zones)
        )

    @property
    def asks_layers(self) -> bool:
        """Whether some layer must be there for the alternative to be met."""
        return bool(self.classes or self.without_classes or self.zones or self.fresh)

    def fits(self, situation: Situation) -> bool:
        """Whether the alternative is met."""
        owner = situation.circumstances
        pairs = situation.fresh_pairs if self.fresh else situation.pairs
        return (
            (not self.asks_layers or any(self.fits_layer(*pair) for pair in pairs))
            and (not self.flags or bool(self.flags & owner.flags))
            and not self.without & owner.flags
            and (not self.paint or owner.paint in self.paint)
            and (not self.wash or situation.wash in self.wash)
            and (not self.seasons or situation.season in self.seasons)
            and (not self.processes or bool(self.processes & situation.processes))
            and (not self.salted or situation.salted)
        )


@dataclass(frozen=True, slots=True)
class Text:
    """One text of the set. `when` empty means always; `home` that it needs washing at home.

    `clocks` and `hours` say when a text that concerns a fresh layer is over: the latest of the named clocks
    and of that many hours from laying. `waits` opens a care line that must wait for this one.
    """

    part: Part
    code: str
    topic: str
    rank: Rank
    words: str
    why: str
    when: tuple[When, ...]
    home: bool
    clocks: tuple[str, ...]
    hours: int | None
    headline: str
    headline_order: int
    waits: str

    def fits(self, situation: Situation) -> bool:
        """Whether the text applies at all."""
        return not self.when or any(each.fits(situation) for each in self.when)

    def concerned(self, situation: Situation) -> list[Setting]:
        """The fresh layers that the text speaks about."""
        return [
            layer
            for layer in situation.fresh
            if not self.when or any(each.fits_layer(layer.product_class, layer.zone) for each in self.when)
        ]


@dataclass(frozen=True, slots=True)
class TextSet:
    """All texts, which topics cannot stand together, and the version of the whole."""

    version: str
    texts: tuple[Text, ...]
    contradictions: frozenset[frozenset[str]]

    def of(self, part: Part) -> tuple[Text, ...]:
        """The texts of one file, in reading order."""
        return tuple(text for text in self.texts if text.part is part)

    def clash(self, one: str, other: str) -> bool:
        """Whether lines on these two topics would contradict each other."""
        return frozenset((one, other)) in self.contradictions


@cache
def text_set() -> TextSet:
    """The text set shipped with the program. AdviceTextError where a file cannot be used.

    The version is the edition and a digest of the files, so no word can change under the same version.
    """
    names = ["advice_sets.toml", *(f"advice_{part}.toml" for part in Part)]
    folder = files("crm.care") / "data"
    raw = {name: (folder / name).read_bytes() for name in names}
    digest = hashlib.sha256(b"\0".join(raw[name].replace(b"\r\n", b"\n") for name in names)).hexdigest()
    sets = tomllib.loads(raw["advice_sets.toml"].decode())
    texts = tuple(
        _text(part, values, sets)
        for part in Part
        for values in tomllib.loads(raw[f"advice_{part}.toml"].decode())["line"]
    )
    contradictions = frozenset(
        frozenset((row["topic"], other)) for row in sets["contradiction"] for other in row["against"]
    )
    _check(texts, contradictions)
    return TextSet(f"{sets['edition']}-{digest[:8]}", texts, contradictions)


def _text(part: Part, values: dict[str, Any], sets: dict[str, Any]) -> Text:
    code = values.get("code", "?")
    if unknown := values.keys() - _TEXT_FIELDS:
        raise AdviceTextError(f"Advice line “{code}” has unknown fields: {', '.join(sorted(unknown))}.")
    if not values.get("words") or not values.get("why"):
        raise AdviceTextError(f"Advice line “{code}” needs words and a why.")
    fixed = {Part.SAFETY: "safety", Part.DONTS: "cure"}.get(part)
    rank = values.get("rank", fixed)
    if rank is None or (fixed and rank != fixed) or (rank == "safety" and part is not Part.SAFETY):
        raise AdviceTextError(f"Advice line “{code}” cannot have the rank {rank} in the file of {part}.")
    clocks = tuple(values.get("clocks", ()))
    if not set(clocks) <= set(CLOCKS) or (part is Part.DONTS and not clocks):
        raise AdviceTextError(f"Advice line “{code}” needs clocks out of {', '.join(CLOCKS)}.")
    return Text(
        part=part,
        code=code,
        topic=values.get("topic", code),
        rank=Rank[rank.upper()],
        words=values["words"],
        why=values["why"],
        when=tuple(_when(code, each, sets) for each in values.get("when", ())),
        home=values.get("home", False),
        clocks=clocks,
        hours=values.get("hours"),
        headline=values.get("headline", ""),
        headline_order=values.get("headline_order", 0),
        waits=values.get("waits", "Once that wait is over: "),
    )


def _when(code: str, values: dict[str, Any], sets: dict[str, Any]) -> When:
    if unknown := values.keys() - set(When.__slots__):
        raise AdviceTextError(f"Advice line “{code}” asks for unknown things: {', '.join(sorted(unknown))}.")
    if not set(values.get("seasons", ())) <= set(_SEASONS):
        raise AdviceTextError(f"Advice line “{code}”: a season is one of {', '.join(_SEASONS)}.")
    try:
        return When(
            classes=_members(ProductClass, values.get("classes"), sets["classes"]),
            without_classes=_members(ProductClass, values.get("without_classes"), sets["classes"]),
            zones=_members(Zone, values.get("zones"), sets["zones"]),
            flags=_members(Circumstance, values.get("flags"), {}),
            without=_members(Circumstance, values.get("without"), {}),
            paint=_members(Paint, values.get("paint"), {}),
            wash=_members(Wash, values.get("wash"), {}),
            seasons=frozenset(values.get("seasons", ())),
            processes=_members(Process, values.get("processes"), {}),
            salted=values.get("salted", False),
            fresh=values.get("fresh", False),
        )
    except (KeyError, ValueError) as fault:
        raise AdviceTextError(f"Advice line “{code}” names what does not exist: {fault}.") from fault


def _members(
    kind: type[_Member], names: list[str] | None, groups: dict[str, list[str]]
) -> frozenset[_Member]:
    found: set[_Member] = set()
    for name in names or ():
        found.update(kind(each) for each in (groups[name[1:]] if name.startswith("@") else [name]))
    return frozenset(found)


def _check(texts: tuple[Text, ...], contradictions: frozenset[frozenset[str]]) -> None:
    codes = [text.code for text in texts]
    if twice := {code for code in codes if codes.count(code) > 1}:
        raise AdviceTextError(f"These advice codes are used twice: {', '.join(sorted(twice))}.")
    topics = {text.topic for text in texts}
    ranks = {text.topic: text.rank for text in texts}
    for pair in contradictions:
        if missing := pair - topics:
            raise AdviceTextError(
                f"Contradicted, but no advice speaks about it: {', '.join(sorted(missing))}."
            )
        if any(ranks[topic] is Rank.SAFETY for topic in pair):
            raise AdviceTextError(f"A caution cannot be contradicted: {', '.join(sorted(pair))}.")
