"""Which car in which week: the choice of invitations that spares most, with a bound on what any choice could.

    maximise    sum of chance x worth over the invitations
    so that     a car is asked for one week at most, and in every week the expected hands-on hours and bay
                nights (chance x the package's) stay within the room of the week

Promised cars come first: as many of them are asked as there is room for, and only then the worth decides. It is
a generalised assignment problem. Its linear relaxation, in which cars may be split, is never worth less than the
best choice. Where that relaxation, rounded, is near enough already it is kept. Otherwise the mixed-integer solver
of SciPy (HiGHS) searches, first among the pairs of car and week that the prices of the relaxation speak for, then
among all of them, until the asked gap is proven.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf
from time import perf_counter
from typing import Any

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import coo_array, csr_array, vstack

from crm.care.winter_fill import by_density, by_profit, by_worth_an_hour, filled
from crm.care.winter_problem import OUT, UNITS, Choice, Floats, How, Problem, Wholes, choice, pairs

_NOISE = 1e-6
_STRICTER = 0.7
"""What the first search is asked for, as a share of the gap: its own bound is lower than that of all columns."""
_LIKELY, _LIKELY_A_CAR = 100, 2
"""How many columns the first search has: a car goes into one of few weeks."""


def solve(problem: Problem, *, gap: float = 5e-3, seconds: float = 20.0) -> Choice:
    """The best choice to within `gap` of its value (0: the best there is), or the best found in `seconds`.

    The same problem gives the same choice, except where the time runs out. In a hard search HiGHS writes a line of
    its own ("... tmpSolver.run();") to the standard output whenever it repairs a choice: no option that SciPy hands
    on turns it off, and turning aside the output of the whole process would take that of other threads with it.
    """
    until = perf_counter() + seconds
    program = _Program.of(problem)
    if not len(program.cars):
        nobody = np.full(len(problem.chance), OUT)
        return choice(problem, nobody, bound=0.0, how=How.PROVEN)
    program = program.with_promised(_most_promised(program, seconds / 2))
    best, profit = _rounded(program)
    if _enough(best, program, gap):
        return replace(best, how=How.PROVEN)
    likely = program.narrowed(profit)
    if likely is not None:
        found = _searched(likely, likely.gains, gap=gap * _STRICTER, seconds=(until - perf_counter()) / 2)
        best = _with_found(best, likely, found, best.bound)
        if _enough(best, program, gap):
            return replace(best, how=How.PROVEN)
    found = _searched(program, program.gains, gap=gap, seconds=until - perf_counter())
    if found.x is not None:
        bound = min(best.bound, _bound_of(found))
        best = replace(_with_found(best, program, found, bound), how=How.OUT_OF_TIME)
        return replace(best, how=How.PROVEN) if found.status == 0 or best.gap <= gap else best
    # The bound of the relaxation holds for as many promised cars as there is room for.
    return best if best.promised >= program.promised else replace(best, bound=relaxed_bound(problem))


def relaxed_bound(problem: Problem) -> float:
    """The value of the linear relaxation, without regard to promises: no choice exceeds it."""
    program = _Program.of(problem)
    return float(-_relaxed(program).fun) if len(program.cars) else 0.0


@dataclass(frozen=True, slots=True, eq=False)
class _Program:
    """The problem as rows and columns: a column for every pair of car and week, rows in `matrix` with `most`."""

    problem: Problem
    cars: Wholes
    weeks: Wholes
    gains: Floats
    matrix: csr_array
    most: Floats
    promised: int = 0

    @classmethod
    def of(cls, problem: Problem) -> _Program:
        cars, weeks = pairs(problem)
        across = np.arange(len(cars))
        (hours, nights), (room_hours, room_nights) = problem.loads, problem.rooms
        shape_cars, shape_weeks = (len(problem.chance), len(cars)), (len(room_hours), len(cars))
        rows = [
            coo_array((np.ones(len(cars)), (cars, across)), shape=shape_cars),
            coo_array((hours[cars] / UNITS, (weeks, across)), shape=shape_weeks),
            coo_array((nights[cars] / UNITS, (weeks, across)), shape=shape_weeks),
        ]
        most = np.concatenate((np.ones(len(problem.chance)), room_hours / UNITS, room_nights / UNITS))
        return cls(problem, cars, weeks, problem.gains[cars, weeks], csr_array(vstack(rows)), most)

    @property
    def first(self) -> Floats:
        """1 for every column of a promised car."""
        return self.problem.first[self.cars].astype(float)

    def with_promised(self, least: int) -> _Program:
        """The same with at least so many promised cars asked."""
        if not least:
            return self
        matrix = csr_array(vstack([self.matrix, csr_array(-self.first[None, :])]))
        most = np.append(self.most, -float(least))
        return _Program(self.problem, self.cars, self.weeks, self.gains, matrix, most, least)

    def narrowed(self, profit: Floats) -> _Program | None:
        """The same with the likeliest columns only, by what they gain over all prices; None where that is all."""
        most = _LIKELY_A_CAR * len(self.problem.chance) + _LIKELY
        if most >= len(profit):
            return None
        likeliest = np.argpartition(-profit, most)[:most]
        columns = np.union1d(likeliest, np.nonzero(self.first)[0])
        matrix = csr_array(self.matrix[:, columns])
        cars, weeks, gains = self.cars[columns], self.weeks[columns], self.gains[columns]
        return _Program(self.problem, cars, weeks, gains, matrix, self.most, self.promised)

    def chosen(self, x: Floats) -> Wholes:
        """The week of every car, from the columns that are wholly taken."""
        weeks = np.full(len(self.problem.chance), OUT)
        taken = x > 1 - _NOISE
        weeks[self.cars[taken]] = self.weeks[taken]
        return weeks


def _most_promised(program: _Program, seconds: float) -> int:
    """How many promised cars can be asked at most."""
    wanted = len(np.unique(program.cars[program.first > 0]))
    plain = by_worth_an_hour(program.problem).promised
    if plain == wanted:
        return wanted
    found = _searched(program, program.first, gap=0.0, seconds=seconds)
    return plain if found.x is None else max(plain, round(float(program.first @ np.round(found.x))))


def _searched(program: _Program, gains: Floats, *, gap: float, seconds: float) -> Any:
    found = milp(
        -gains,
        integrality=np.ones(len(gains), dtype=np.int64),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(program.matrix, -inf, program.most),
        options={"mip_rel_gap": gap, "time_limit": max(seconds, 0.0)},
    )
    if found.x is not None:
        found.x = np.round(found.x)
    return found


def _relaxed(program: _Program) -> Any:
    matrix: Any = program.matrix  # it takes sparse ones, though its types do not say so
    return linprog(-program.gains, A_ub=matrix, b_ub=program.most, bounds=(0, None), method="highs")


def _rounded(program: _Program) -> tuple[Choice, Floats]:
    """The better of the plain way and of the relaxation: its whole cars kept, the rest filled in.

    Filled in by what a car gains over the price of its room, which the relaxation tells for every week. With it
    comes what every column gains over the prices of its week and its car.
    """
    problem, linear = program.problem, _relaxed(program)
    plain = by_worth_an_hour(problem)
    if linear.x is None:
        bound = float(problem.gains.max(axis=1).clip(0).sum())
        return choice(problem, plain.weeks, bound=bound, how=How.ROUNDED), program.gains
    prices = linear.ineqlin.marginals
    of_weeks = np.where(np.arange(len(prices)) < len(problem.chance), 0.0, prices)
    wanted = by_profit(problem, program.gains + program.matrix.T @ of_weeks)
    kept = filled(problem, program.chosen(linear.x), wanted)
    bound = float(-linear.fun)
    tries = [choice(problem, weeks, bound=bound, how=How.ROUNDED) for weeks in (kept, plain.weeks)]
    return _best(tries), program.gains + program.matrix.T @ prices


def _with_found(best: Choice, program: _Program, found: Any, bound: float) -> Choice:
    """The better of a choice and of one that was found, with whoever still fits beside it."""
    if found.x is None:
        return best
    problem = program.problem
    fuller = filled(problem, program.chosen(found.x), by_density(problem))
    best = _best([choice(problem, fuller, bound=bound, how=How.ROUNDED), best])
    return replace(best, bound=max(bound, best.value))


def _bound_of(found: Any) -> float:
    bound = found.mip_dual_bound
    return inf if bound is None or not np.isfinite(bound) else -float(bound)


def _enough(best: Choice, program: _Program, gap: float) -> bool:
    return best.promised >= program.promised and best.gap <= gap


def _best(choices: Sequence[Choice]) -> Choice:
    return max(choices, key=lambda one: (one.promised, one.value))
