"""Inspection beats arithmetic: what grades after decontamination say of the life of one layer.

A grade says which share of the layer is left. With the wear until that day it bounds the layer's full life, and
the window is then that of the shelf's law within those bounds. A grade of a dirty surface bounds nothing: it is
not handed in here at all.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, expm1, inf, log, log1p
from typing import NamedTuple

from crm.care.coats import Look
from crm.care.figures import Triple
from crm.care.inspection_figures import InspectionFigures, Share
from crm.care.life import SHARES_WORN, Life, Weibull
from crm.care.terms import WaterGrade

_LEAST_SHAPE = 0.2
_STEPS = 40


class Bounds(NamedTuple):
    """A full life in reference months, from `low` to `high` (infinity: no upper bound)."""

    low: float
    high: float


class Found(NamedTuple):
    """A grade after decontamination, and the life used up by that day in reference months on one clock."""

    grade: WaterGrade
    used: float


@dataclass(frozen=True, slots=True)
class Evidence:
    """What all grades of one layer say together. `at_odds` where the last one cannot be squared with an older one."""

    bounds: Bounds
    at_odds: bool


def evidence_of(
    found: Sequence[Found], left: Mapping[WaterGrade, Share], *, one_off: bool = False
) -> Evidence:
    """The bounds that grades (at least one, in the order of time) set to the life of a layer.

    The last grade counts; `one_off` takes it to be one step better or worse than it was written down. What an
    older one says of the least life stays, as far as the last one allows; where it does not, all that stays of the
    older one is that the layer was alive on that day.
    """
    low, high = bounds_of(found[-1], left)
    if one_off:
        grade, used = found[-1]
        low = bounds_of(Found(WaterGrade(max(grade - 1, WaterGrade.WETS_OUT)), used), left).low
        high = bounds_of(Found(WaterGrade(min(grade + 1, WaterGrade.TIGHT)), used), left).high
    at_odds = False
    for older in found[:-1]:
        least = bounds_of(older, left).low
        if least > high:
            at_odds = True
            least = min(older.used, high) if older.grade is not WaterGrade.WETS_OUT else 0.0
        low = max(low, least)
    return Evidence(Bounds(low, high), at_odds)


def bounds_of(found: Found, left: Mapping[WaterGrade, Share]) -> Bounds:
    """The full lives for which `found.used` leaves such a share; a surface that wets out has none left."""
    if found.grade is WaterGrade.WETS_OUT:
        return Bounds(0.0, found.used)
    share = left[found.grade]
    return Bounds(found.used / (1 - share.low), found.used / (1 - share.high) if share.high < 1 else inf)


@dataclass(frozen=True, slots=True)
class Bounded:
    """A law of lives of which only the part within bounds is left."""

    law: Weibull
    bounds: Bounds

    @property
    def mass(self) -> float:
        """The share of such layers that the law puts within the bounds."""
        from_low, to_high = self._hazards
        return exp(-from_low) * -expm1(from_low - to_high)

    def quantile(self, share: float) -> float:
        """Reference months by which this share (0 to 1, without the ends) of what is left is worn.

        Worked out in cumulated hazards, so that it holds far out in the law's tail.
        """
        from_low, to_high = self._hazards
        hazard = from_low - log1p(share * expm1(from_low - to_high))
        months = self.law.scale * exp(log(hazard) / self.law.shape) if hazard > 0 else 0.0
        return min(max(months, self.bounds.low), self.bounds.high)

    @property
    def _hazards(self) -> tuple[float, float]:
        return _hazard(self.law, self.bounds.low), _hazard(self.law, self.bounds.high)


def widened(law: Weibull, bounds: Bounds, least: float) -> Weibull:
    """The law itself where it puts at least the share `least` within the bounds, else one that is less sure.

    Less sure is a law with the same median and a smaller shape: the largest shape that puts so much there. Where
    none does, the one that puts most there.
    """
    if Bounded(law, bounds).mass >= least:
        return law
    shapes = [law.shape * (_LEAST_SHAPE / law.shape) ** (step / _STEPS) for step in range(_STEPS + 1)]
    masses = [Bounded(_with_shape(law, shape), bounds).mass for shape in shapes]
    first = next((at for at, mass in enumerate(masses) if mass >= least), None)
    if first is None:
        return _with_shape(law, shapes[masses.index(max(masses))])
    sure, unsure = shapes[first - 1], shapes[first]
    for _ in range(_STEPS):
        middle = (sure + unsure) / 2
        if Bounded(_with_shape(law, middle), bounds).mass >= least:
            unsure = middle
        else:
            sure = middle
    return _with_shape(law, unsure)


class Inspected(NamedTuple):
    """What the looks at a layer make of its three lives (reference months), and how sure that is.

    `last` is the look that counts. `doubted` where the shelf hardly expects it, `at_odds` where an older look
    cannot be squared with it.
    """

    lives: Triple
    last: Look
    doubted: bool
    at_odds: bool

    def bound(self, days: tuple[int, int, int]) -> tuple[int, int, int]:
        """Three days (ordinals) on which the lives are used up, in order and on the right side of the last look.

        What was not known about the use until the look is told by it, so the pessimistic clock may well come
        out later than the kind one: the window then spans both.
        """
        seen = self.last.on.toordinal()
        alive = self.last.water is not WaterGrade.WETS_OUT
        low, likely, high = (max(day, seen) if alive else min(day, seen) for day in days)
        return min(low, likely), likely, max(likely, high)


def inspected(
    life: Life, looks: Sequence[Look], ages: Sequence[Triple], figures: InspectionFigures
) -> Inspected | None:
    """The lives that looks after decontamination (in the order of time) leave possible; None without one.

    `ages` are the lives that the wear until each look would have used up, on the three clocks. Where the likely one
    makes the last look hardly possible by the shelf's law, the grade, which is given by eye, is taken to be one
    off, and where that is not enough the law is taken to be less sure.
    """
    if not looks:
        return None
    by_clock = [
        [Found(look.water, age[clock]) for look, age in zip(looks, ages, strict=True)] for clock in range(3)
    ]
    law, left = life.weibull, figures.left
    likely = evidence_of(by_clock[1], left)
    doubted = Bounded(law, likely.bounds).mass < figures.least
    lives, at_odds = [], likely.at_odds
    for found, share in zip(by_clock, SHARES_WORN, strict=True):
        bounds = evidence_of(found, left, one_off=doubted).bounds
        lives.append(Bounded(widened(law, bounds, figures.least), bounds).quantile(share))
    return Inspected((lives[0], lives[1], lives[2]), looks[-1], doubted, at_odds)


def _with_shape(law: Weibull, shape: float) -> Weibull:
    """The law with the same median and another shape."""
    at_median = log(log(2))
    return Weibull(shape, law.scale * exp(at_median / law.shape - at_median / shape))


def _hazard(law: Weibull, months: float) -> float:
    """Cumulated hazard up to so many reference months, kept within what a float holds."""
    if months <= 0:
        return 0.0
    if months == inf:
        return inf
    return exp(min(law.shape * log(months / law.scale), 700.0))
