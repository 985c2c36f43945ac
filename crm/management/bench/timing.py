"""Timing things in turn, so that a busy machine slows all of them alike."""

from __future__ import annotations

import gc
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median
from time import perf_counter

WARM_UP = 3


@dataclass(frozen=True)
class Timing:
    """How long one thing took, run after run, in milliseconds."""

    runs: tuple[float, ...]

    @property
    def median(self) -> float:
        return median(self.runs)

    @property
    def least(self) -> float:
        return min(self.runs)

    @property
    def most(self) -> float:
        return max(self.runs)


def in_turn(things: Sequence[Callable[[], object]], *, runs: int) -> list[Timing]:
    """Do each thing once, then each again, `runs` times after a warm-up that is not counted."""
    taken: list[list[float]] = [[] for _ in things]
    for thing in things:
        for _ in range(WARM_UP):
            thing()
    for _ in range(runs):
        for place, thing in enumerate(things):
            gc.collect()
            started = perf_counter()
            thing()
            taken[place].append((perf_counter() - started) * 1000)
    return [Timing(tuple(times)) for times in taken]
