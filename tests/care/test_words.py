"""Trade words for surfaces and lists. All wording is our own; common practice, no source."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care import words
from crm.care.bodies import Body, painted_panels, plain_sets, surfaces_of_body
from crm.care.surfaces import ALL_GLASS, NOTHING, PANELS, Surface, Surfaces, Zone, surfaces_of
from crm.care.terms import (
    Air,
    Circumstance,
    Condition,
    EndReason,
    Mark,
    Moment,
    Paint,
    Parking,
    Prep,
    Process,
    ProductClass,
    Wash,
    WashPlan,
    WaterGrade,
)
from crm.care.words import Sides, describe

LISTS: list[tuple[type[Enum], Mapping[Any, str]]] = [
    (Zone, words.ZONE_NAMES),
    (ProductClass, words.CLASS_NAMES),
    (Process, words.PROCESS_NAMES),
    (Wash, words.WASH_NAMES),
    (Parking, words.PARKING_NAMES),
    (Prep, words.PREP_NAMES),
    (Air, words.AIR_NAMES),
    (Mark, words.MARK_NAMES),
    (EndReason, words.END_WORDS),
    (WaterGrade, words.GRADE_WORDS),
    (Condition, words.CONDITION_NAMES),
    (Circumstance, words.CIRCUMSTANCE_NAMES),
    (Paint, words.PAINT_NAMES),
    (WashPlan, words.PLAN_NAMES),
    (Moment, words.MOMENT_NAMES),
]


@pytest.mark.parametrize(("members", "names"), LISTS)
def test_names_cover_every_member_with_distinct_plain_words(
    members: type[Enum], names: Mapping[Any, str]
) -> None:
    assert set(names) == set(members)
    assert len(set(names.values())) == len(names)
    assert all(
        name == name.strip() and name[0] == name[0].lower() and "_" not in name for name in names.values()
    )


def _on(*keys: str) -> Surfaces:
    return Surfaces.from_keys(keys)


LEFT_REAR_WING = _on("left_rear_wing", "left_rear_wing_lower")


@pytest.mark.parametrize(
    ("surfaces", "expected"),
    [
        (NOTHING, "nothing"),
        (_on("bonnet", "roof"), "bonnet and roof"),
        (LEFT_REAR_WING, "left rear wing"),
        (_on("left_rear_wing"), "left rear wing, upper part"),
        (_on("left_rear_wing_lower"), "left rear wing, lower third"),
        (PANELS, "all painted panels"),
        (PANELS - LEFT_REAR_WING, "all painted panels except left rear wing"),
        (PANELS - _on("left_rear_wing"), "all painted panels except left rear wing, upper part"),
        (PANELS - LEFT_REAR_WING - _on("bonnet"), "all painted panels except bonnet and left rear wing"),
        (PANELS - surfaces_of(Zone.LOWER_SIDES), "all painted panels except lower sides"),
        (surfaces_of(Zone.LOWER_SIDES), "lower sides"),
        (surfaces_of(Zone.LOWER_SIDES) - _on("rear_bumper"), "lower sides except rear bumper"),
        (surfaces_of(Zone.UPPER_SIDES) - _on("left_rear_wing"), "upper sides except left rear wing"),
        (surfaces_of(Zone.WHEELS), "wheel faces"),
        (_on("left_front_wheel", "right_front_wheel"), "front wheels"),
        (surfaces_of(Zone.WHEELS_TWO, Zone.BARRELS_TWO), "second set of wheels"),
        (ALL_GLASS, "all glass"),
        (_on("driver_seat", "front_passenger_seat"), "front seats"),
        (_on("bonnet", "left_rear_wing", "roof"), "bonnet, roof and upper part of left rear wing"),
        (
            (PANELS - LEFT_REAR_WING) | _on("windscreen"),
            "all painted panels (except left rear wing) and windscreen",
        ),
    ],
)
def test_describe_uses_the_shortest_honest_words(surfaces: Surfaces, expected: str) -> None:
    assert describe(surfaces, Body.ESTATE) == expected


@pytest.mark.parametrize("body", Body)
def test_describe_knows_what_is_complete_on_each_body(body: Body) -> None:
    assert describe(painted_panels(body), body) == "all painted panels"
    assert describe(surfaces_of_body(body), body) == "the whole car"


@pytest.mark.parametrize("body", Body)
def test_describe_takes_a_groups_surfaces_that_the_body_lacks_as_said(body: Body) -> None:
    assert describe(PANELS, body) == "all painted panels"
    assert (
        describe(surfaces_of(Zone.LOWER_SIDES) - _on("rear_bumper"), body) == "lower sides except rear bumper"
    )


def test_describe_names_a_surface_that_the_body_lacks_when_put_in_alone() -> None:
    assert describe(_on("left_rear_door"), Body.COUPE) == "left rear door, upper part"


@pytest.mark.parametrize("body", Body)
def test_describe_gives_every_plain_set_a_name_without_a_list(body: Body) -> None:
    several = {"front": "front bumper and mirror caps"}
    for name, surfaces in plain_sets(body).items():
        assert describe(surfaces, body) in {name, several.get(name, name)}


@pytest.mark.parametrize(
    ("sides", "expected"),
    [
        (Sides.LEFT_RIGHT, "left doors"),
        (Sides.NEARSIDE_IS_LEFT, "nearside doors"),
        (Sides.NEARSIDE_IS_RIGHT, "offside doors"),
    ],
)
def test_describe_speaks_the_sides_of_the_country(sides: Sides, expected: str) -> None:
    doors = _on("left_front_door", "left_front_door_lower", "left_rear_door", "left_rear_door_lower")
    assert describe(doors, Body.ESTATE, sides) == expected


@settings(max_examples=100, deadline=None)
@given(
    st.sets(st.sampled_from(sorted(PANELS)), min_size=1),
    st.sampled_from(sorted(PANELS)),
    st.sampled_from(Body),
)
def test_describe_changes_its_words_with_every_surface_that_the_body_has(
    one: set[Surface], toggled: Surface, body: Body
) -> None:
    has = painted_panels(body)
    first = Surfaces.of(one) & has
    second = Surfaces.of(one ^ {toggled}) & has
    assert (describe(first, body) == describe(second, body)) == (first == second)
