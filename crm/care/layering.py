"""What may lie on what: rules as a table, each with its test, its severity and its sentence.

The rules warn and explain; a person may always go on with a reason. A sentence names the layer and the
date that cause it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache
from importlib.resources import files
from typing import Any

from crm.care.bodies import Body
from crm.care.cure import cure_of
from crm.care.months import elapsed
from crm.care.names import PREP_NAMES, PROCESS_NAMES
from crm.care.removal import Effect, Family, Lying, effect_of, family_of
from crm.care.surfaces import NOTHING, PAINT, Surfaces
from crm.care.terms import Paint, Prep, Process, ProductClass, Severity
from crm.care.words import describe

__all__ = ["Concern", "FreshPaint", "Laying", "Severity", "concerns", "may_coat_from"]

_POLISHES = frozenset({Process.FINE_POLISH, Process.ONE_STEP_POLISH, Process.CUT, Process.SANDING})


@dataclass(frozen=True, slots=True)
class Laying:
    """A layer about to be laid. `prep` and `panel_wiped` None are not recorded; `maker` "" is not known."""

    product_class: ProductClass
    product_key: int | None
    name: str
    surfaces: Surfaces
    at: datetime
    prep: Prep | None
    panel_wiped: bool | None
    maker: str = ""


@dataclass(frozen=True, slots=True)
class FreshPaint:
    """Surfaces painted on a day; `baked` None is not known."""

    surfaces: Surfaces
    on: date
    baked: bool | None


@dataclass(frozen=True, slots=True)
class Concern:
    """What a rule has to say about a layer: the rule's number, how loudly, the sentence, and where."""

    rule: str
    severity: Severity
    words: str
    surfaces: Surfaces


@dataclass(frozen=True, slots=True)
class _Scene:
    """Everything that a rule may look at."""

    new: Laying
    lying: Sequence[Lying]
    paint: Paint
    fresh_paint: Sequence[FreshPaint]
    processes: Sequence[Process]
    body: Body

    def over(self, members: frozenset[ProductClass]) -> Iterator[tuple[Lying, Surfaces]]:
        """Layers of these classes beneath the new one, and where."""
        for layer in self.lying:
            shared = layer.surfaces & self.new.surfaces
            if shared and layer.product_class in members:
                yield layer, shared

    def said(self, layer: Lying, where: Surfaces) -> str:
        """Gannet paint sealant of 3 May on the bonnet: name, day in the zone of the new layer, place."""
        day = _day(layer.laid_at.astimezone(self.new.at.tzinfo).date(), self.new.at.date())
        return f"{layer.name} of {day} on {self.place(where)}"

    def place(self, where: Surfaces) -> str:
        words = describe(where, self.body)
        return words if words.startswith(("all ", "both ", "the ")) else f"the {words}"

    def polished(self) -> bool:
        return self.new.prep is Prep.POLISHED_WIPED or bool(_POLISHES & set(self.processes))


@dataclass(frozen=True, slots=True)
class _Rule:
    number: str
    test: str
    laying: frozenset[ProductClass]
    under: frozenset[ProductClass]
    severity: Severity
    words: str


_Found = Iterator[tuple[Surfaces, Mapping[str, str]]]


def concerns(
    laying: Laying,
    *,
    lying: Sequence[Lying],
    paint: Paint,
    fresh_paint: Sequence[FreshPaint] = (),
    processes: Sequence[Process] = (),
    body: Body = Body.ESTATE,
) -> tuple[Concern, ...]:
    """Everything the rules say about a layer, stops first.

    `lying` are the layers as they still lie at that moment: what this visit's processes took off is no
    longer among them. `processes` were done in this visit on the surfaces of the new layer. `body` is
    only for naming surfaces. A layer's moments and `laying.at` must have a time zone.
    """
    scene = _Scene(laying, lying, paint, fresh_paint, processes, body)
    found = [
        Concern(rule.number, rule.severity, rule.words.format_map({"new": laying.name, **said}), where)
        for rule in _rules()
        if laying.product_class in rule.laying
        for where, said in _TESTS[rule.test](scene, rule)
    ]
    return tuple(sorted(found, key=lambda concern: concern.severity is not Severity.STOP))


