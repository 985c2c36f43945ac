"""Learning from many layers against a well-known survival library, in the same run."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from math import inf
from statistics import median
from time import process_time
from typing import Any

import numpy as np

from crm.care.learning import learn
from crm.care.life import Life, Weibull
from crm.care.observed import Observations

SEED = 20_260_504
LOOKS = 3
TRUTH = Weibull(shape=2.5, scale=20.0)
SHELF = Life(12, 18, 30)
"""What the search is started with; the answer does not depend on it."""
RUNS = 5
TIGHT = {"ftol": 1e-16, "gtol": 1e-12}
"""How far the library's search has to go for its last digits."""


class NoLibrary(Exception):
    """The library to compare with is not installed."""


@dataclass(frozen=True)
class Fit:
    """One way of finding the law: the law, its log-likelihood and the median seconds of processor time."""

    law: Weibull
    log_likelihood: float
    seconds: float


@dataclass(frozen=True)
class Fitted:
    """Both ways on the same rows; the library as it comes, and searching further."""

    rows: int
    ours: Fit
    library: Fit
    tight: Fit

    @property
    def ratio(self) -> float:
        """How many times as long the library takes, as it comes."""
        return self.library.seconds / self.ours.seconds

    def apart(self, other: Fit) -> float:
        """The larger relative difference of scale and shape from ours."""
        one, two = self.ours.law, other.law
        return max(abs(two.scale / one.scale - 1), abs(two.shape / one.shape - 1))


def looked_at(rows: int) -> Observations:
    """So many layers of one product, each looked at three times on days of its own; always the same ones."""
    dice = np.random.default_rng(SEED)
    lives = TRUTH.scale * dice.weibull(TRUTH.shape, rows)
    looks = np.sort(dice.uniform(0, 2 * TRUTH.scale, (rows, LOOKS)), axis=1)
    bounds = np.column_stack((np.zeros(rows), looks, np.full(rows, inf)))
    passed, each = (lives[:, None] > bounds).sum(axis=1), np.arange(rows)
    return Observations.from_columns(bounds[each, passed - 1], bounds[each, passed])


def fitted(rows: int) -> Fitted:
    """Find the likeliest law of so many layers by ours and by the library, in turn.

    Raises NoLibrary where that is not installed, and LearningError where so few rows leave the law open.
    """
    try:
        fitter = import_module("lifelines").WeibullFitter
    except ImportError as error:
        raise NoLibrary(
            "The library to compare with is not installed: it comes with requirements-dev.txt."
        ) from error
    seen = looked_at(rows)

    def by_library(**options: Any) -> tuple[Weibull, float]:
        found = fitter().fit_interval_censoring(seen.low, seen.high, **options)
        return Weibull(float(found.rho_), float(found.lambda_)), float(found.log_likelihood_)

    def by_us() -> tuple[Weibull, float]:
        found = learn(SHELF, seen, spread=None)
        return found.law, found.log_likelihood

    ways = (by_us, by_library, lambda: by_library(fit_options=TIGHT))
    ours, library, tight = _in_turn(*ways)
    return Fitted(rows, ours, library, tight)


def _in_turn(*ways: Callable[[], tuple[Weibull, float]]) -> list[Fit]:
    """Each way once to warm up, then all of them in turn, so that a busy machine slows all alike."""
    answers, taken = [way() for way in ways], [list[float]() for _ in ways]
    for _ in range(RUNS):
        for way, times in zip(ways, taken, strict=True):
            started = process_time()
            way()
            times.append(process_time() - started)
    return [Fit(law, value, median(times)) for (law, value), times in zip(answers, taken, strict=True)]
