"""The log-likelihood of a Weibull law where lives are only known to lie between two ages, with its slopes.

With a = ln scale, b = ln shape and z(t) = shape x (ln t - a), the worn share at age t is 1 - exp(-exp(z)).
A life between L and R has the probability exp(-u(L)) - exp(-u(R)), where u = exp(z). Its logarithm is

    -u(L) + g(ln(u(R) - u(L))),    g(y) = ln(1 - exp(-exp(y))),

which loses no digits where the bounds nearly meet or lie far out. An exact life has b + z - u - ln t. The
derivatives follow by hand; see Klein and Moeschberger, Survival Analysis (2003), section 3.5, for the terms
of the likelihood (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from crm.care.observed import Floats, Observations

_LEAST, _MOST = 1e-300, 1e300


@dataclass(frozen=True, slots=True)
class Slopes:
    """A value with its gradient, shape (2,), and Hessian, shape (2, 2), in (ln scale, ln shape)."""

    value: float
    gradient: Floats
    hessian: Floats

    def __add__(self, other: Slopes) -> Slopes:
        return Slopes(self.value + other.value, self.gradient + other.gradient, self.hessian + other.hessian)


class CensoredWeibull:
    """The log-likelihood of observations (times their weights) as a function of (ln scale, ln shape)."""

    def __init__(self, observations: Observations) -> None:
        low, high, weight = observations.low, observations.high, observations.weight
        alive, exact = low > 0, observations.is_exact
        between = ~exact & ~observations.is_open
        self._alive, self._alive_weight = np.log(low[alive]), weight[alive]
        self._exact, self._exact_weight = np.log(low[exact]), weight[exact]
        self._high, self._weight = np.log(high[between]), weight[between]
        self._width = _log_ratio(low[between], high[between])
        self.log_ages: Floats = np.concatenate((self._alive, self._high))
        """ln of every finite age that some row names."""

    def slopes(self, log_scale: float, log_shape: float) -> Slopes:
        """The log-likelihood with its slopes; minus infinity (and slopes that say nothing) beyond the numbers."""
        with np.errstate(over="ignore", invalid="ignore"):
            shape = float(np.exp(log_shape))
            alive, between = self._of_alive(log_scale, shape), self._of_between(log_scale, shape)
            return alive + self._of_exact(log_scale, log_shape) + between

    def _of_alive(self, log_scale: float, shape: float) -> Slopes:
        """-u at every age at which a layer was still there."""
        z = shape * (self._alive - log_scale)
        u = self._alive_weight * np.exp(z)
        here, once, twice = float(u.sum()), float(u @ z), float(u @ (z * z))
        hessian = _symmetric(-shape * shape * here, shape * (here + once), -once - twice)
        return Slopes(-here, np.array([shape * here, -once]), hessian)

    def _of_exact(self, log_scale: float, log_shape: float) -> Slopes:
        """What exact ages add: b + z - ln t; their -u is among the others."""
        shape = float(np.exp(log_shape))
        ages, weights = self._exact, self._exact_weight
        weight, z = float(weights.sum()), float(weights @ (shape * (ages - log_scale)))
        value = weight * log_shape + z - float(weights @ ages)
        return Slopes(value, np.array([-shape * weight, weight + z]), _symmetric(0.0, -shape * weight, z))

    def _of_between(self, log_scale: float, shape: float) -> Slopes:
        """g(y), where y = z(R) + ln(1 - exp(-v)) and v = shape x ln(R / L)."""
        z = shape * (self._high - log_scale)
        short, q, bent = _worn(shape * self._width)
        y, steep = z + short, z + q
        worn, first, second = _worn(np.exp(y))
        first, second = self._weight * first, self._weight * second
        sum_first, sum_second = float(first.sum()), float(second.sum())
        gradient = np.array([-shape * sum_first, first @ steep])
        mixed = -shape * (sum_first + float(second @ steep))
        last = float(second @ (steep * steep) + first @ (z + bent))
        value = float(self._weight @ np.minimum(y, worn))
        return Slopes(value, gradient, _symmetric(shape * shape * sum_second, mixed, last))


def _log_ratio(low: Floats, high: Floats) -> Floats:
    """ln(high / low) without loss where they nearly meet; inf where low is 0."""
    with np.errstate(divide="ignore", over="ignore"):
        return np.where(high < 2 * low, np.log1p((high - low) / low), np.log(high) - np.log(low))


def _worn(x: Floats) -> tuple[Floats, Floats, Floats]:
    """The logarithm of 1 - exp(-x) for x > 0, and its first and second derivative by ln x.

    They are q = x / (exp(x) - 1) and q (1 - q - x).
    """
    x = np.clip(x, _LEAST, _MOST)
    left = np.expm1(-x)
    q = x * (1 + left) / -left
    return np.log(-left), q, q * (1 - q - x)


def _symmetric(first: float, mixed: float, last: float) -> Floats:
    return np.array([[first, mixed], [mixed, last]])
