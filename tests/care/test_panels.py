"""Panels as the gauge knows them, and the letters of their bands."""

from __future__ import annotations

import pytest

from crm.care.bodies import Body, surfaces_of_body
from crm.care.paint_terms import Heaviest
from crm.care.panels import panel_of, panels_in_order, whole_panel
from crm.care.surfaces import NOTHING, PAINT, Surface
from crm.care.thickness_bands import LETTER_WORDS, LETTERS


def test_a_lower_third_belongs_to_its_door_and_the_rear_face_to_itself() -> None:
    assert panel_of(Surface.LEFT_FRONT_DOOR_LOWER) is Surface.LEFT_FRONT_DOOR
    assert panel_of(Surface.LEFT_FRONT_DOOR) is Surface.LEFT_FRONT_DOOR
    assert panel_of(Surface.TAILGATE_LOWER) is Surface.TAILGATE_LOWER
    assert whole_panel(Surface.LEFT_FRONT_DOOR).keys() == ["left_front_door", "left_front_door_lower"]
    assert whole_panel(Surface.BONNET).keys() == ["bonnet"]


@pytest.mark.parametrize("body", Body)
def test_panels_of_a_shape_are_all_its_paint_once(body: Body) -> None:
    order = panels_in_order(body)
    assert len(set(order)) == len(order)
    together = NOTHING
    for panel in order:
        together |= whole_panel(panel) & surfaces_of_body(body)
    assert together == surfaces_of_body(body) & PAINT


def test_a_walk_begins_at_the_bonnet_and_ends_with_what_is_opened_for_it() -> None:
    order = panels_in_order(Body.ESTATE)
    assert order[0] is Surface.BONNET
    assert order[-4:] == (Surface.ROOF, Surface.LEFT_SHUTS, Surface.RIGHT_SHUTS, Surface.BOOT_SHUT)


def test_every_letter_has_its_words() -> None:
    assert set(LETTERS) == set(Heaviest)
    assert list(LETTERS.values()) == list(LETTER_WORDS) == ["A", "B", "C", "D"]
