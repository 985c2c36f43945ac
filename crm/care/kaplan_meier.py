"""The share of layers left where every end is known to the day or not yet come: Kaplan and Meier's table.

S is the product of (1 - d / n) over the ages at which layers ended: d ended of n that were still watched.
Kaplan and Meier, J. Am. Stat. Assoc. 53 (1958) 457-481 (from memory). A layer last seen whole at an age at
which others ended was still watched then.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import exp, log, sqrt
from statistics import NormalDist

import numpy as np

from crm.care.observed import ObservationError, Observations


class Transform(StrEnum):
    """On which scale the bounds lie evenly round the share. The same data have different bounds on each."""

    LOG = "log"
    """ln S; the upper bound is held at 1."""
    LOG_LOG = "log-log"
    """ln(-ln S)."""


@dataclass(frozen=True, slots=True)
class Row:
    """One age, in reference months, at which layers ended.

    `watched` layers were still watched just before, `ended` of them ended; `left` is the share still there,
    `error` its standard error by Greenwood's formula, `low` and `high` its bounds. Where none is left the
    formula has no answer, and the three are None.
    """

    age: float
    watched: float
    ended: float
    left: float
    error: float | None
    low: float | None
    high: float | None


def kaplan_meier(
    observations: Observations, *, transform: Transform = Transform.LOG, confidence: float = 0.95
) -> tuple[Row, ...]:
    """The table of the shares left, a row for every age at which layers ended, young to old.

    Raises ObservationError where a life is only known to lie between two ages (`crm.care.turnbull` has an
    answer for those), and where the confidence does not lie between 0 and 1.
    """
    if not (observations.is_exact | observations.is_open).all():
        raise ObservationError("This table needs the day on which each layer ended, or none at all.")
    if not 0 < confidence < 1:
        raise ObservationError("A confidence lies between 0 and 1.")
    reach = NormalDist().inv_cdf((1 + confidence) / 2)
    ages, at = np.unique(observations.low, return_inverse=True)
    seen = np.bincount(at, observations.weight)
    ended = np.bincount(at, observations.weight * observations.is_exact)
    watched = np.cumsum(seen[::-1])[::-1]
    rows, left, spread = [], 1.0, 0.0
    for place in np.flatnonzero(ended):
        n, d = float(watched[place]), float(ended[place])
        rest = n - d if place < ages.size - 1 else float(seen[place]) - d
        left *= rest / n
        if rest > 0:
            spread += d / (n * rest)
            low, high = _bounds(left, sqrt(spread), reach, transform)
            rows.append(Row(float(ages[place]), n, d, left, left * sqrt(spread), low, high))
        else:
            rows.append(Row(float(ages[place]), n, d, 0.0, None, None, None))
    return tuple(rows)


def median(rows: tuple[Row, ...]) -> float | None:
    """The first age at which no more than half is left; None where the table ends before."""
    return next((row.age for row in rows if row.left <= 0.5), None)


def _bounds(left: float, relative: float, reach: float, transform: Transform) -> tuple[float, float]:
    """The bounds of a share; `relative` is the standard error of its logarithm."""
    if transform is Transform.LOG:
        return left * exp(-reach * relative), min(left * exp(reach * relative), 1.0)
    off = reach * relative / abs(log(left))
    return left ** exp(off), left ** exp(-off)
