"""What surfaces are called on each shape of car. All wording is our own; common practice, no source."""

from __future__ import annotations

import re

import pytest

from crm.care.bodies import Body, painted_panels, surfaces_of_body
from crm.care.drawing import unfolded
from crm.care.surfaces import Surface, Surfaces, mirrored
from crm.care.words import describe, surface_name

ONE_DOOR_A_SIDE = (Body.HATCHBACK_3, Body.COUPE, Body.CONVERTIBLE)
HAS_NOT: dict[Body, str] = {
    Body.HATCHBACK: "boot|back door|bed|soft top|third row",
    Body.HATCHBACK_3: "boot|back door|bed|soft top|third row|(front|rear|all) doors?",
    Body.SALOON: "tailgate|back door|bed|soft top|third row",
    Body.ESTATE: "boot|back door|bed|soft top",
    Body.COUPE: "tailgate|back door|bed|soft top|third row|(front|rear|all) doors?",
    Body.CONVERTIBLE: r"tailgate|back door|bed|\broof|third row|(front|rear|all) doors?",
    Body.VAN: "boot|tailgate|bed|soft top|rear doors?",
    Body.PICK_UP: "boot|back door|rear wing|soft top|third row",
}
"""Words that nobody says about a car of that shape."""


def _on(*keys: str) -> Surfaces:
    return Surfaces.from_keys(keys)


@pytest.mark.parametrize("body", Body)
def test_every_surface_of_a_body_has_a_plain_name_that_no_other_shares(body: Body) -> None:
    names = [surface_name(surface, body) for surface in surfaces_of_body(body)]
    assert len(set(names)) == len(names)
    assert [name for name in names if name != name.strip().lower() or "_" in name] == []


@pytest.mark.parametrize("body", Body)
def test_no_name_is_said_of_a_body_that_has_no_such_thing(body: Body) -> None:
    has = surfaces_of_body(body)
    wrong = re.compile(rf"\b({HAS_NOT[body]})")
    said = {surface_name(surface, body) for surface in has} | {shape.label for shape in unfolded(body).shapes}
    panels = painted_panels(body)
    for one in has:
        alone = Surfaces.of([one])
        pair = alone | mirrored(alone)
        whole = Surfaces.of(
            each for each in has if each.key.removesuffix("_lower") == one.key.removesuffix("_lower")
        )
        for some in (
            alone,
            pair,
            whole,
            whole | mirrored(whole),
            panels - alone,
            panels - pair,
            panels - whole,
        ):
            said.add(describe(some & has, body))
    said |= {describe(Surfaces.of(each for each in has if part in each.key), body) for part in _PARTS}
    assert {words for words in said if wrong.search(words)} == set()


_PARTS = ("_door", "_wing", "boot_", "shuts", "_lower", "front_", "rear_", "left_", "right_")


@pytest.mark.parametrize(
    ("body", "top", "below", "whole", "shut"),
    [
        (Body.HATCHBACK, "tailgate, upper part", "tailgate below the glass", "tailgate", "tailgate shut"),
        (Body.HATCHBACK_3, "tailgate, upper part", "tailgate below the glass", "tailgate", "tailgate shut"),
        (Body.ESTATE, "tailgate, upper part", "tailgate below the glass", "tailgate", "tailgate shut"),
        (Body.SALOON, "boot lid, top", "boot lid, rear face", "boot lid", "boot shut"),
        (Body.COUPE, "boot lid, top", "boot lid, rear face", "boot lid", "boot shut"),
        (Body.CONVERTIBLE, "boot lid, top", "boot lid, rear face", "boot lid", "boot shut"),
        (Body.VAN, "back doors, upper part", "back doors, lower part", "back doors", "back door shuts"),
    ],
)
def test_what_closes_the_rear_is_called_as_on_that_shape(
    body: Body, top: str, below: str, whole: str, shut: str
) -> None:
    assert describe(_on("boot_lid"), body) == top
    assert describe(_on("tailgate_lower"), body) == below
    assert describe(_on("boot_lid", "tailgate_lower"), body) == whole
    assert describe(_on("boot_shut"), body) == shut
    but_it = painted_panels(body) - _on("boot_lid", "tailgate_lower")
    assert describe(but_it, body) == f"all painted panels except {whole}"


def test_a_pick_up_has_one_tailgate_and_bed_sides() -> None:
    assert describe(_on("tailgate_lower"), Body.PICK_UP) == "tailgate"
    side = _on("left_rear_wing", "left_rear_wing_lower")
    assert describe(side, Body.PICK_UP) == "left bed side"
    assert describe(side | mirrored(side), Body.PICK_UP) == "bed sides"
    assert (
        describe(painted_panels(Body.PICK_UP) - side, Body.PICK_UP)
        == "all painted panels except left bed side"
    )


@pytest.mark.parametrize("body", Body)
def test_a_single_door_is_the_left_door_only_where_there_is_one_a_side(body: Body) -> None:
    door = _on("left_front_door", "left_front_door_lower")
    single = body in ONE_DOOR_A_SIDE
    assert describe(door, body) == ("left door" if single else "left front door")
    assert describe(door | mirrored(door), body) == ("both doors" if single else "front doors")


def test_a_vans_second_doors_are_side_doors() -> None:
    door = _on("left_rear_door", "left_rear_door_lower")
    assert describe(door, Body.VAN) == "left side door"
    assert describe(door, Body.SALOON) == "left rear door"


def test_parts_of_the_tail_are_clear_in_a_list() -> None:
    assert describe(_on("bonnet", "boot_lid"), Body.SALOON) == "bonnet and top of boot lid"
    assert describe(_on("bonnet", "tailgate_lower"), Body.SALOON) == "bonnet and rear face of boot lid"
    assert describe(_on("bonnet", "tailgate_lower"), Body.VAN) == "bonnet and lower part of back doors"


def test_a_surface_that_a_body_lacks_is_named_plainly_so_that_it_can_be_refused() -> None:
    assert surface_name(Surface.BOOT_LID, Body.PICK_UP) == "boot lid, top"
    assert surface_name(Surface.LEFT_REAR_DOOR, Body.COUPE) == "left rear door"
    assert surface_name(Surface.LOAD_BED, Body.SALOON) == "load bed"
