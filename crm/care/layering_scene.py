"""What a layering rule looks at: the layer about to be laid, what lies there, the paint, what was done to it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from crm.care.bodies import Body
from crm.care.removal import Lying
from crm.care.surfaces import NOTHING, PAINT, Surfaces
from crm.care.terms import Paint, Prep, Process, ProductClass
from crm.care.words import describe

_POLISHES = frozenset({Process.FINE_POLISH, Process.ONE_STEP_POLISH, Process.CUT, Process.SANDING})
_NEVER_POLISHED = frozenset({Paint.MATT, Paint.WRAPPED})
_FILMS = frozenset({ProductClass.PAINT_FILM, ProductClass.COLOUR_WRAP})


@dataclass(frozen=True, slots=True)
class Laying:
    """A layer about to be laid. `prep` and `panel_wiped` None are not recorded; `maker` "" is not known.

    `coat_gap_h` are the hours between its coats, where it has several and they are known.
    """

    product_class: ProductClass
    product_key: int | None
    name: str
    surfaces: Surfaces
    at: datetime
    prep: Prep | None
    panel_wiped: bool | None
    maker: str = ""
    coats: int = 1
    coat_gap_h: float | None = None


@dataclass(frozen=True, slots=True)
class FreshPaint:
    """Surfaces painted on a day; `baked` None is not known."""

    surfaces: Surfaces
    on: date
    baked: bool | None


@dataclass(frozen=True, slots=True)
class Treated:
    """A process that was done to surfaces before the layer goes on."""

    process: Process
    surfaces: Surfaces


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything that a rule may look at. `body` is only for naming surfaces."""

    new: Laying
    lying: Sequence[Lying]
    paint: Paint
    fresh_paint: Sequence[FreshPaint]
    treated: Sequence[Treated]
    body: Body

    def over(self, members: frozenset[ProductClass]) -> Iterator[tuple[Lying, Surfaces]]:
        """Layers of these classes beneath the new one, and where."""
        for layer in self.lying:
            shared = layer.surfaces & self.new.surfaces
            if shared and layer.product_class in members:
                yield layer, shared

    def said(self, layer: Lying, where: Surfaces) -> str:
        """Gannet paint sealant of 3 May on the bonnet: name, day in the zone of the new layer, place."""
        day = day_words(layer.laid_at.astimezone(self.new.at.tzinfo).date(), self.new.at.date())
        return f"{layer.name} of {day} on {self.place(where)}"

    def place(self, where: Surfaces) -> str:
        """The surfaces as they stand in a sentence: "the bonnet", "all painted panels"."""
        words = describe(where, self.body)
        return words if words.startswith(("all ", "both ", "the ")) else f"the {words}"

    def paint_to_polish(self) -> Surfaces:
        """Paint under the new layer that was to be polished first and, as far as is known, was not.

        A second coat goes on the first as it is; matt paint and film are never polished.
        """
        if self.new.prep is Prep.POLISHED_WIPED or self.paint in _NEVER_POLISHED:
            return NOTHING
        return self._paint_to_prepare() - self.after(_POLISHES)

    def paint_to_wipe(self) -> Surfaces:
        """Paint under the new layer of which nobody said that it was wiped."""
        if self.new.prep is Prep.POLISHED_WIPED or self.new.panel_wiped:
            return NOTHING
        return self._paint_to_prepare() - self.after(frozenset({Process.PANEL_WIPE}))

    def polished(self, where: Surfaces) -> bool:
        """Whether all of these surfaces were polished for the new layer."""
        return self.new.prep is Prep.POLISHED_WIPED or where <= self.after(_POLISHES)

    def after(self, processes: frozenset[Process]) -> Surfaces:
        """Surfaces to which one of these processes was done."""
        return united(each.surfaces for each in self.treated if each.process in processes)

    def _paint_to_prepare(self) -> Surfaces:
        first_coats = united(layer.surfaces for layer in self.lying if same_product(layer, self.new))
        filmed = united(layer.surfaces for layer in self.lying if layer.product_class in _FILMS)
        return (self.new.surfaces & PAINT) - first_coats - filmed


def united(sets: Iterator[Surfaces]) -> Surfaces:
    """All of these surfaces together."""
    found = NOTHING
    for each in sets:
        found |= each
    return found


def same_product(layer: Lying, new: Laying) -> bool:
    """Whether a layer is of the product being laid; without keys, class and name decide."""
    if layer.product_key is None or new.product_key is None:
        return layer.product_class is new.product_class and layer.name == new.name
    return layer.product_key == new.product_key


def day_words(day: date, today: date) -> str:
    """A day without its year, where that is this year."""
    month = f"{day.day} {day:%B}"
    return month if day.year == today.year else f"{month} {day.year}"


def hours_words(hours: float) -> str:
    """Hours as one says them: minutes below one, days from two on."""
    if hours < 1:
        return f"{hours * 60:.0f} minutes"
    if hours < 48:
        return f"{hours:.0f} hour{'' if round(hours) == 1 else 's'}"
    return f"{hours / 24:.0f} days"
