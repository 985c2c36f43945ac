"""The drawing of how long a product lasts: curves, steps, axis, and the table that says the same."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest

from crm.care.lasted_chart import Drawing, LastedChart
from crm.care.life import Life, Weibull
from crm.care.observed import Observation, Observations
from crm.care.turnbull import Steps, turnbull

SHELF, LEARNED = Life(4, 6, 9).weibull, Life(3, 5, 7).weibull
SEEN = turnbull(
    Observations.of(
        [Observation(2, 4), Observation(0, 3), Observation(3.5, 6), Observation(5), Observation(6, 9)]
    )
)


def chart(seen: Steps = SEEN, shelf: Weibull = SHELF, learned: Weibull = LEARNED) -> LastedChart:
    return LastedChart(shelf, learned, seen)


def points(path: str) -> list[tuple[float, float]]:
    found = [tuple(map(float, pair.split())) for pair in re.split("[MLz]", path) if pair]
    return [(pair[0], pair[1]) for pair in found]


def share(drawing: Drawing, y: float) -> float:
    return (drawing.bottom - y) / (drawing.bottom - drawing.top)


@pytest.mark.parametrize("name", ["desk", "phone"])
def test_curves_are_the_laws_from_all_to_hardly_any(name: str) -> None:
    whole = chart()
    drawing: Drawing = getattr(whole, name)
    for path, law in ((drawing.shelf, SHELF), (drawing.learned, LEARNED)):
        for x, y in points(path):
            age = (x - drawing.left) / (drawing.right - drawing.left) * whole.until
            assert share(drawing, y) == pytest.approx(law.survival(age), abs=0.003)
        assert share(drawing, points(path)[0][1]) == 1
        assert share(drawing, points(path)[-1][1]) < 0.03


def test_steps_enclose_what_is_left_at_every_age() -> None:
    whole = chart()
    drawing = whole.desk
    for path, side in ((drawing.least, 0), (drawing.most, 1)):
        corners = points(path)
        assert all(one[0] <= other[0] and one[1] <= other[1] for one, other in pairwise(corners))
        for (x, y), (other, _) in pairwise(corners):
            if other - x > 1:
                age = ((x + other) / 2 - drawing.left) / (drawing.right - drawing.left) * whole.until
                assert share(drawing, y) == pytest.approx(SEEN.left(age)[side], abs=0.003)


def test_band_is_closed_and_lies_between_the_steps() -> None:
    drawing = chart().desk
    assert drawing.band.endswith("z")
    assert points(drawing.band) == [*points(drawing.most), *reversed(points(drawing.least))]


def test_nothing_leaves_the_sheet() -> None:
    wide = chart(turnbull(Observations.of([Observation(0, 900), Observation(500), Observation(1, 2)])))
    for drawing in (wide.desk, wide.phone):
        for path in (drawing.shelf, drawing.learned, drawing.most, drawing.least):
            for x, y in points(path):
                assert drawing.left <= x <= drawing.right
                assert drawing.top <= y <= drawing.bottom
        assert drawing.right <= drawing.sheet.width
        assert drawing.bottom < drawing.height


@pytest.mark.parametrize("learned", [Life(0.2, 0.4, 0.9), Life(1, 2, 3), Life(18, 30, 48), Life(48, 84, 120)])
def test_axis_names_whole_steps_that_fit(learned: Life) -> None:
    whole = chart(learned=learned.weibull)
    for drawing in (whole.desk, whole.phone):
        named = [mark for mark in drawing.months if mark.words]
        assert named[0].words == "0"
        assert 2 <= len(named) <= 10
        for mark, after in pairwise(named):
            assert mark.at + drawing.sheet.wide(mark.words) < after.at


def test_axis_ends_even_for_a_law_that_never_does() -> None:
    assert chart(learned=Weibull(0.05, 1e5)).until <= 600


def test_table_says_what_is_drawn() -> None:
    whole = chart()
    assert [float(row.months) for row in whole.rows][-1] == whole.until
    for row in whole.rows:
        age = float(row.months)
        assert row.shelf == round(SHELF.survival(age) * 100)
        assert row.learned == round(LEARNED.survival(age) * 100)
    by_age = {row.months: row.seen for row in whole.rows}
    assert by_age["4"] == tuple(round(part * 100) for part in SEEN.left(4))


def test_ages_that_no_look_reaches_are_not_filled_in() -> None:
    whole = chart(turnbull(Observations.of([Observation(0, 3), Observation(4)])))
    assert [row.seen is None for row in whole.rows if float(row.months) > 4] == [True] * len(
        [row for row in whole.rows if float(row.months) > 4]
    )


def test_without_looks_there_are_no_steps() -> None:
    whole = chart(turnbull(Observations.of([])))
    assert (whole.desk.band, whole.desk.most, whole.desk.least) == ("", "", "")
    assert {row.seen for row in whole.rows} == {None}


def test_summary_names_both_medians() -> None:
    assert chart().summary == (
        f"half are gone after {SHELF.quantile(0.5):.1f} months by the shelf, "
        f"after {LEARNED.quantile(0.5):.1f} as learned; the table says more."
    )
