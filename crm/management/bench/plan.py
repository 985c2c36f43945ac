"""Which car comes how often and for what, so that exactly so many layers are laid."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate
from random import Random

from crm.management.bench.works import FIRST, SMALLEST, WORKS, Work

REGULARS_EVERY = 5000
REGULAR_VISITS = 110
_SKEW = 1.3
"""Above 1: some cars come back more often than others."""


@dataclass(frozen=True, kw_only=True)
class Sizes:
    """How large the record of the bench is."""

    cars: int
    layers: int

    def __str__(self) -> str:
        return f"{self.cars:,} cars, {self.layers:,} layers"


def planned_visits(sizes: Sizes, dice: Random) -> list[list[Work]]:
    """The visits of every car in the order of time, by its place from 0 on.

    Every car comes once and is protected, as far as the layers go; one in five thousand, and always the first, comes
    more than a hundred times; the rest of the layers falls on cars that come back.
    """
    shares = list(accumulate(work.share for work in WORKS))
    plan: list[list[Work]] = [[] for _ in range(sizes.cars)]
    left = sizes.layers
    for visits in plan[::REGULARS_EVERY]:
        while len(visits) < REGULAR_VISITS and left > 0:
            left -= _add(visits, dice.choices(WORKS, cum_weights=shares)[0], left)
    for visits in plan:
        if not visits and left > 0:
            left -= _add(visits, dice.choice(FIRST), left)
    while left > 0:
        visits = plan[int(sizes.cars * dice.random() ** _SKEW)]
        left -= _add(visits, dice.choices(WORKS, cum_weights=shares)[0], left)
    return plan


def _add(visits: list[Work], work: Work, left: int) -> int:
    """Plan a visit, or a small one where the layers left would not do. Returns its count of layers."""
    if len(work.laid) > left:
        work = SMALLEST
    visits.append(work)
    return len(work.laid)
