"""The top of a smooth hill over (ln scale, ln shape): Newton's method, made safe.

Where the hill is not yet a dome its curvatures count by their size, so that every step leads uphill; steps
are kept short and halved until they gain. The ln shape stays between two limits: a top that lies on one of
them is `held`.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp
from typing import Protocol

import numpy as np

from crm.care.censored import Slopes
from crm.care.observed import Floats

MOST_STEPS = 500
_LAST_STEP = 1e-6
"""Newton's steps square their error: after one as short as this the place is known to rounding."""
_GAIN = 1e-4
_ROUNDING = 1e-13
_SHORTEST = 2.0**-50
_NOTHING = 1e-300


class NoTop(ArithmeticError):
    """The hill has no top that can be reached."""


class Hill(Protocol):
    """A function with its slopes, at (ln scale, ln shape)."""

    def slopes(self, log_scale: float, log_shape: float) -> Slopes: ...


@dataclass(frozen=True, slots=True)
class Top:
    """The highest place: `at` is (ln scale, ln shape); `held` where the shape is at one of its limits."""

    at: tuple[float, float]
    slopes: Slopes
    held: bool

    @property
    def covariance(self) -> Floats:
        """The inverse of the curvature, shape (2, 2); a shape that is held has none of its own."""
        hollow = -self.slopes.hessian
        if self.held:
            return np.array([[1 / hollow[0, 0], 0.0], [0.0, 0.0]])
        sizes, axes = _sizes(hollow)
        inverse: Floats = (axes / sizes) @ axes.T
        return inverse


def climb(hill: Hill, start: tuple[float, float], limits: tuple[float, float]) -> Top:
    """The top that lies uphill of `start`, with the ln shape within `limits`.

    The value at the start has to be finite. Raises NoTop where the steps do not come to rest.
    """
    here = (start[0], min(max(start[1], limits[0]), limits[1]))
    slopes = hill.slopes(*here)
    for _ in range(MOST_STEPS):
        held = _points_out(slopes.gradient[1], here[1], limits)
        step = _step(slopes, here[1], limits, held=held)
        if max(abs(step[0]), abs(step[1])) <= _LAST_STEP:
            there = here[0] + step[0], here[1] + step[1]
            return Top(there, hill.slopes(*there), held)
        found = _gained(hill, here, step, slopes)
        if found is None:
            return Top(here, slopes, held)
        here, slopes = found
    raise NoTop("The hill goes on rising.")


def _step(
    slopes: Slopes, log_shape: float, limits: tuple[float, float], *, held: bool
) -> tuple[float, float]:
    """The next step: Newton's, along the scale alone where the shape is held, within the limits."""
    sizes, axes = _sizes(-slopes.hessian)
    across, along = axes @ ((axes.T @ slopes.gradient) / sizes)
    if held or _points_out(along, log_shape, limits):
        own = np.maximum(np.abs(np.diag(slopes.hessian)), _NOTHING)
        across, along = slopes.gradient / own
        along = 0.0 if held else along
    longest = max(2.0, 10 / exp(log_shape))
    share = min(1.0, 1 / max(abs(along), _NOTHING), longest / max(abs(across), _NOTHING))
    across, along = float(across) * share, float(along) * share
    room = (limits[1] if along > 0 else limits[0]) - log_shape
    return (across * room / along, room) if abs(along) > abs(room) else (across, along)


def _gained(
    hill: Hill, here: tuple[float, float], step: tuple[float, float], slopes: Slopes
) -> tuple[tuple[float, float], Slopes] | None:
    """Where a step, halved as often as needed, gains its share; None where rounding is all that is left."""
    gain = float(slopes.gradient @ np.array(step))
    share = 1.0
    while share > _SHORTEST:
        there = here[0] + share * step[0], here[1] + share * step[1]
        least = slopes.value + _GAIN * share * gain - _ROUNDING * abs(slopes.value)
        found = hill.slopes(*there)
        if found.value >= least:
            return there, found
        share /= 2
    return None


def _points_out(along: float, log_shape: float, limits: tuple[float, float]) -> bool:
    """Whether a step leads out of the limits from where they are as good as reached."""
    return (along > 0 and log_shape > limits[1] - _LAST_STEP) or (
        along < 0 and log_shape < limits[0] + _LAST_STEP
    )


def _sizes(hollow: Floats) -> tuple[Floats, Floats]:
    """The axes of a curvature, and its sizes along them, none of them nothing."""
    curvatures, axes = np.linalg.eigh(hollow)
    sizes = np.abs(curvatures)
    return np.maximum(sizes, max(float(sizes.max()) * 1e-14, _NOTHING)), axes
