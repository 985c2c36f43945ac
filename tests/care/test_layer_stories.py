"""Which layer a grade reads, and what becomes of surfaces with one history: both sides of every rule."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from crm.care.layer_stories import STILL_WHOLE, Ended, Graded, Laid, Part, Story, parts_of, stories
from crm.care.seen import End, Ending
from crm.care.surfaces import Surface, Surfaces, Zone, surfaces_of
from crm.care.terms import EndReason, WaterGrade

DAY = timedelta(days=1)
LAID = datetime(2025, 10, 10, 14, 30, tzinfo=UTC)
LOOKED = datetime(2026, 1, 10, 9, 45, tzinfo=UTC)
BONNET, ROOF = Surfaces.of([Surface.BONNET]), Surfaces.of([Surface.ROOF])
TOPS = surfaces_of(Zone.TOPS)


def laid(key: int = 1, at: datetime = LAID, on: Surfaces = TOPS, *endings: Ended) -> Laid:
    return Laid(key, at, at.date(), on, endings)


def ended(at: datetime, why: EndReason = EndReason.CLAYED, on: Surfaces = TOPS) -> Ended:
    return Ended(at, at.date(), on, why)


def graded(water: int = 1, at: datetime = LOOKED, on: Surfaces = BONNET) -> Graded:
    return Graded(at, at.date(), on, WaterGrade(water))


def waters(story: Story, surface: Surface = Surface.BONNET) -> list[int]:
    return [look.water for look in story.looks.get(surface, ())]


def parts(layer: Laid, *grades: Graded) -> list[Part]:
    return list(parts_of(layer, layer.surfaces, stories([layer], grades)[layer.key]))


@pytest.mark.parametrize("water", [0, 1, 2, 3, 4])
def test_grade_reads_the_only_layer_on_its_surfaces_and_no_other_surface(water: int) -> None:
    story = stories([laid()], [graded(water)])[1]
    assert (waters(story), waters(story, Surface.ROOF)) == ([water], [])


def test_finished_surface_reads_the_layer_on_top_and_nothing_of_what_lies_beneath() -> None:
    found = stories([laid(1), laid(2, LAID + DAY)], [graded(0)])
    assert (waters(found[1]), waters(found[2])) == ([], [0])
    assert (found[1].covered, found[2].covered) == (1, 0)


def test_layer_beside_the_one_on_top_is_read_where_it_lies_bare() -> None:
    found = stories([laid(1), laid(2, LAID + DAY, ROOF)], [graded(0, on=BONNET | ROOF)])
    assert (waters(found[1]), waters(found[1], Surface.ROOF)) == ([0], [])
    assert (waters(found[2]), waters(found[2], Surface.ROOF)) == ([], [0])
    assert found[1].covered == 0


def test_whole_surface_over_another_layer_is_put_down_to_neither() -> None:
    stack = [laid(1), laid(2, LAID + DAY)]
    found = stories(stack, [graded(4)])
    assert (waters(found[1]), waters(found[2])) == ([], [])
    assert (found[1].covered, found[2].shared) == (1, 1)
    held = stories(stack, [graded(4)], top_holds=True)
    assert (waters(held[2]), held[2].shared) == ([4], 0)


def test_layer_that_ended_before_the_look_hides_nothing() -> None:
    topper = laid(2, LAID + DAY, TOPS, ended(LOOKED - DAY))
    found = stories([laid(1), topper], [graded(4)])
    assert (waters(found[1]), waters(found[2])) == ([4], [])


def test_what_ends_at_the_very_moment_of_the_look_was_still_looked_at() -> None:
    at_once = stories([laid(1, LAID, TOPS, ended(LOOKED, EndReason.WORN))], [graded(0)])
    before = stories([laid(1, LAID, TOPS, ended(LOOKED - timedelta(minutes=1)))], [graded(0)])
    assert (waters(at_once[1]), waters(before[1])) == ([0], [])


def test_layer_of_the_same_day_was_laid_after_the_look() -> None:
    stack = [laid(1), laid(2, LOOKED.replace(hour=8))]
    found = stories(stack, [graded(0)])
    assert (waters(found[1]), waters(found[2])) == ([0], [])
    next_day = stories(stack, [graded(0, LOOKED + DAY)])
    assert (waters(next_day[1]), waters(next_day[2])) == ([], [0])


def test_surfaces_with_one_history_are_one_part() -> None:
    layer = laid(1, LAID, BONNET | ROOF)
    found = parts(layer, graded(3, on=BONNET | ROOF), graded(1, LOOKED + DAY, BONNET))
    assert {part.surfaces: [look.water for look in part.looks] for part in found} == {
        BONNET: [3, 1],
        ROOF: [3],
    }
    assert {part.surfaces: part.last for part in found} == {BONNET: LOOKED + DAY, ROOF: LOOKED}


@pytest.mark.parametrize(
    ("why", "how"),
    [
        (EndReason.WORN, Ending.WORN),
        (EndReason.FAILED, Ending.WORN),
        (EndReason.POLISHED, Ending.UNKNOWN),
        (EndReason.STRIPPED, Ending.UNKNOWN),
        (EndReason.SUPERSEDED, Ending.UNKNOWN),
        (EndReason.RESPRAYED, Ending.UNKNOWN),
        (EndReason.UNKNOWN, Ending.UNKNOWN),
    ],
)
def test_only_a_person_says_that_a_layer_was_worn(why: EndReason, how: Ending) -> None:
    [part] = parts(laid(1, LAID, BONNET, ended(LOOKED, why, BONNET)))
    assert part.end == End(LOOKED.date(), how)
    assert part.last == (LOOKED if how is Ending.WORN else None)


@pytest.mark.parametrize(
    ("water", "after", "how"),
    [
        (2, STILL_WHOLE, Ending.REMOVED),
        (2, STILL_WHOLE + DAY, Ending.UNKNOWN),
        (1, DAY, Ending.UNKNOWN),
    ],
)
def test_layer_found_whole_shortly_before_was_whole_when_it_was_taken_off(
    water: int, after: timedelta, how: Ending
) -> None:
    layer = laid(1, LAID, BONNET, ended(LOOKED + after, EndReason.POLISHED, BONNET))
    [part] = parts(layer, graded(water))
    assert part.end == End((LOOKED + after).date(), how)
