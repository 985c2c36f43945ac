"""Choices without a search: by worth for an hour, and from the linear relaxation.

They are what the exact choice is measured against, and what stands in where the solver runs out of time.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import inf

import numpy as np

from crm.care.winter_problem import OUT, Choice, Floats, How, Problem, Wholes, choice, pairs


def by_worth_an_hour(problem: Problem) -> Choice:
    """The plain way: promised cars, then the most worth for an hour of work, each while there is room.

    Its bound is infinite. The chance of coming is in the gain and in the load alike, so it plays no part.
    """
    nobody = np.full(len(problem.chance), OUT)
    return choice(problem, filled(problem, nobody, by_density(problem)), bound=inf, how=How.ROUNDED)


def by_density(problem: Problem) -> list[tuple[int, int]]:
    """Cars with weeks, promised ones first, then by worth for an hour, the most first."""
    cars, weeks = pairs(problem)
    return _in_order(problem, cars, weeks, problem.worth[cars, weeks] / problem.hours[cars])


def by_profit(problem: Problem, profit: Floats) -> list[tuple[int, int]]:
    """Cars with weeks, promised ones first, then by what they gain over the price of their room."""
    return _in_order(problem, *pairs(problem), profit)


def filled(problem: Problem, chosen: Wholes, wanted: Iterable[tuple[int, int]]) -> Wholes:
    """The choice with every further pair taken that still fits, in the order given."""
    (hours, nights), (room_hours, room_nights) = problem.loads, problem.rooms
    asked = np.nonzero(chosen != OUT)[0]
    np.subtract.at(room_hours, chosen[asked], hours[asked])
    np.subtract.at(room_nights, chosen[asked], nights[asked])
    fuller, left_hours, left_nights = chosen.tolist(), room_hours.tolist(), room_nights.tolist()
    need_hours, need_nights = hours.tolist(), nights.tolist()
    for car, week in wanted:
        if (
            fuller[car] == OUT
            and need_hours[car] <= left_hours[week]
            and need_nights[car] <= left_nights[week]
        ):
            fuller[car] = week
            left_hours[week] -= need_hours[car]
            left_nights[week] -= need_nights[car]
    return np.array(fuller, dtype=np.int64)


def _in_order(problem: Problem, cars: Wholes, weeks: Wholes, worth: Floats) -> list[tuple[int, int]]:
    order = np.lexsort((weeks, cars, -worth, ~problem.first[cars]))
    return list(zip(cars[order].tolist(), weeks[order].tolist(), strict=True))
