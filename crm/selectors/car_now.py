"""The layers that are on a car now, one block a layer; zones that stand alike are told together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from crm.care.bodies import Body
from crm.care.forecast import Window
from crm.care.surfaces import NOTHING, Surfaces
from crm.care.terms import Condition
from crm.care.words import describe
from crm.models import Layer
from crm.selectors.car_lanes import OnZone, Seen, ZoneLane
from crm.selectors.on_it import worst

AT_ONCE = 6
"""Layers that are shown before the rest is folded away."""


@dataclass(frozen=True)
class Stretch:
    """Zones of one layer that have the same window and were seen alike."""

    surfaces: Surfaces
    words: str
    condition: Condition
    window: Window | None
    expected: str
    between: str
    by_figures: str
    reasons: tuple[str, ...]
    seen: tuple[Seen, ...]


@dataclass(frozen=True)
class LayerNow:
    """One layer with all that is left of it."""

    layer: Layer
    where: str
    condition: Condition
    """Of the zones that stand worst."""
    stretches: tuple[Stretch, ...]
    """What goes first, first."""
    promised: str
    promised_on: date | None
    clocks: tuple[tuple[str, str], ...]

    @property
    def expected(self) -> str:
        """The layer in a few words: the window of what goes first, which is named where it is the lesser part."""
        first = self.stretches[0]
        lesser = 2 * len(first.surfaces) < sum(len(each.surfaces) for each in self.stretches)
        return f"{first.expected}, {first.words} first" if lesser else first.expected


@dataclass(frozen=True)
class OnItNow:
    """What is on a car: the newest layers, the rest of them, and what stands bare beside them."""

    layers: tuple[LayerNow, ...]
    rest: tuple[LayerNow, ...]
    bare: tuple[str, ...]


def on_it_now(lanes: Sequence[ZoneLane], body: Body) -> OnItNow:
    """The layers of the lanes, the newest, which lies on top, first."""
    by_layer: dict[int, list[OnZone]] = {}
    for lane in lanes:
        for item in lane.rows:
            by_layer.setdefault(item.layer.pk, []).append(item)
    found = sorted(
        (_layer_now(parts, body) for parts in by_layer.values()),
        key=lambda now: (now.layer.laid_at, now.layer.pk),
        reverse=True,
    )
    return OnItNow(
        tuple(found[:AT_ONCE]), tuple(found[AT_ONCE:]), tuple(lane.bare for lane in lanes if lane.bare)
    )


def _layer_now(parts: Sequence[OnZone], body: Body) -> LayerNow:
    first = parts[0]
    alike: dict[tuple[Condition, Window | None, tuple[Seen, ...]], list[OnZone]] = {}
    for item in parts:
        alike.setdefault((item.condition, item.window, item.seen), []).append(item)
    stretches = [_stretch(group, body) for group in alike.values()]
    return LayerNow(
        layer=first.layer,
        where=describe(_together(parts), body),
        condition=worst(item.condition for item in parts),
        stretches=tuple(sorted(stretches, key=lambda each: each.window.likely if each.window else date.max)),
        promised=first.promised,
        promised_on=first.promised_on,
        clocks=first.clocks,
    )


def _stretch(group: Sequence[OnZone], body: Body) -> Stretch:
    item, surfaces = group[0], _together(group)
    return Stretch(
        surfaces=surfaces,
        words=describe(surfaces, body),
        condition=item.condition,
        window=item.window,
        expected=item.expected,
        between=item.between,
        by_figures=item.by_figures,
        reasons=tuple(dict.fromkeys(reason for each in group for reason in each.reasons)),
        seen=item.seen,
    )


def _together(parts: Sequence[OnZone]) -> Surfaces:
    found = NOTHING
    for item in parts:
        found |= item.surfaces
    return found