def may_coat_from(fresh: FreshPaint, product_class: ProductClass) -> date:
    """The day from which fresh paint may take a layer of this class, if the painter agrees.

    Baked paint: film after 7 days, wax, sealant or topper after 14, coatings after 30. Air-dried paint:
    90 days; where nobody knows whether it was baked, 60. Common practice as ranges, no source; the
    painter's data sheet wins.
    """
    family = family_of(product_class)
    column = {Family.FILM: "film", Family.COATING: "coating", Family.LIGHT_COATING: "coating"}.get(
        family, "soft"
    )
    baked, not_known, air_dried = _data()["fresh_paint"][column]
    days = not_known if fresh.baked is None else baked if fresh.baked else air_dried
    return fresh.on + timedelta(days=days)


def _over(scene: _Scene, rule: _Rule) -> _Found:
    for layer, where in scene.over(rule.under):
        yield where, {"old": scene.said(layer, where)}


def _over_other_product(scene: _Scene, rule: _Rule) -> _Found:
    for layer, where in scene.over(rule.under):
        if not _same_product(layer, scene.new):
            yield where, {"old": scene.said(layer, where)}


def _over_before_topper(scene: _Scene, rule: _Rule) -> _Found:
    for layer, where in scene.over(rule.under):
        ready = layer.topper_from or _topper_from(layer)
        if scene.new.at < ready and not _same_product(layer, scene.new):
            day = _day(ready.astimezone(scene.new.at.tzinfo).date(), scene.new.at.date())
            yield where, {"old": scene.said(layer, where), "day": day}


def _topper_from(layer: Lying) -> datetime:
    cure = cure_of(layer.product_class)
    return elapsed(layer.laid_at, cure.full_h if cure.topper_h is None else cure.topper_h)


def _not_polished(scene: _Scene, _: _Rule) -> _Found:
    if scene.new.prep is not None and not scene.polished() and scene.new.surfaces & PAINT:
        yield scene.new.surfaces & PAINT, {"prep": PREP_NAMES[scene.new.prep]}


def _not_wiped(scene: _Scene, _: _Rule) -> _Found:
    if scene.new.panel_wiped is False and scene.new.surfaces & PAINT:
        yield scene.new.surfaces & PAINT, {}


def _second_coat_too_soon(scene: _Scene, _: _Rule) -> _Found:
    wait = _second_coat().get(scene.new.product_class, {}).get("wait")
    for layer, where, gap in _earlier_coats(scene):
        if wait is not None and gap < wait:
            yield where, {"old": scene.said(layer, where), "gap": _hours(gap), "wait": _hours(wait)}


def _second_coat_too_late(scene: _Scene, _: _Rule) -> _Found:
    limit = _second_coat().get(scene.new.product_class, {}).get("too_late")
    for layer, where, gap in _earlier_coats(scene):
        if limit is not None and gap > limit and not scene.polished():
            yield where, {"old": scene.said(layer, where), "gap": _hours(gap)}


def _earlier_coats(scene: _Scene) -> Iterator[tuple[Lying, Surfaces, float]]:
    for layer, where in scene.over(frozenset({scene.new.product_class})):
        if _same_product(layer, scene.new):
            yield layer, where, (scene.new.at - layer.laid_at).total_seconds() / 3600


def _fresh_paint(scene: _Scene, _: _Rule) -> _Found:
    for fresh in scene.fresh_paint:
        where = fresh.surfaces & scene.new.surfaces & PAINT
        ready = may_coat_from(fresh, scene.new.product_class)
        today = scene.new.at.date()
        if where and fresh.on <= today < ready:
            bake = {True: ", baked", False: ", air-dried", None: ", baking not known"}[fresh.baked]
            said = {"painted": _day(fresh.on, today), "bake": bake, "day": _day(ready, today)}
            yield where, {"where": scene.place(where), **said}


def _gloss_on_matt(scene: _Scene, _: _Rule) -> _Found:
    if scene.paint in {Paint.MATT, Paint.WRAPPED} and scene.new.surfaces & PAINT:
        yield scene.new.surfaces & PAINT, {}


