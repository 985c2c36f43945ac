"""The choice of invitations: every choice tried on small cases, bounds and outside examples on larger ones."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from math import inf
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import milp as scipy_milp

from crm.care.winter_fill import by_worth_an_hour
from crm.care.winter_problem import OUT, UNITS, Choice, How, Problem, Total
from crm.care.winter_solve import relaxed_bound, solve


def _problem(
    worth: list[list[float]],
    hours: list[float],
    room: list[float],
    chance: list[float] | None = None,
    nights: list[float] | None = None,
    room_nights: list[float] | None = None,
    first: list[bool] | None = None,
    open_: list[bool] | None = None,
) -> Problem:
    cars, weeks = len(hours), len(room)
    return Problem(
        worth=np.array(worth, dtype=np.float64).reshape(cars, weeks),
        chance=np.array(chance or [1.0] * cars),
        hours=np.array(hours, dtype=np.float64),
        nights=np.array(nights or [0.0] * cars, dtype=np.float64),
        room_hours=np.array(room, dtype=np.float64),
        room_nights=np.array(room_nights or [1e3] * weeks, dtype=np.float64),
        first=np.array(first or [False] * cars, dtype=np.bool_),
        open=np.array(open_ or [True] * weeks, dtype=np.bool_),
    )


def _every_choice(problem: Problem) -> tuple[int, float]:
    """The most promised cars and the most value with them, from every choice there is."""
    cars, weeks = problem.worth.shape
    (hours, nights), (room_hours, room_nights) = problem.loads, problem.rooms
    best = (0, 0.0)
    for chosen in product(range(-1, weeks), repeat=cars):
        taken = [(car, week) for car, week in enumerate(chosen) if week != OUT]
        if any(not problem.open[week] for _, week in taken):
            continue
        if any(problem.worth[car, week] <= 0 and not problem.first[car] for car, week in taken):
            continue
        used = np.zeros((2, weeks), dtype=np.int64)
        for car, week in taken:
            used[:, week] += hours[car], nights[car]
        if (used[0] <= room_hours).all() and (used[1] <= room_nights).all():
            promised = sum(bool(problem.first[car]) for car, _ in taken)
            best = max(best, (promised, float(sum(problem.gains[car, week] for car, week in taken))))
    return best


@st.composite
def problems(draw: st.DrawFn, most_cars: int = 6, most_weeks: int = 3) -> Problem:
    cars, weeks = draw(st.integers(1, most_cars)), draw(st.integers(1, most_weeks))

    def numbers(low: float, high: float, count: int) -> list[float]:
        return draw(st.lists(st.floats(low, high, allow_nan=False, width=32), min_size=count, max_size=count))

    return Problem(
        worth=np.array(numbers(-5, 60, cars * weeks)).reshape(cars, weeks),
        chance=np.array(draw(st.lists(st.sampled_from([0.08, 0.2, 0.4, 1.0]), min_size=cars, max_size=cars))),
        hours=np.array(draw(st.lists(st.sampled_from([3.5, 6.0, 9.5]), min_size=cars, max_size=cars))),
        nights=np.array(draw(st.lists(st.sampled_from([0.0, 0.5, 1.0]), min_size=cars, max_size=cars))),
        room_hours=np.array(numbers(0, 12, weeks)),
        room_nights=np.array(numbers(0, 1.5, weeks)),
        first=np.array(draw(st.lists(st.booleans(), min_size=cars, max_size=cars))),
        open=np.array(
            draw(st.lists(st.sampled_from([True, True, True, False]), min_size=weeks, max_size=weeks))
        ),
    )


def _require_feasible(problem: Problem, found: Choice) -> None:
    asked = np.nonzero(found.weeks != OUT)[0]
    assert problem.open[found.weeks[asked]].all()
    for need, room, used in (
        (problem.hours, problem.room_hours, found.hours),
        (problem.nights, problem.room_nights, found.nights),
    ):
        weeks = np.zeros(len(room))
        for car in asked:
            weeks[found.weeks[car]] += problem.chance[car] * need[car]
        assert weeks == pytest.approx(used)
        # Loads are rounded up and room down, so not even a rounding fills a week too far.
        assert (weeks <= np.maximum(room, 0) + 1e-8).all()


@given(problem=problems())
@settings(max_examples=80, deadline=None)
def test_choice_is_the_best_of_all_there_are(problem: Problem) -> None:
    found = solve(problem, gap=0.0)
    promised, value = _every_choice(problem)
    assert found.promised == promised
    assert found.value == pytest.approx(value, abs=1e-9)
    assert found.bound == pytest.approx(value, abs=1e-6)
    _require_feasible(problem, found)


@given(problem=problems(12, 5))
@settings(max_examples=40, deadline=None)
def test_relaxation_bounds_every_choice_and_no_week_is_filled_too_far(problem: Problem) -> None:
    bound = relaxed_bound(problem)
    for found in (solve(problem), by_worth_an_hour(problem)):
        assert found.value <= bound + 1e-6
        _require_feasible(problem, found)


@given(problem=problems(), more=st.floats(0, 10), week=st.integers(0, 2), nights=st.booleans())
@settings(max_examples=50, deadline=None)
def test_more_room_never_lowers_the_value(problem: Problem, more: float, week: int, nights: bool) -> None:
    """With promised cars, first their number and then the value: more room may let a promised car in instead."""
    roomier = (problem.room_nights if nights else problem.room_hours).copy()
    roomier[week % len(roomier)] += more
    changed = replace(problem, room_nights=roomier) if nights else replace(problem, room_hours=roomier)
    before, after = solve(problem, gap=0.0), solve(changed, gap=0.0)
    assert after.promised >= before.promised
    if after.promised == before.promised:
        assert after.value >= before.value - 1e-9


def test_knapsack_of_a_published_table() -> None:
    """Instance P01 of J. Burkardt's collection of 0/1 knapsack data (from memory): capacity 165, best profit 309."""
    weights = [23.0, 31, 29, 44, 53, 38, 63, 85, 89, 82]
    profits = [92.0, 57, 49, 68, 60, 43, 67, 84, 87, 72]
    found = solve(_problem([[profit] for profit in profits], weights, [165]), gap=0.0)
    assert (found.value, found.how) == (309, How.PROVEN)
    assert np.nonzero(found.weeks == 0)[0].tolist() == [0, 1, 2, 3, 5]


