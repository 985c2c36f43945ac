"""A car unfolded flat, as shapes to be tapped: seen from above, its two sides folded out.

The nose points to the left, so the left side lies below and the right side above, upside down. Lengths
are user units of an SVG view box that is as wide as a small telephone, and every shape is at least
`TARGET` units either way, so that a gloved finger finds it. Surfaces that cannot be seen from outside
(shuts, cabin, engine bay ...) are not drawn.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from crm.care.bodies import Body, surfaces_of_body
from crm.care.surface_names import in_words_of, tail_name
from crm.care.surfaces import Surface, Surfaces

TARGET = 48.0
WIDTH = 8 * TARGET
_STRIP = 3 * TARGET
"""Height of the part seen from above."""
_ROWS = (TARGET, 50.0, TARGET, 52.0)
"""Heights of a side's rows from the roof outwards: glass, upper panels, lower thirds, wheels and sill."""
_SIDE = sum(_ROWS)
HEIGHT = _STRIP + 2 * _SIDE
_ROUND = 6.0
_GAP = 1.0

_TAIL_LABELS = {
    "boot lid": ("boot lid", "rear face"),
    "tailgate": ("tailgate", "below"),
    "back doors": ("doors", "below"),
}
"""Words on the two pieces that close the rear, by what the whole of it is called."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Shape:
    """One surface's outline as SVG path data, and a short word with the place where it is set."""

    surface: Surface
    path: str
    label: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class CarDrawing:
    """The shapes of one body plan."""

    body: Body
    width: float
    height: float
    shapes: tuple[Shape, ...]

    @property
    def surfaces(self) -> Surfaces:
        """The surfaces that can be tapped on the drawing."""
        return Surfaces.of(shape.surface for shape in self.shapes)


@dataclass(frozen=True, slots=True)
class _Outline:
    """How the side of a body plan differs, in units from the nose.

    `door` and `doors_end` bound the doors, `middle` parts front from rear. `glass` are the four corners of
    the side glass along the length: front at the waist, front and rear at the roof, rear at the waist.
    `closed_rear`: behind the doors the side is a panel up to the roof.
    """

    door: float
    middle: float
    doors_end: float
    glass: tuple[float, float, float, float]
    closed_rear: bool = False


_FIVE_DOORS = _Outline(118, 190, 262, (104, 136, 286, 318))
_THREE_DOORS = _Outline(118, 232, 232, (104, 140, 270, 312))
_OUTLINES: dict[Body, _Outline] = {
    Body.HATCHBACK: _FIVE_DOORS,
    Body.HATCHBACK_3: _THREE_DOORS,
    Body.SALOON: _Outline(118, 190, 258, (104, 142, 250, 290)),
    Body.ESTATE: _Outline(118, 190, 262, (104, 134, 330, 344)),
    Body.COUPE: _Outline(124, 240, 240, (108, 158, 232, 300)),
    Body.CONVERTIBLE: _Outline(124, 236, 236, (110, 152, 226, 262)),
    Body.VAN: _Outline(96, 168, 250, (84, 110, 172, 172), closed_rear=True),
    Body.PICK_UP: _Outline(112, 176, 236, (100, 132, 228, 236)),
}


def unfolded(body: Body) -> CarDrawing:
    """The drawing of that body plan; surfaces that it does not have are missing."""
    has = surfaces_of_body(body)
    shapes = [*_from_above(body), *_side(body, left=True), *_side(body, left=False)]
    return CarDrawing(body, WIDTH, HEIGHT, tuple(shape for shape in shapes if shape.surface in has))


def _from_above(body: Body) -> Iterator[Shape]:
    """Bumper to bumper along the middle; each piece is one target long, lamps stand at the four corners."""
    top, bottom = _SIDE, _SIDE + _STRIP
    lamp = TARGET
    lid, below = _TAIL_LABELS[tail_name(body)] if body is not Body.PICK_UP else ("", "tailgate")
    tops = {
        1: (Surface.BONNET, "bonnet", 6.0, 0.0),
        2: (Surface.WINDSCREEN, "screen", 2.0, 10.0),
        3: (Surface.SOFT_TOP if body is Body.CONVERTIBLE else Surface.ROOF, "roof", 12.0, 12.0),
        4: (Surface.REAR_GLASS, "glass", 10.0, 2.0),
        5: (Surface.LOAD_BED, "bed", 2.0, 2.0) if body is Body.PICK_UP else (Surface.BOOT_LID, lid, 2.0, 4.0),
        6: (Surface.TAILGATE_LOWER, below, 4.0, 8.0),
    }
    for column, (surface, label, near, far) in tops.items():
        x, end = column * TARGET, (column + 1) * TARGET
        word = "soft top" if surface is Surface.SOFT_TOP else label
        yield _shape(
            surface, [(x, top + near), (end, top + far), (end, bottom - far), (x, bottom - near)], word
        )
    for surface, at in ((Surface.RIGHT_HEADLAMP, top), (Surface.LEFT_HEADLAMP, bottom - lamp)):
        inner, outer = (at + lamp, at) if at == top else (at, at + lamp)
        nose = outer + (5 if at == top else -5)
        yield _shape(surface, [(0, nose), (TARGET, outer), (TARGET, inner), (0, inner)], "lamp")
    yield _shape(Surface.FRONT_BUMPER, _box(0, top + lamp, TARGET, lamp), "front")
    for at in (top, bottom - lamp):
        yield _shape(Surface.TAIL_LAMPS, _box(WIDTH - TARGET, at, TARGET, lamp), "lamp")
    yield _shape(Surface.REAR_BUMPER, _box(WIDTH - TARGET, top + lamp, TARGET, lamp), "rear")