def _harmed_matt(scene: _Scene, _: _Rule) -> _Found:
    if scene.paint in {Paint.MATT, Paint.WRAPPED} and scene.new.surfaces & PAINT:
        for process in _harming(scene, ProductClass.COLOUR_WRAP):
            yield scene.new.surfaces & PAINT, {"process": PROCESS_NAMES[process]}


def _harmed_film(scene: _Scene, rule: _Rule) -> _Found:
    for layer, where in scene.over(rule.under):
        for process in _harming(scene, layer.product_class):
            yield where, {"old": scene.said(layer, where), "process": PROCESS_NAMES[process]}


def _harming(scene: _Scene, product_class: ProductClass) -> list[Process]:
    done = dict.fromkeys(scene.processes)
    return [process for process in done if effect_of(process, product_class) is Effect.HARMS]


def _single_stage_unpolished(scene: _Scene, _: _Rule) -> _Found:
    if scene.paint is Paint.SINGLE_STAGE and scene.new.prep is not None and not scene.polished():
        where = scene.new.surfaces & PAINT
        if where:
            yield where, {}


def _other_maker(scene: _Scene, rule: _Rule) -> _Found:
    for layer, where in scene.over(rule.under):
        if layer.maker and scene.new.maker and layer.maker.casefold() != scene.new.maker.casefold():
            yield where, {"old": scene.said(layer, where)}


def _patch(scene: _Scene, _: _Rule) -> _Found:
    """The same product, laid in an earlier visit, still lies on more than is being renewed."""
    for layer in scene.lying:
        elsewhere = layer.surfaces - scene.new.surfaces
        day_before = scene.new.at - layer.laid_at > timedelta(hours=24)
        renewed_by_half = 2 * len(scene.new.surfaces) >= len(layer.surfaces | scene.new.surfaces)
        if _same_product(layer, scene.new) and day_before and elsewhere != NOTHING and not renewed_by_half:
            yield (
                scene.new.surfaces,
                {
                    "old": scene.said(layer, elsewhere),
                    "where": scene.place(scene.new.surfaces),
                },
            )


_TESTS: dict[str, Callable[[_Scene, _Rule], _Found]] = {
    "over": _over,
    "over_other_product": _over_other_product,
    "over_before_topper": _over_before_topper,
    "not_polished": _not_polished,
    "not_wiped": _not_wiped,
    "second_coat_too_soon": _second_coat_too_soon,
    "second_coat_too_late": _second_coat_too_late,
    "fresh_paint": _fresh_paint,
    "gloss_on_matt": _gloss_on_matt,
    "harmed_matt": _harmed_matt,
    "harmed_film": _harmed_film,
    "single_stage_unpolished": _single_stage_unpolished,
    "other_maker": _other_maker,
    "patch": _patch,
}


def _same_product(layer: Lying, new: Laying) -> bool:
    if layer.product_key is None or new.product_key is None:
        return layer.product_class is new.product_class and layer.name == new.name
    return layer.product_key == new.product_key


def _day(day: date, today: date) -> str:
    month = f"{day.day} {day:%B}"
    return month if day.year == today.year else f"{month} {day.year}"


def _hours(hours: float) -> str:
    if hours < 1:
        return f"{hours * 60:.0f} minutes"
    if hours < 48:
        return f"{hours:.0f} hour{'' if round(hours) == 1 else 's'}"
    return f"{hours / 24:.0f} days"


@cache
def _data() -> dict[str, Any]:
    return tomllib.loads(files("crm.care").joinpath("data/layering.toml").read_text("utf-8"))


@cache
def _rules() -> tuple[_Rule, ...]:
    groups = {name: frozenset(map(ProductClass, members)) for name, members in _data()["groups"].items()}

    def together(names: Sequence[str] | None) -> frozenset[ProductClass]:
        if names is None:
            return frozenset(ProductClass)
        return frozenset().union(*(groups[name] for name in names))

    return tuple(
        _Rule(
            number=row["rule"],
            test=row["test"],
            laying=together(row.get("laying")),
            under=together(row.get("under")),
            severity=Severity(row["severity"]),
            words=row["words"],
        )
        for row in _data()["rule"]
    )


@cache
def _second_coat() -> dict[ProductClass, dict[str, float]]:
    return {ProductClass(name): limits for name, limits in _data()["second_coat"].items()}