def test_knapsack_of_the_solvers_own_tutorial() -> None:
    """The knapsack of SciPy's user guide, "Mixed integer linear programming" (from memory): eight objects, 100 left."""
    sizes = [21.0, 11, 15, 9, 34, 25, 41, 52]
    values = [22.0, 12, 16, 10, 35, 26, 42, 53]
    found = solve(_problem([[value] for value in values], sizes, [100]), gap=0.0)
    assert np.nonzero(found.weeks == 0)[0].tolist() == [0, 1, 3, 4, 5]
    assert found.hours.tolist() == [100]


def test_plain_way_is_not_the_best_way() -> None:
    """Two small cars of the best rate block a large one that fills the week."""
    problem = _problem([[7], [10]], [3.5, 6], [6])
    assert by_worth_an_hour(problem).value == 7
    assert solve(problem, gap=0.0).value == 10


def test_promised_car_is_asked_whatever_it_is_worth_and_as_many_as_there_is_room_for() -> None:
    worth = [[50.0], [0.0], [1.0], [2.0]]
    problem = _problem(worth, [6, 3.5, 3.5, 3.5], [7.5], first=[False, True, True, True])
    found = solve(problem, gap=0.0)
    assert (found.promised, found.value) == (2, 3.0)
    assert found.weeks.tolist() == [OUT, OUT, 0, 0]


def test_promises_are_kept_where_the_plain_way_would_leave_one_out() -> None:
    """The first two promised cars each fit both weeks, the third only one of them."""
    worth = [[9.0, 8], [9.0, 8], [1.0, 0]]
    found = solve(_problem(worth, [6, 6, 9], [9, 12], first=[True, True, True]), gap=0.0)
    assert found.promised == 3
    assert found.weeks.tolist() == [1, 1, 0]


def test_bays_limit_as_hours_do() -> None:
    problem = _problem([[9.0], [8.0]], [6, 6], [40], nights=[1, 1], room_nights=[1])
    assert solve(problem, gap=0.0).weeks.tolist() == [0, OUT]


def test_nobody_to_ask_or_nowhere_is_an_empty_choice() -> None:
    for problem in (
        _problem([], [], [10]),
        _problem([[5.0]], [6], [10], open_=[False]),
        _problem([[]], [6], []),
    ):
        found = solve(problem)
        assert (found.value, found.bound, found.gap, found.how) == (0, 0, 0, How.PROVEN)
        assert (found.weeks == OUT).all()
        assert relaxed_bound(problem) == 0


