"""What the templates draw with: icons, names of zones and the surface picker."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django import template
from django.templatetags.static import static
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from crm.care.bodies import WALK_ROUND, Body, painted_panels, plain_sets, surfaces_of_body
from crm.care.drawing import CarDrawing, unfolded
from crm.care.panels import panel_of
from crm.care.surfaces import NOTHING, Surface, Surfaces, Zone, by_zone
from crm.care.words import ZONE_NAMES, describe, surface_name
from crm.selectors.panel_paint import CarPaint

register = template.Library()


@register.simple_tag
def icon(name: str) -> SafeString:
    """A line drawing from `icons.svg` in the colour of the text; a word must stand beside it."""
    return format_html(
        '<svg class="icon" aria-hidden="true" focusable="false"><use href="{}#{}"></use></svg>',
        static("crm/icons.svg"),
        name,
    )


@register.filter
def zone_name(zone: Zone) -> str:
    """The zone in words."""
    return ZONE_NAMES[zone]


@dataclass(frozen=True, slots=True)
class Tick:
    """One surface as a checkbox."""

    key: str
    words: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class ZoneTicks:
    """The checkboxes of one zone."""

    words: str
    ticks: tuple[Tick, ...]


@dataclass(frozen=True, slots=True)
class Picker:
    """What `_surface_picker.html` shows. Sets of surfaces are written as keys with a space between."""

    id: str
    name: str
    legend: str
    body: str
    describe_url: str
    described_by: str
    words: str
    last: str
    last_words: str
    panels: str
    sets: tuple[tuple[str, str], ...]
    drawing: CarDrawing
    outside: tuple[ZoneTicks, ...]
    inside: tuple[ZoneTicks, ...]
    inside_chosen: bool


@register.inclusion_tag("studio/_surface_picker.html")
def surface_picker(
    body: str,
    chosen: Surfaces | Iterable[str] = NOTHING,
    name: str = "surfaces",
    last: Surfaces | Iterable[str] = NOTHING,
    legend: str = "Surfaces",
    described_by: str = "",
) -> dict[str, Picker]:
    """The picker for a car of that body plan.

    Args:
        body: The key of a body plan; an unknown one is drawn as a hatchback: a form must never fail to show.
        chosen: What is ticked, as a set or as keys; unknown keys are passed over, the form reports them.
        name: The name that every checkbox carries.
        last: What was chosen the last time; offers "same as last" where it is not empty.
        legend: What is being chosen.
        described_by: The id of an error sentence that belongs to it.

    """
    plan = Body(body) if body in set(Body) else Body.HATCHBACK
    has = surfaces_of_body(plan)
    ticked, before = _known(chosen) & has, _known(last) & has
    drawing = unfolded(plan)
    picker = Picker(
        id=f"picker-{name}",
        name=name,
        legend=legend,
        body=plan.value,
        describe_url=reverse("describe_surfaces"),
        described_by=described_by,
        words=describe(ticked, plan),
        last=_keys(before),
        last_words=describe(before, plan),
        panels=_keys(painted_panels(plan)),
        sets=tuple((words, _keys(members)) for words, members in plain_sets(plan).items()),
        drawing=drawing,
        outside=_ticks(has & drawing.surfaces, ticked, plan),
        inside=_ticks(has - drawing.surfaces, ticked, plan),
        inside_chosen=bool(ticked - drawing.surfaces),
    )
    return {"picker": picker}


def _known(surfaces: Surfaces | Iterable[str]) -> Surfaces:
    if isinstance(surfaces, Surfaces):
        return surfaces
    keys = {surface.key for surface in Surface}
    return Surfaces.from_keys(key for key in surfaces if key in keys)


def _keys(surfaces: Surfaces) -> str:
    return " ".join(surfaces.keys())


def _ticks(shown: Surfaces, chosen: Surfaces, body: Body) -> tuple[ZoneTicks, ...]:
    """Zones in lane order, their surfaces in the order in which one walks round the car."""
    return tuple(
        ZoneTicks(
            ZONE_NAMES[zone],
            tuple(
                Tick(surface.key, surface_name(surface, body), surface in chosen)
                for surface in sorted(members, key=_passed)
            ),
        )
        for zone, members in by_zone(shown).items()
    )


def _passed(surface: Surface) -> tuple[int, int]:
    walked = WALK_ROUND.index(surface) if surface in WALK_ROUND else len(WALK_ROUND)
    return walked, surface.value


@dataclass(frozen=True, slots=True)
class PaintedShape:
    """One surface of the unfolded car, and what was measured on its panel."""

    path: str
    letter: str
    words: str
    x: float
    y: float


@register.inclusion_tag("studio/_paint_picture.html")
def paint_picture(paint: CarPaint, body: str) -> dict[str, object]:
    """The unfolded car with a letter on every panel that was measured; the table beside it says the same."""
    plan = Body(body)
    drawing, by_panel = unfolded(plan), paint.by_panel
    shapes = []
    for shape in drawing.shapes:
        panel = panel_of(shape.surface)
        found = by_panel.get(panel)
        whole = found is not None and panel is shape.surface
        words = f"{found.letter} {found.lowest}".strip() if found and whole else ""
        shapes.append(
            PaintedShape(shape.path, found.letter.lower() if found else "", words, shape.x, shape.y)
        )
    return {"drawing": drawing, "shapes": shapes}
