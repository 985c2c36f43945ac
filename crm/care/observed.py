"""What was seen of layers: whole at one age, gone by another, so that lives lie between two bounds.

Ages are in reference months of wear (see `crm.care.life`), already divided by what each layer was worth when
it was laid, so that layers laid well and badly stand side by side.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf, isfinite, isnan
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats: TypeAlias = NDArray[np.float64]
Flags: TypeAlias = NDArray[np.bool_]

SHORTEST_AGE, LONGEST_AGE = 1e-6, 1e6
"""Reference months: what lies beyond is a slip of the pen, not a layer."""
LEAST_WEIGHT, MOST_WEIGHT = 1e-3, 1e6


class ObservationError(ValueError):
    """An observation that cannot be meant; the message says what to change."""


@dataclass(frozen=True, slots=True)
class Observation:
    """One layer: seen whole at `low` reference months (0: never), finished by `high` (inf: not yet seen so).

    Its life lies above `low` and at most at `high`; where both are equal, it ended exactly there. `weight` is
    how many layers it stands for: less than 1 where several places of one layer share it.
    """

    low: float
    high: float = inf
    weight: float = 1.0

    def __post_init__(self) -> None:
        if isnan(self.low) or isnan(self.high):
            raise ObservationError("An age is a number of months.")
        if not 0 <= self.low <= LONGEST_AGE:
            raise ObservationError(
                "A layer is seen whole at no age below nothing, nor after a million months."
            )
        if self.high < SHORTEST_AGE:
            raise ObservationError("A layer cannot be finished before it was laid.")
        if self.low > self.high:
            raise ObservationError("A layer cannot be finished before it was last seen whole.")
        if not (isfinite(self.weight) and LEAST_WEIGHT <= self.weight <= MOST_WEIGHT):
            raise ObservationError("A weight lies between a thousandth of a layer and a million layers.")


@dataclass(frozen=True, slots=True)
class Counts:
    """How many observations of each kind there are, and how many layers they stand for (`weight`)."""

    alive: int
    """Last seen whole, nothing later."""
    finished: int
    """Gone at the first look."""
    between: int
    """Seen whole once and gone at a later look."""
    exact: int
    """Ended on a known day."""
    weight: float

    @property
    def total(self) -> int:
        """All observations."""
        return self.alive + self.finished + self.between + self.exact


@dataclass(frozen=True, slots=True, eq=False)
class Observations:
    """Many observations as columns: `low`, `high` and `weight`, each of shape (n,), not to be written to.

    Every row means what an `Observation` means. Raises ObservationError where a row cannot be meant.
    """

    low: Floats
    high: Floats
    weight: Floats

    def __post_init__(self) -> None:
        if not self.low.shape == self.high.shape == self.weight.shape == (self.low.size,):
            raise ObservationError("The three columns of observations have to be of one length.")
        sound = (self.low >= 0) & (self.low <= LONGEST_AGE) & (self.high >= SHORTEST_AGE)
        sound &= (self.low <= self.high) & (self.weight >= LEAST_WEIGHT) & (self.weight <= MOST_WEIGHT)
        for at in np.flatnonzero(~sound)[:1]:
            Observation(float(self.low[at]), float(self.high[at]), float(self.weight[at]))

    @classmethod
    def of(cls, rows: Iterable[Observation]) -> Observations:
        """The columns of these observations, in their order."""
        table = np.array([(row.low, row.high, row.weight) for row in rows], dtype=np.float64).reshape(-1, 3)
        return cls(*(_column(values) for values in table.T))

    @classmethod
    def from_columns(cls, low: ArrayLike, high: ArrayLike, weight: ArrayLike | None = None) -> Observations:
        """Columns from anything like arrays, copied; without `weight` every row stands for one layer."""
        lows = _column(low)
        return cls(lows, _column(high), _column(np.ones_like(lows) if weight is None else weight))

    def __len__(self) -> int:
        return int(self.low.size)

    @property
    def is_exact(self) -> Flags:
        """Which rows ended on a known day."""
        return np.equal(self.low, self.high)

    @property
    def is_open(self) -> Flags:
        """Which rows were last seen whole, with nothing later."""
        return np.isinf(self.high)

    @property
    def counts(self) -> Counts:
        """How many rows of each kind."""
        exact, alive = self.is_exact, self.is_open
        finished = (self.low == 0) & ~alive
        between = ~(exact | alive | finished)
        return Counts(
            alive=int(np.count_nonzero(alive)),
            finished=int(np.count_nonzero(finished)),
            between=int(np.count_nonzero(between)),
            exact=int(np.count_nonzero(exact)),
            weight=float(self.weight.sum()),
        )


def _column(values: ArrayLike) -> Floats:
    column = np.array(values, dtype=np.float64)
    column.flags.writeable = False
    return column
