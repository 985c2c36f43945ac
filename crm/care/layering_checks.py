"""The tests of the layering rules, each by the name that the table calls it."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache
from importlib.resources import files
from typing import Any

from crm.care.cure import cure_of
from crm.care.layering_scene import FreshPaint, Scene, day_words, hours_words, same_product
from crm.care.months import elapsed
from crm.care.names import PREP_NAMES, PROCESS_NAMES
from crm.care.removal import Effect, Family, Lying, effect_of, family_of
from crm.care.surfaces import NOTHING, PAINT, Surfaces
from crm.care.terms import Paint, Process, ProductClass, Severity


@dataclass(frozen=True, slots=True)
class Rule:
    """One row of the table."""

    number: str
    test: str
    laying: frozenset[ProductClass]
    under: frozenset[ProductClass]
    severity: Severity
    words: str


Found = Iterator[tuple[Surfaces, Mapping[str, str]]]
"""Where a rule speaks, and the words that go into its sentence."""


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
    baked, not_known, air_dried = table()["fresh_paint"][column]
    days = not_known if fresh.baked is None else baked if fresh.baked else air_dried
    return fresh.on + timedelta(days=days)


def _over(scene: Scene, rule: Rule) -> Found:
    for layer, where in scene.over(rule.under):
        yield where, {"old": scene.said(layer, where)}


def _over_other_product(scene: Scene, rule: Rule) -> Found:
    for layer, where in scene.over(rule.under):
        if not same_product(layer, scene.new):
            yield where, {"old": scene.said(layer, where)}


def _over_before_topper(scene: Scene, rule: Rule) -> Found:
    for layer, where in scene.over(rule.under):
        ready = layer.topper_from or _topper_from(layer)
        if scene.new.at < ready and not same_product(layer, scene.new):
            day = day_words(ready.astimezone(scene.new.at.tzinfo).date(), scene.new.at.date())
            yield where, {"old": scene.said(layer, where), "day": day}


def _topper_from(layer: Lying) -> datetime:
    cure = cure_of(layer.product_class)
    return elapsed(layer.laid_at, cure.full_h if cure.topper_h is None else cure.topper_h)


def _not_polished(scene: Scene, _: Rule) -> Found:
    where = scene.paint_to_polish()
    if scene.new.prep is not None and where:
        yield where, {"prep": PREP_NAMES[scene.new.prep]}


def _prep_not_recorded(scene: Scene, _: Rule) -> Found:
    where = scene.paint_to_polish()
    if scene.new.prep is None and where:
        yield where, {"where": scene.place(where)}


def _not_wiped(scene: Scene, _: Rule) -> Found:
    where = scene.paint_to_wipe()
    if scene.new.panel_wiped is False and where:
        yield where, {}


def _wipe_not_recorded(scene: Scene, _: Rule) -> Found:
    """Where nothing at all is recorded of the preparation, that is said once and not again here."""
    nothing_known = scene.paint_to_polish() if scene.new.prep is None else NOTHING
    where = scene.paint_to_wipe() - nothing_known
    if scene.new.panel_wiped is None and where:
        yield where, {"where": scene.place(where)}


def _second_coat_too_soon(scene: Scene, _: Rule) -> Found:
    wait = _second_coat().get(scene.new.product_class, {}).get("wait")
    for old, where, gap in _earlier_coats(scene):
        if wait is not None and gap < wait:
            yield where, {"old": old, "gap": hours_words(gap), "wait": hours_words(wait)}


def _second_coat_too_late(scene: Scene, _: Rule) -> Found:
    limit = _second_coat().get(scene.new.product_class, {}).get("too_late")
    for old, where, gap in _earlier_coats(scene, unless_polished=True):
        if limit is not None and gap > limit:
            yield where, {"old": old, "gap": hours_words(gap)}


def _earlier_coats(scene: Scene, *, unless_polished: bool = False) -> Iterator[tuple[str, Surfaces, float]]:
    """Each earlier coat of the product in words, where, and the hours since; its own coats among them."""
    new = scene.new
    if new.coats > 1 and new.coat_gap_h is not None:
        yield new.name, new.surfaces, new.coat_gap_h
    for layer, where in scene.over(frozenset({new.product_class})):
        if same_product(layer, new) and not (unless_polished and scene.polished(where)):
            yield scene.said(layer, where), where, (new.at - layer.laid_at).total_seconds() / 3600


def _fresh_paint(scene: Scene, _: Rule) -> Found:
    for fresh in scene.fresh_paint:
        where = fresh.surfaces & scene.new.surfaces & PAINT
        ready = may_coat_from(fresh, scene.new.product_class)
        today = scene.new.at.date()
        if where and fresh.on <= today < ready:
            bake = {True: ", baked", False: ", air-dried", None: ", baking not known"}[fresh.baked]
            said = {"painted": day_words(fresh.on, today), "bake": bake, "day": day_words(ready, today)}
            yield where, {"where": scene.place(where), **said}


def _gloss_on_matt(scene: Scene, _: Rule) -> Found:
    if scene.paint in {Paint.MATT, Paint.WRAPPED} and scene.new.surfaces & PAINT:
        yield scene.new.surfaces & PAINT, {}


def _harmed_matt(scene: Scene, _: Rule) -> Found:
    if scene.paint in {Paint.MATT, Paint.WRAPPED}:
        for process, where in _harming(scene, ProductClass.COLOUR_WRAP, scene.new.surfaces & PAINT):
            yield where, {"process": PROCESS_NAMES[process]}


def _harmed_film(scene: Scene, rule: Rule) -> Found:
    for layer, shared in scene.over(rule.under):
        for process, where in _harming(scene, layer.product_class, shared):
            yield where, {"old": scene.said(layer, where), "process": PROCESS_NAMES[process]}


def _harming(scene: Scene, product_class: ProductClass, on: Surfaces) -> Iterator[tuple[Process, Surfaces]]:
    """Each process that harms such a layer and was done there, once."""
    for process in dict.fromkeys(each.process for each in scene.treated):
        where = scene.after(frozenset({process})) & on
        if where and effect_of(process, product_class) is Effect.HARMS:
            yield process, where


def _single_stage_unpolished(scene: Scene, _: Rule) -> Found:
    where = scene.paint_to_polish()
    if scene.paint is Paint.SINGLE_STAGE and scene.new.prep is not None and where:
        yield where, {}


def _other_maker(scene: Scene, rule: Rule) -> Found:
    for layer, where in scene.over(rule.under):
        if layer.maker and scene.new.maker and layer.maker.casefold() != scene.new.maker.casefold():
            yield where, {"old": scene.said(layer, where)}


def _patch(scene: Scene, _: Rule) -> Found:
    """The same product, laid in an earlier visit, still lies on more than is being renewed."""
    for layer in scene.lying:
        elsewhere = layer.surfaces - scene.new.surfaces
        day_before = scene.new.at - layer.laid_at > timedelta(hours=24)
        renewed_by_half = 2 * len(scene.new.surfaces) >= len(layer.surfaces | scene.new.surfaces)
        if same_product(layer, scene.new) and day_before and elsewhere != NOTHING and not renewed_by_half:
            yield (
                scene.new.surfaces,
                {
                    "old": scene.said(layer, elsewhere),
                    "where": scene.place(scene.new.surfaces),
                },
            )


CHECKS: dict[str, Callable[[Scene, Rule], Found]] = {
    "over": _over,
    "over_other_product": _over_other_product,
    "over_before_topper": _over_before_topper,
    "not_polished": _not_polished,
    "prep_not_recorded": _prep_not_recorded,
    "not_wiped": _not_wiped,
    "wipe_not_recorded": _wipe_not_recorded,
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


@cache
def table() -> dict[str, Any]:
    """The data file of the rules."""
    return tomllib.loads(files("crm.care").joinpath("data/layering.toml").read_text("utf-8"))


@cache
def _second_coat() -> dict[ProductClass, dict[str, float]]:
    return {ProductClass(name): limits for name, limits in table()["second_coat"].items()}
