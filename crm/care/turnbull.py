"""The share of layers left, from looks alone: no law of lives is assumed.

Turnbull's estimate for interval-censored lives (J. R. Statist. Soc. B 38, 1976, 290-295, from memory): all
the mass lies on the innermost intervals, those between a lower and the next upper bound. It is found by
Turnbull's own self-consistency steps (an EM algorithm) in turn with steps of the iterative convex minorant
(Jongbloed, J. Comput. Graph. Statist. 7, 1998, 310-321, from memory), which move mass far at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import isotonic_regression

from crm.care.observed import Floats, Observations

GAP = 1e-9
"""Done when no masses can have a log-likelihood better by more than this, for each layer."""
MOST_ROUNDS = 5_000
WORST_GAP = 1e-5
"""Where weights lie far apart rounding may stop short of `GAP`; beyond this it is no answer."""
_HALVINGS = 20
_AT_REST, _ROUNDING = 100, 1e-15
"""After so many rounds without a gain above rounding, nothing more is to be had."""
_DUST = 1e-10
"""Masses below this are on their way to nothing."""

Places: TypeAlias = NDArray[np.intp]


class NotSettled(ArithmeticError):
    """The steps did not come to rest."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Ages from `low` to `high` (reference months) in which the share `mass` of layers ends.

    Where in it they end, nobody knows: the curve is level up to `low` and from `high`. Where both are equal,
    they end on that day; a `high` of infinity means that no look reaches so far.
    """

    low: float
    high: float
    mass: float


@dataclass(frozen=True, slots=True)
class Steps:
    """The estimate: its stretches from young to old, with masses that add to 1.

    No other masses have a log-likelihood that is better than `log_likelihood` by more than `gap`.
    """

    stretches: tuple[Stretch, ...]
    log_likelihood: float
    gap: float

    @property
    def curve(self) -> tuple[tuple[float, float], ...]:
        """Corners (age, share left) of a step curve: each share holds from its age to the next.

        It falls at the end of each stretch, so it never shows less than may be left.
        """
        left, corners = 1.0, [(0.0, 1.0)]
        for stretch in self.stretches:
            if stretch.high != np.inf:
                left -= stretch.mass
                corners.append((stretch.high, max(left, 0.0)))
        return tuple(corners)

    def left(self, age: float) -> tuple[float, float]:
        """The least and the most share of layers that may be left at an age, in reference months.

        They differ only inside a stretch.
        """
        most = 1 - sum(stretch.mass for stretch in self.stretches if stretch.high <= age)
        within = sum(stretch.mass for stretch in self.stretches if stretch.low < age < stretch.high)
        return max(most - within, 0.0), most


def turnbull(observations: Observations) -> Steps:
    """The non-parametric maximum-likelihood estimate of how lives are spread; without observations, empty.

    Raises NotSettled where the steps do not come to rest.
    """
    if not len(observations):
        return Steps((), 0.0, 0.0)
    lows, highs, spans = _innermost(observations)
    masses, gap = _settled(spans)
    masses[masses < _DUST] = 0
    masses /= masses.sum()
    stretches = (
        Stretch(float(lows[at]), float(highs[at]), float(masses[at])) for at in np.flatnonzero(masses)
    )
    total = float(observations.weight.sum())
    return Steps(tuple(stretches), total * _value(masses, spans), total * gap)


@dataclass(frozen=True, slots=True)
class _Spans:
    """Row i spans the innermost intervals from `first[i]` to before `last[i]`; the weights add to 1."""

    first: Places
    last: Places
    weight: Floats
    count: int

    def summed(self, masses: Floats) -> Floats:
        """The mass that each row spans."""
        sums = np.concatenate(((0.0,), np.cumsum(masses)))
        return sums[self.last] - sums[self.first]

    def at_first(self, values: Floats) -> Floats:
        """Sums of the rows' values by where they begin, shape (count + 1,)."""
        return np.bincount(self.first, values, self.count + 1).astype(np.float64, copy=False)

    def at_last(self, values: Floats) -> Floats:
        """Sums of the rows' values by where they end, shape (count + 1,)."""
        return np.bincount(self.last, values, self.count + 1).astype(np.float64, copy=False)


def _innermost(observations: Observations) -> tuple[Floats, Floats, _Spans]:
    """The intervals between a lower bound and the upper bound that follows it next, and who spans them.

    Of bounds at one age, that of an exact life opens first, then upper bounds close, then lower ones open:
    a life above 4 is not one of exactly 4.
    """
    rows = len(observations)
    ages = np.concatenate((observations.low, observations.high))
    kinds = np.concatenate((np.where(observations.is_exact, 0, 2), np.ones(rows, dtype=np.intp)))
    order = np.lexsort((kinds, ages))
    ages, kinds = ages[order], kinds[order]
    opens = kinds != 1
    at = np.flatnonzero(opens[:-1] & ~opens[1:])
    changed = (ages[1:] != ages[:-1]) | (kinds[1:] != kinds[:-1])
    groups = np.concatenate(((0,), np.cumsum(changed)))
    place = np.empty_like(groups)
    place[order] = groups
    first = np.searchsorted(groups[at], place[:rows], "left")
    last = np.searchsorted(groups[at + 1], place[rows:], "right")
    weight = observations.weight / observations.weight.sum()
    return ages[at], ages[at + 1], _Spans(first, last, weight, at.size)


def _settled(spans: _Spans) -> tuple[Floats, float]:
    """The masses, and by how much (for rows of weight 1 in all) their log-likelihood may still fall short.

    By concavity no masses beat these by more than the steepest slope towards one interval, less 1.
    """
    masses = np.full(spans.count, 1 / spans.count)
    best, since, gap = -np.inf, 0, np.inf
    for _ in range(MOST_ROUNDS):
        pull = _pull(masses, spans)
        gap = max(float(pull.max()) - 1, 0.0)
        if gap <= GAP or since > _AT_REST:
            break
        masses = masses * pull
        masses = _moved(masses / masses.sum(), spans)
        value = _value(masses, spans)
        since = 0 if value > best + abs(best) * _ROUNDING or best == -np.inf else since + 1
        best = max(best, value)
    if gap > WORST_GAP:
        raise NotSettled("The step curve did not come to rest on these observations.")
    return masses, gap


def _pull(masses: Floats, spans: _Spans) -> Floats:
    """How steeply the log-likelihood rises with each mass; 1 where the masses are right."""
    share = spans.weight / spans.summed(masses)
    return np.cumsum(spans.at_first(share) - spans.at_last(share))[:-1]


def _value(masses: Floats, spans: _Spans) -> float:
    held = spans.summed(masses)
    return float(spans.weight @ np.log(held)) if held.min() > 0 else -np.inf


def _moved(masses: Floats, spans: _Spans) -> Floats:
    """One step of the convex minorant: Newton's with its diagonal alone, held rising, halved until it gains."""
    if masses.size < 2:
        return masses
    held = spans.summed(masses)
    share = spans.weight / held
    slope = (spans.at_last(share) - spans.at_first(share))[1:-1]
    bend = (spans.at_last(share / held) + spans.at_first(share / held))[1:-1]
    wished = isotonic_regression(np.cumsum(masses)[:-1] + slope / bend, weights=bend).x
    change = np.diff(np.clip(wished, 0, 1), prepend=0, append=1) - masses
    before, part = _value(masses, spans), 1.0
    for _ in range(_HALVINGS):
        moved = masses + part * change
        if _value(moved, spans) > before:
            return moved
        part /= 2
    return masses
