"""The unfolded car. Its look is our own; what is checked is that every finger finds every surface."""

from __future__ import annotations

import re

import pytest

from crm.care.bodies import Body, painted_panels, surfaces_of_body
from crm.care.drawing import HEIGHT, TARGET, WIDTH, CarDrawing, Shape, unfolded
from crm.care.surfaces import ALL_GLASS, Surface, Surfaces, Zone, mirrored, surfaces_of

_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def _extent(shape: Shape) -> tuple[float, float, float, float]:
    """Left, top, right and bottom of a shape; a wheel's path is its left end and its width."""
    if "a" in shape.path:
        left, middle, radius = (float(number) for number in _NUMBER.findall(shape.path)[:3])
        return left, middle - radius, left + 2 * radius, middle + radius
    numbers = [float(number) for number in _NUMBER.findall(shape.path)]
    return min(numbers[::2]), min(numbers[1::2]), max(numbers[::2]), max(numbers[1::2])


@pytest.fixture(params=list(Body), ids=str)
def drawing(request: pytest.FixtureRequest) -> CarDrawing:
    return unfolded(request.param)


def test_drawing_shows_all_paint_glass_lamps_and_wheels_of_the_body(drawing: CarDrawing) -> None:
    has = surfaces_of_body(drawing.body)
    seen = (
        ALL_GLASS
        | surfaces_of(Zone.LAMPS, Zone.WHEELS, Zone.SOFT_TOP, Zone.LOAD_BED)
        | painted_panels(drawing.body)
    )
    assert drawing.surfaces == has & seen


def test_every_surface_is_drawn_once_but_the_two_tail_lamps(drawing: CarDrawing) -> None:
    drawn = [shape.surface for shape in drawing.shapes]
    assert {surface for surface in drawn if drawn.count(surface) > 1} == {Surface.TAIL_LAMPS}


def test_every_shape_is_at_least_a_gloved_finger_either_way(drawing: CarDrawing) -> None:
    small = {
        shape.surface.key
        for shape in drawing.shapes
        if (extent := _extent(shape))[2] - extent[0] < TARGET - 0.1 or extent[3] - extent[1] < TARGET - 0.1
    }
    assert small == set()


def test_every_shape_lies_on_the_sheet(drawing: CarDrawing) -> None:
    for shape in drawing.shapes:
        left, top, right, bottom = _extent(shape)
        assert 0 <= left < right <= WIDTH
        assert 0 <= top < bottom <= HEIGHT
        assert left < shape.x < right
        assert top < shape.y < bottom


def test_right_side_is_the_left_side_turned_over(drawing: CarDrawing) -> None:
    places: dict[Surface, tuple[float, float]] = {
        shape.surface: (shape.x, shape.y) for shape in drawing.shapes if shape.surface != Surface.TAIL_LAMPS
    }
    for surface, (x, y) in places.items():
        (twin,) = mirrored(Surfaces.of([surface]))
        assert places[twin] == pytest.approx((x, HEIGHT - y), abs=0.11)


def test_shapes_of_a_side_do_not_cover_each_other(drawing: CarDrawing) -> None:
    """No shape has its middle inside the box around another."""
    for shape in drawing.shapes:
        others = [other for other in drawing.shapes if other is not shape]
        inside = [
            other.surface.key
            for other in others
            if (box := _extent(other))[0] < shape.x < box[2] and box[1] < shape.y < box[3]
        ]
        assert inside == []
