"""Panels as the paint gauge and the polisher know them: a door or wing is one panel with its own lower third.

Common practice, no source.
"""

from __future__ import annotations

from functools import cache

from crm.care.bodies import WALK_ROUND, Body, surfaces_of_body
from crm.care.surfaces import PAINT, Surface, Surfaces

_HALVES: dict[Surface, Surface] = {
    surface: Surface[surface.name.removesuffix("_LOWER")]
    for surface in Surface
    if surface.name.endswith("_LOWER") and surface.name.removesuffix("_LOWER") in Surface.__members__
}


def panel_of(surface: Surface) -> Surface:
    """The panel that a surface belongs to: for the lower third of a door or wing the door or wing."""
    return _HALVES.get(surface, surface)


@cache
def whole_panel(panel: Surface) -> Surfaces:
    """Every surface of a panel, its lower third among them where it has one."""
    return Surfaces.of([panel, *(lower for lower, upper in _HALVES.items() if upper is panel)])


@cache
def panels_in_order(body: Body) -> tuple[Surface, ...]:
    """The painted panels of a shape in the order of a walk round it, and then the shuts and the load bed."""
    has = surfaces_of_body(body) & PAINT
    walked = [surface for surface in WALK_ROUND if surface in has]
    rest = [surface for surface in has if surface not in walked]
    return tuple(surface for surface in (*walked, *rest) if panel_of(surface) is surface)