def _side(body: Body, *, left: bool) -> Iterator[Shape]:
    """One side; the right one is the left one turned over the length of the car."""
    for name, points, label in _side_pieces(
        _OUTLINES[body], rear_door=Surface.LEFT_REAR_DOOR in surfaces_of_body(body)
    ):
        surface = Surface[f"{'LEFT' if left else 'RIGHT'}_{name}"]
        placed = [(x, _SIDE + _STRIP + y) if left else (x, _SIDE - y) for x, y in points]
        if name.endswith("WHEEL"):
            yield _wheel(surface, placed[0])
        else:
            yield _shape(surface, placed, in_words_of(body, label))


def _side_pieces(side: _Outline, *, rear_door: bool) -> Iterator[tuple[str, list[Point], str]]:
    """Names without a side, outlines from the roof (0) outwards, words; a wheel is given by its middle."""
    glass, upper, lower, bottom = (sum(_ROWS[:row]) for row in range(1, 5))
    nose, tail = 12.0, WIDTH - 12.0
    low_front, high_front, high_rear, low_rear = side.glass
    yield "GLASS", [(high_front, 0), (high_rear, 0), (low_rear, glass), (low_front, glass)], "glass"
    yield "MIRROR", _box(low_front - TARGET - 4, 0, TARGET, glass), "mirror"
    yield (
        "FRONT_WING",
        [(nose, glass + 8), (side.door, glass), (side.door, upper), (nose - 6, upper)],
        "front wing",
    )
    yield "FRONT_WING_LOWER", _box(nose - 6, upper, side.door - nose + 6, lower - upper), "lower"
    yield from _door(
        "FRONT_DOOR", side.door, side.middle if rear_door else side.doors_end, (glass, upper, lower)
    )
    if rear_door:
        yield from _door("REAR_DOOR", side.middle, side.doors_end, (glass, upper, lower))
    rear = [(side.doors_end, glass), (tail, glass + 6), (tail + 6, upper), (side.doors_end, upper)]
    if side.closed_rear:
        rear = [(side.doors_end, 0), (tail, 0), (tail + 6, upper), (side.doors_end, upper)]
    yield "REAR_WING", rear, "rear wing"
    yield "REAR_WING_LOWER", _box(side.doors_end, upper, tail + 6 - side.doors_end, lower - upper), "lower"
    wheel = (bottom - lower) / 2
    yield "FRONT_WHEEL", [(66, lower + wheel)], ""
    yield "SILL", _box(98, lower, WIDTH - 2 * 98 + 8, bottom - lower - 4), "sill"
    yield "REAR_WHEEL", [(WIDTH - 58, lower + wheel)], ""


def _door(
    name: str, start: float, end: float, rows: tuple[float, float, float]
) -> Iterator[tuple[str, list[Point], str]]:
    top, middle, bottom = rows
    yield name, _box(start, top, end - start, middle - top), "door"
    yield f"{name}_LOWER", _box(start, middle, end - start, bottom - middle), "lower"


def _box(x: float, y: float, width: float, height: float) -> list[Point]:
    return [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]


def _shape(surface: Surface, points: Sequence[Point], label: str) -> Shape:
    x = sum(point[0] for point in points) / len(points)
    y = sum(point[1] for point in points) / len(points)
    return Shape(surface, _rounded(points), label, round(x, 1), round(y, 1))


def _wheel(surface: Surface, middle: Point) -> Shape:
    radius = _ROWS[3] / 2 - _GAP
    x, y = middle
    across = f"a{radius:g} {radius:g} 0 1 1"
    ring = f"M{x - radius:g} {y:g}{across} {2 * radius:g} 0{across} {-2 * radius:g} 0z"
    return Shape(surface, ring, "wheel", round(x, 1), round(y, 1))


def _rounded(points: Sequence[Point]) -> str:
    """A closed path through the points with its corners taken off, as panels have."""
    steps = []
    for at, corner in enumerate(points):
        before, after = points[at - 1], points[(at + 1) % len(points)]
        enter, leave = _towards(corner, before), _towards(corner, after)
        steps.append(f"{'L' if at else 'M'}{_xy(enter)}Q{_xy(corner)} {_xy(leave)}")
    return "".join(steps) + "z"


def _towards(corner: Point, other: Point) -> Point:
    """The place a corner's radius away from it, on the way to the other point."""
    across, down = other[0] - corner[0], other[1] - corner[1]
    length = (across**2 + down**2) ** 0.5
    share = min(_ROUND / length, 0.5) if length else 0.0
    return corner[0] + across * share, corner[1] + down * share


def _xy(point: Point) -> str:
    return f"{point[0]:.1f} {point[1]:.1f}"
