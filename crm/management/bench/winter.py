"""The winter plan: of one studio by the exact search, and of a chain branch by branch, against the plain way."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from time import perf_counter

from crm.care.winter_fill import by_worth_an_hour
from crm.care.winter_plan import prepared, told
from crm.care.winter_problem import Choice, How, Problem
from crm.care.winter_round import Plan
from crm.care.winter_solve import solve
from crm.management.bench.winter_cars import LAYERS_A_CAR, followed, made_up_branch

SEED = 20_261_101
STUDIO_GAP, BRANCH_GAP = 5e-3, 1e-2
STUDIO_SECONDS, BRANCH_SECONDS = 4.0, 20.0
"""Longest search of the one studio, and of one branch."""
BRANCH_CARS = 480
MOST_WORKERS = 2


@dataclass(frozen=True)
class Season:
    """One branch: seconds on the wall for each part, the plan in figures, and the plain way beside it."""

    cars: int
    weeks: int
    layers: int
    curves_s: float
    worth_s: float
    solve_s: float
    words_s: float
    asked: int
    candidates: int
    value: float
    bound: float
    gap: float
    how: How
    plain_value: float
    plain_s: float
    over: float
    """By how many hours or nights the fullest week is over its room; 0 where none is."""
    reasons: int
    """Cars with a reason in words."""

    @property
    def ratio(self) -> float:
        """The plan's value against that of the plain way."""
        return self.value / self.plain_value if self.plain_value else 1.0


@dataclass(frozen=True)
class Chain:
    """Every branch, and the seconds on the wall with so many processes."""

    seasons: tuple[Season, ...]
    seconds: float
    workers: int

    @property
    def cars(self) -> int:
        return sum(season.cars for season in self.seasons)

    @property
    def value(self) -> float:
        return sum(season.value for season in self.seasons)

    @property
    def bound(self) -> float:
        return sum(season.bound for season in self.seasons)

    @property
    def plain_value(self) -> float:
        return sum(season.plain_value for season in self.seasons)

    @property
    def gap(self) -> float:
        return (self.bound - self.value) / self.value if self.value else 0.0

    @property
    def worst_gap(self) -> float:
        return max(season.gap for season in self.seasons)


def one_season(
    seed: int,
    cars: int,
    weeks: int,
    gap: float,
    *,
    seconds: float = BRANCH_SECONDS,
    all_may_be_asked: bool = False,
) -> Season:
    """Plan one made-up branch; making it up is outside the times."""
    season, parked = made_up_branch(seed, cars, weeks, all_may_be_asked=all_may_be_asked)
    started = perf_counter()
    candidates = followed(parked)
    curves = perf_counter()
    known = prepared(season, candidates)
    worth = perf_counter()
    choice = solve(known.problem, gap=gap, seconds=seconds)
    solved = perf_counter()
    plan = told(season, known, choice)
    spoken = perf_counter()
    plain = by_worth_an_hour(known.problem)
    done = perf_counter()
    return Season(
        cars=cars,
        weeks=weeks,
        layers=cars * LAYERS_A_CAR,
        curves_s=curves - started,
        worth_s=worth - curves,
        solve_s=solved - worth,
        words_s=spoken - solved,
        asked=len(plan.calls),
        candidates=len(known.wanted),
        value=choice.value,
        bound=choice.bound,
        gap=choice.gap,
        how=choice.how,
        plain_value=plain.value,
        plain_s=done - spoken,
        over=_over(known.problem, choice),
        reasons=_reasons(plan),
    )


def studio_season(cars: int, weeks: int) -> Season:
    """One studio whose cars may all be asked, to within half a per cent of the best."""
    return one_season(SEED, cars, weeks, STUDIO_GAP, seconds=STUDIO_SECONDS, all_may_be_asked=True)


def chain_season(branches: int, weeks: int, *, cars: int = BRANCH_CARS, workers: int | None = None) -> Chain:
    """So many branches, each to within one per cent of the best, on up to two cores."""
    workers = workers or min(MOST_WORKERS, branches, len(os.sched_getaffinity(0)))
    started = perf_counter()
    seeds = range(SEED + 1, SEED + 1 + branches)
    if workers == 1:
        seasons = [one_season(seed, cars, weeks, BRANCH_GAP) for seed in seeds]
    else:
        with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
            seasons = list(pool.map(_branch, ((seed, cars, weeks) for seed in seeds), chunksize=5))
    return Chain(tuple(seasons), perf_counter() - started, workers)


def wrong(seasons: Iterable[Season]) -> str:
    """What cannot be right in a plan, as a sentence; empty where nothing is."""
    for season in seasons:
        if season.over > 0:
            return f"A week is over its room by {season.over:.3f}."
        if season.reasons != season.cars:
            return f"Of {season.cars} cars {season.reasons} have a reason."
        if season.value > season.bound * (1 + 1e-9):
            return "A plan is worth more than its bound."
    return ""


def _branch(of: tuple[int, int, int]) -> Season:
    seed, cars, weeks = of
    return one_season(seed, cars, weeks, BRANCH_GAP)


def _over(problem: Problem, choice: Choice) -> float:
    hours = (choice.hours - problem.room_hours).max(initial=0.0)
    return float(max(hours, (choice.nights - problem.room_nights).max(initial=0.0), 0.0).round(6))


def _reasons(plan: Plan) -> int:
    words: Sequence[str] = [one.words for one in plan.calls] + [one.words for one in plan.left]
    return sum(bool(one) for one in words)