def _large(seed: int, cars: int = 120, weeks: int = 6) -> Problem:
    dice = np.random.default_rng(seed)
    best = dice.uniform(0, weeks, cars)
    worth = dice.gamma(2, 8, cars)[:, None] * (1 - 0.02 * (np.arange(weeks) - best[:, None]) ** 2)
    kind = dice.choice(3, cars)
    return Problem(
        worth=worth,
        chance=dice.choice([0.4, 0.2, 0.08], cars),
        hours=np.array([3.5, 6.0, 9.5])[kind],
        nights=np.array([0.0, 0.5, 1.0])[kind],
        room_hours=dice.uniform(10, 25, weeks),
        room_nights=np.full(weeks, 3.0),
        first=dice.random(cars) < 0.04,
        open=np.ones(weeks, dtype=np.bool_),
    )


def test_larger_choice_is_within_its_gap_and_the_same_every_time() -> None:
    problem = _large(5)
    found = solve(problem, gap=5e-3, seconds=300)
    assert (found.how, found.gap <= 5e-3) == (How.PROVEN, True)
    assert found.value <= found.bound <= relaxed_bound(problem) + 1e-6
    assert found.weeks.tolist() == solve(problem, gap=5e-3, seconds=300).weeks.tolist()
    _require_feasible(problem, found)
    assert found.promised == problem.first.sum()
    assert by_worth_an_hour(problem).value < found.value


def test_no_further_car_fits_beside_a_choice() -> None:
    problem = _large(5)
    found = solve(problem, gap=1e-2)
    (hours, _), (room, _) = problem.loads, problem.rooms
    used = np.zeros(len(room), dtype=np.int64)
    for car, week in enumerate(found.weeks.tolist()):
        if week != OUT:
            used[week] += hours[car]
    nights_left = problem.room_nights - found.nights
    for car in np.nonzero(found.weeks == OUT)[0].tolist():
        fits = (used + hours[car] <= room) & (
            nights_left >= problem.chance[car] * problem.nights[car] + 1 / UNITS
        )
        assert not (fits & (problem.worth[car] > 0)).any()


def test_rounded_relaxation_stands_in_where_the_solver_finds_nothing_in_time(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    problem = _large(7)
    exact = solve(problem, gap=5e-3)
    nothing = SimpleNamespace(x=None, status=1, mip_dual_bound=None)
    monkeypatch.setattr("crm.care.winter_solve.milp", lambda *_args, **_options: nothing)
    found = solve(problem, gap=0.0)
    assert found.how is How.ROUNDED
    assert found.bound >= exact.bound - 1e-6
    assert 0.97 * exact.value < found.value <= found.bound
    assert found.promised == exact.promised
    _require_feasible(problem, found)


def test_rounded_relaxation_that_breaks_a_promise_claims_no_more_than_the_bound_without_them(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    problem = _problem([[9.0, 8], [9.0, 8], [1.0, 0]], [6, 6, 9], [9, 12], first=[True, True, True])
    real: Any = scipy_milp
    calls: list[int] = []

    def only_once(*args: object, **options: object) -> object:
        calls.append(1)
        if len(calls) > 1:
            return SimpleNamespace(x=None, status=1, mip_dual_bound=None)
        return real(*args, **options)

    monkeypatch.setattr("crm.care.winter_solve.milp", only_once)
    found = solve(problem, gap=0.0)
    assert len(calls) == 2
    assert found.promised == 2
    assert found.bound == relaxed_bound(problem)
    _require_feasible(problem, found)


def test_no_time_at_all_still_gives_a_choice_that_fits() -> None:
    problem = _large(11)
    found = solve(problem, gap=0.0, seconds=1e-6)
    assert found.how in (How.OUT_OF_TIME, How.ROUNDED)
    assert 0 < found.value <= found.bound
    _require_feasible(problem, found)


def test_branches_add_up() -> None:
    choices = [solve(_large(seed, 30, 3), gap=1e-2) for seed in range(3)]
    total = Total.of(choices)
    assert total.branches == 3
    assert total.value == sum(one.value for one in choices)
    assert total.bound == sum(one.bound for one in choices)
    assert total.worst_gap == max(one.gap for one in choices)
    assert total.gap == pytest.approx((total.bound - total.value) / total.value)
    assert Total.of([]) == Total(0, 0, 0, 0.0)
    assert Total.of([]).gap == 0


def test_gap_of_a_choice_worth_nothing() -> None:
    nothing = solve(_problem([], [], [10]))
    assert replace(nothing, bound=3.0).gap == inf


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"chance": np.array([0.4, 0.4])}, r"one entry for each car and one for each week"),
        ({"worth": np.array([[np.nan]])}, r"not finite"),
        ({"chance": np.array([0.0])}, r"a chance of coming"),
        ({"hours": np.array([0.0])}, r"hours of work"),
        ({"nights": np.array([-1.0])}, r"no less than no nights"),
    ],
)
def test_problem_that_cannot_be_meant_is_refused(change: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        replace(_problem([[5.0]], [6], [10]), **change)
