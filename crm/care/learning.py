"""Learning how long a product really lasts, from what was seen of its layers.

The shelf's life is a Weibull law. Before anything is seen, ln scale and ln shape are taken to lie round the
shelf's with the standard deviations of `SPREAD` (common practice, no source). What was seen moves them to the
posterior mode: with nothing seen it is the shelf itself, with much seen the maximum-likelihood estimate. The
uncertainty is the inverse of the curvature there. Nothing here changes a forecast: a person accepts figures.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, isfinite, log
from statistics import NormalDist
from typing import TypeAlias

import numpy as np

from crm.care.ascent import NoTop, Top, climb
from crm.care.censored import CensoredWeibull, Slopes
from crm.care.figures import Triple
from crm.care.life import STEEPEST_SHAPE, Life, Weibull
from crm.care.observed import LONGEST_AGE, Counts, Floats, Observations

GENTLEST_SHAPE = 0.05
"""Below this a law says nothing of lives: some are gone at once, others never."""

Spread: TypeAlias = tuple[float, float]
SPREAD: Spread = (0.30, 0.35)
"""How far a product may lie from its shelf: standard deviations of ln scale and of ln shape."""
_LEAST_SPREAD, _MOST_SPREAD = 1e-3, 100.0

_WORN = (log(-log(0.9)), log(-log(0.5)), log(-log(0.1)))
"""ln(-ln(1 - p)) of the 10th, 50th and 90th percentile."""
_TALLEST = 30.0
"""A start may take no seen age further up the clock than z = 30, whose hazard is 10 million million."""


class LearningError(ValueError):
    """Observations that do not tell how long a product lasts; the message says why."""


@dataclass(frozen=True, slots=True)
class Learned:
    """What the observations say of a product's life, in reference months.

    `window` holds the 10th, 50th and 90th percentiles, `errors` the standard error of the logarithm of each;
    `covariance` is that of (ln scale, ln shape). `log_likelihood` is that of the observations alone.
    """

    law: Weibull
    window: Triple
    errors: Triple
    covariance: tuple[tuple[float, float], tuple[float, float]]
    log_likelihood: float
    counts: Counts

    def between(self, confidence: float = 0.9) -> tuple[tuple[float, float], ...]:
        """For each of the three figures of the window the two between which it lies, with this confidence.

        Raises LearningError where the confidence does not lie between 0 and 1.
        """
        if not 0 < confidence < 1:
            raise LearningError("A confidence lies between 0 and 1.")
        reach = NormalDist().inv_cdf((1 + confidence) / 2)
        return tuple(
            (months * exp(-reach * error), months * exp(reach * error))
            for months, error in zip(self.window, self.errors, strict=True)
        )


def learn(shelf: Life | Weibull, observations: Observations, *, spread: Spread | None = SPREAD) -> Learned:
    """The life of a product from its shelf figures and what was seen of its layers.

    `spread` says how far the product may lie from the shelf; None forgets the shelf, and the answer is the
    maximum-likelihood estimate. Observations that say nothing at all leave exactly the shelf.

    The shape stays between `GENTLEST_SHAPE` and `STEEPEST_SHAPE` (or the shelf's own, if that lies beyond).
    Where many lives that agree to the day press it against a limit, its own uncertainty counts as none.

    Raises LearningError where the spread cannot be, or where without a shelf the observations leave the law
    open: all still whole, all gone at the first look, one age that fits all, or no order in them.
    """
    law = shelf.weibull if isinstance(shelf, Life) else shelf
    seen = CensoredWeibull(observations)
    limits = min(log(GENTLEST_SHAPE), log(law.shape)), max(log(STEEPEST_SHAPE), log(law.shape))
    if spread is None:
        _refuse_open(observations)
        top = _top(seen, [_start_of(observations)], limits)
        if top.held:
            raise LearningError(_NO_ORDER if top.at[1] < 0 else _ONE_AGE)
        return _learned(_law_at(top.at), top.covariance, seen, observations)
    _check(spread)
    if not seen.log_ages.size:
        return _learned(law, np.diag(np.square(spread)), seen, observations)
    prior = log(law.scale), log(law.shape)
    starts = [_within_reach(prior, seen.log_ages), _start_of(observations)]
    top = _top(_Posterior(seen, prior, spread), starts, limits)
    return _learned(_law_at(top.at), top.covariance, seen, observations)


def log_likelihood(law: Weibull, observations: Observations) -> float:
    """The logarithm of the probability of the observations under a law; exact lives count by their density.

    Lives in reference months; minus infinity where the law rules the observations out.
    """
    return CensoredWeibull(observations).slopes(log(law.scale), log(law.shape)).value


class _Posterior:
    """The log-likelihood and the normal prior on (ln scale, ln shape), less the prior's constant."""

    def __init__(self, seen: CensoredWeibull, prior: tuple[float, float], spread: Spread) -> None:
        self._seen, self._prior = seen, np.array(prior)
        self._precision: Floats = 1 / np.square(np.array(spread))

    def slopes(self, log_scale: float, log_shape: float) -> Slopes:
        off = np.array((log_scale, log_shape)) - self._prior
        value = -float(self._precision @ (off * off)) / 2
        prior = Slopes(value, -self._precision * off, -np.diag(self._precision))
        return self._seen.slopes(log_scale, log_shape) + prior


_STILL_WHOLE = "Every layer was still whole when it was last seen: how long they last is open."
_ALL_GONE = "Every layer was gone at the first look: how long they lasted is open."
_ONE_AGE = "One age fits every layer: how far lives lie apart is open."
_NO_ORDER = "Young layers are gone and old ones whole without any order: no law of lives fits."


def _refuse_open(observations: Observations) -> None:
    """Refuse what a likelihood alone cannot decide: it would rise for ever towards a law that is none."""
    if not (observations.low > 0).any():
        raise LearningError(_ALL_GONE if np.isfinite(observations.high).any() else _STILL_WHOLE)
    if observations.is_open.all():
        raise LearningError(_STILL_WHOLE)
    if observations.low.max() <= observations.high.min():
        raise LearningError(_ONE_AGE)


def _check(spread: Spread) -> None:
    if not all(isfinite(one) and _LEAST_SPREAD <= one <= _MOST_SPREAD for one in spread):
        raise LearningError(
            f"How far a product may lie from its shelf is a number from {_LEAST_SPREAD:g} to {_MOST_SPREAD:g}."
        )


def _top(
    hill: _Posterior | CensoredWeibull, starts: list[tuple[float, float]], limits: tuple[float, float]
) -> Top:
    """The highest of the tops above the starts: a shelf and observations far apart can have one each."""
    try:
        return max((climb(hill, start, limits) for start in starts), key=lambda top: top.slopes.value)
    except NoTop as error:
        raise LearningError("The observations do not settle on any life.") from error


def _start_of(observations: Observations) -> tuple[float, float]:
    """Where to look first without a shelf: shape 1, and lives as long as layers were seen, on the average."""
    low, high = observations.low, observations.high
    middle = np.where(np.isinf(high), low, (low + np.minimum(high, LONGEST_AGE)) / 2)
    seen = middle > 0
    if not seen.any():
        return 0.0, 0.0
    return log(float(np.average(middle[seen], weights=observations.weight[seen]))), 0.0


def _within_reach(place: tuple[float, float], log_ages: Floats) -> tuple[float, float]:
    """The shelf's own place, with a gentler shape where an age lies so far beyond it that numbers end."""
    beyond = float(log_ages.max()) - place[0]
    return (place[0], min(place[1], log(_TALLEST / beyond))) if beyond > 0 else place


def _law_at(at: tuple[float, float]) -> Weibull:
    return Weibull(shape=exp(at[1]), scale=exp(at[0]))


def _learned(law: Weibull, covariance: Floats, seen: CensoredWeibull, observations: Observations) -> Learned:
    """The answer, with the error of each figure: ln of a percentile is ln scale + x / shape."""
    low, likely, high = (_error(covariance, x / law.shape) for x in _WORN)
    first, last = covariance
    return Learned(
        law=law,
        window=law.window,
        errors=(low, likely, high),
        covariance=((float(first[0]), float(first[1])), (float(last[0]), float(last[1]))),
        log_likelihood=seen.slopes(log(law.scale), log(law.shape)).value,
        counts=observations.counts,
    )


def _error(covariance: Floats, reach: float) -> float:
    slope = np.array((1.0, -reach))
    return float(np.sqrt(slope @ covariance @ slope))
