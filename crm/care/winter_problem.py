"""What the winter plan chooses from, and what a choice is: cars, weeks, loads and room as arrays.

Loads are counted in thousandths of an hour or a night, rounded up, and room rounded down, so that no rounding
fills a week too far.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from math import inf
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Wholes: TypeAlias = NDArray[np.int64]

OUT = -1
"""In `Choice.weeks`: not asked."""
UNITS = 1000
"""Loads and room are whole numbers of thousandths."""
_NOISE = 1e-6


class How(StrEnum):
    """How a choice was come by."""

    PROVEN = "proven"
    """Within the asked gap of the best."""
    OUT_OF_TIME = "out_of_time"
    """The best that was found in the time."""
    ROUNDED = "rounded"
    """The solver found nothing in the time: put together by worth for each hour and from the relaxation."""


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """What to choose from, for n cars and W weeks.

    `worth` (n, W): what a visit in that week is worth, in any unit; nothing or less keeps the car out of the week.
    `chance` (n,): that the car comes when asked, over 0 to 1. `hours` and `nights` (n,): of its package.
    `room_hours` and `room_nights` (W,): what is left to give; a week without room is 0 or less. `first` (n,): cars
    that were promised. `open` (W,): weeks into which anybody may be asked at all. Raises ValueError where shapes
    do not fit.
    """

    worth: Floats
    chance: Floats
    hours: Floats
    nights: Floats
    room_hours: Floats
    room_nights: Floats
    first: NDArray[np.bool_]
    open: NDArray[np.bool_]

    def __post_init__(self) -> None:
        cars, weeks = self.worth.shape
        by_car = (self.chance, self.hours, self.nights, self.first)
        by_week = (self.room_hours, self.room_nights, self.open)
        if any(row.shape != (cars,) for row in by_car) or any(row.shape != (weeks,) for row in by_week):
            raise ValueError("A winter plan needs one entry for each car and one for each week.")
        if not all(np.isfinite(row).all() for row in (self.worth, *by_car, *by_week)):
            raise ValueError("A winter plan cannot reckon with numbers that are not finite.")
        if (
            ((self.chance <= 0) | (self.chance > 1)).any()
            or (self.hours <= 0).any()
            or (self.nights < 0).any()
        ):
            raise ValueError("A car needs a chance of coming, hours of work, and no less than no nights.")

    @property
    def loads(self) -> tuple[Wholes, Wholes]:
        """Expected thousandths of hours and of nights of each car, rounded up."""
        return _up(self.chance * self.hours), _up(self.chance * self.nights)

    @property
    def rooms(self) -> tuple[Wholes, Wholes]:
        """Thousandths of hours and of nights to give in each week, rounded down; none in a closed one."""
        rooms = (np.where(self.open, room, 0.0) for room in (self.room_hours, self.room_nights))
        hours, nights = (np.floor(np.maximum(room, 0.0) * UNITS + _NOISE).astype(np.int64) for room in rooms)
        return hours, nights

    @property
    def gains(self) -> Floats:
        """Chance times worth, (n, W)."""
        return self.chance[:, None] * self.worth


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """The week of every car (n,), `OUT` for none; its value, and the most that any choice could reach.

    `bound` holds for choices that ask as many promised cars (`promised`) as this one. `hours` and `nights` (W,):
    expected, of the cars asked.
    """

    weeks: Wholes
    value: float
    bound: float
    promised: int
    hours: Floats
    nights: Floats
    how: How

    @property
    def gap(self) -> float:
        """By how much of its value the choice may fall short of the best; 0 is proven best."""
        short = self.bound - self.value
        return 0.0 if short <= 0 else short / self.value if self.value > 0 else inf


@dataclass(frozen=True, slots=True)
class Total:
    """The choices of several branches together; each is solved by itself, since cars do not change branch."""

    branches: int
    value: float
    bound: float
    worst_gap: float

    @classmethod
    def of(cls, choices: Iterable[Choice]) -> Total:
        """Sums of values and bounds, and the widest gap of any branch."""
        found = list(choices)
        value, bound = sum(one.value for one in found), sum(one.bound for one in found)
        return cls(len(found), value, bound, max((one.gap for one in found), default=0.0))

    @property
    def gap(self) -> float:
        """Of the whole."""
        return max(self.bound - self.value, 0.0) / self.value if self.value > 0 else 0.0


def pairs(problem: Problem) -> tuple[Wholes, Wholes]:
    """Every car and week that can go together at all, as two arrays of places."""
    (hours, nights), (room_hours, room_nights) = problem.loads, problem.rooms
    fits = (hours[:, None] <= room_hours) & (nights[:, None] <= room_nights) & problem.open
    cars, weeks = np.nonzero(fits & ((problem.worth > 0) | problem.first[:, None]))
    return cars, weeks


def choice(problem: Problem, chosen: Wholes, *, bound: float, how: How) -> Choice:
    """The choice with these weeks, added up."""
    asked = np.nonzero(chosen != OUT)[0]
    weeks = chosen[asked]
    count = len(problem.room_hours)
    value = float(problem.gains[asked, weeks].sum())
    load = problem.chance[asked]
    return Choice(
        weeks=chosen,
        value=value,
        bound=max(bound, value),
        promised=int(problem.first[asked].sum()),
        hours=np.bincount(weeks, load * problem.hours[asked], count).astype(np.float64),
        nights=np.bincount(weeks, load * problem.nights[asked], count).astype(np.float64),
        how=how,
    )


def _up(load: Floats) -> Wholes:
    return np.ceil(load * UNITS - _NOISE).astype(np.int64)
