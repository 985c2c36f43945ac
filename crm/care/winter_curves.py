"""How likely a layer is worn by each of many days: from its own facts, from a stored window, or yet to be laid.

A layer of life T, one-time quality q and losses s(t) is worn by day t when T is at most clock(t) / (q - s(t)).
With S the share of such layers that live longer, and the likely clock,

    P(worn by t) = 1 - S(clock(t) / (q - s(t)))

The three dates of a window come from three clocks (pessimistic, likely, kind), which part where an answer is not
known. The curve follows the likely one, so it meets one half on the likely date and is a little narrower than
the window where answers are missing.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import lru_cache
from math import ceil, inf, log
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from crm.care.coats import Case
from crm.care.course import Setting, courses_of, losses_of, terms_of, uses_of
from crm.care.cure import cure_of
from crm.care.forecast import Window
from crm.care.life import Weibull, life_of
from crm.care.months import DAYS_IN_MONTH
from crm.care.seasons import Seasons
from crm.care.surfaces import Zone
from crm.care.terms import Air, Prep, ProductClass
from crm.care.turns import calendar_between
from crm.care.wear import Rates, Use, quality_of, rates_of

Floats: TypeAlias = NDArray[np.float64]

_LIKELY = 1
_DECADE = 3653
_X = tuple(log(-log(1 - share)) for share in (0.10, 0.50, 0.90))
_LEAST_DAYS = 0.5


class Span(NamedTuple):
    """The days that matter, as ordinals: from `first` to before `end`. Curves have one entry for each."""

    first: int
    end: int

    @classmethod
    def of(cls, first: date, last: date) -> Span:
        """From one day to another, both included."""
        return cls(first.toordinal(), last.toordinal() + 1)

    @property
    def days(self) -> Floats:
        """Every day as an ordinal, (D,)."""
        return np.arange(self.first, self.end, dtype=np.float64)


class LaidAnew(NamedTuple):
    """A layer that is yet to be laid on a car of some use."""

    product_class: ProductClass
    zone: Zone
    prep: Prep
    use: Use


def worn_curve(
    case: Case, span: Span, setting: Setting, *, lives: tuple[float, float] = (0.0, inf)
) -> Floats | None:
    """P(worn by the day) for each day of the span, (D,); None where the class has no forecast.

    `lives` are the bounds on this very layer's life that an inspection has set, in reference months.
    """
    coat = case.coat
    life = life_of(
        coat.product_class, coat.zone, own=coat.life, hard_used=coat.hard_used, tables=setting.tables
    )
    return None if life is None else _share_worn(life.weibull, _life_used(case, span, setting), lives)


def worn_by(window: Window, laid_on: date, span: Span) -> Floats:
    """P(worn by the day) from a window that is stored already, (D,).

    Through the three dates runs the law that is straight in ln(age) against ln(-ln(1 - P)), as a Weibull law is,
    in two pieces with a bend at the likely date: it meets 10, 50 and 90 % on the three dates exactly. Age is
    counted in plain days since the laying, so between the dates it knows nothing of the seasons.
    """
    laid = laid_on.toordinal()
    ages: list[float] = []
    for day in (window.low, window.likely, window.high):
        least = ages[-1] + _LEAST_DAYS if ages else _LEAST_DAYS
        ages.append(max(float(day.toordinal() - laid), least))
    low, likely, high = (log(age) for age in ages)
    age = np.log(np.maximum(span.days - laid, _LEAST_DAYS / 10))
    early = _X[1] + (age - likely) * (_X[1] - _X[0]) / (likely - low)
    late = _X[1] + (age - likely) * (_X[2] - _X[1]) / (high - likely)
    worn = -np.expm1(-np.exp(np.minimum(np.where(age < likely, early, late), 50.0)))
    return np.where(span.days <= laid, 0.0, worn)


@lru_cache(maxsize=1024)
def curves_anew(layer: LaidAnew, laid: tuple[int, ...], span: Span, setting: Setting) -> Floats | None:
    """P(worn by the day) of a layer laid on each of W days (ordinals), (W, D); None without a forecast.

    Until it has fully set it is not counted on: P is 1 up to that day. Laid in good air, by the longer figure of
    its class for setting. The array is kept for the next caller: not to be written to.
    """
    life = life_of(layer.product_class, layer.zone, tables=setting.tables)
    if life is None:
        return None
    rates = rates_of(layer.product_class, layer.zone, layer.use, setting.tables)[_LIKELY]
    quality = quality_of(layer.product_class, Air.INSIDE, layer.prep, False, setting.tables)[_LIKELY]
    starts = np.array(laid, dtype=np.float64)[:, None]
    days = span.days[None, :]
    line = _line(rates, setting.seasons, min((span.first, *laid)), span.end)
    months = np.maximum(_reading(line, days) - _reading(line, starts), 0.0) / DAYS_IN_MONTH
    worn = _share_worn(life.weibull, months / quality, (0.0, inf))
    curves = np.where(days < starts + ceil(cure_of(layer.product_class).full_h / 24), 1.0, worn)
    curves.setflags(write=False)
    return curves


def _life_used(case: Case, span: Span, setting: Setting) -> Floats:
    """Reference months of life used, clock / (q - s), on the likely clock: the only place that follows a course."""
    coat, tables = case.coat, setting.tables
    terms = terms_of(uses_of(case.habits, tables), coat.laid_on.toordinal())
    losses = losses_of(coat, case.lumps, terms, setting) if case.lumps else ()
    quality = quality_of(coat.product_class, coat.air, coat.prep, coat.got_wet_early, tables)[_LIKELY]
    days = span.days
    passed, share = np.zeros(len(days)), np.full(len(days), quality)
    for start, end, rates, lost in courses_of(coat, terms, losses, tables)[_LIKELY]:
        if start >= span.end:
            break
        if lost[_LIKELY]:
            share[days >= start] = quality - lost[_LIKELY]
        if rates is not None:
            line = _line(rates[_LIKELY], setting.seasons, start, span.end)
            until = np.clip(days, start, min(end, span.end))
            passed += _reading(line, until) - _reading(line, np.float64(start))
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(share > 0, passed / DAYS_IN_MONTH / share, np.where(days >= terms[0].start, inf, 0.0))


class _Line(NamedTuple):
    """A clock as a broken line: reference days at its turns (ordinals)."""

    turns: Floats
    readings: Floats


@lru_cache(maxsize=4096)
def _line(rates: Rates, seasons: Seasons, first: int, end: int) -> _Line:
    turns, states = _turns(seasons, first // _DECADE, end // _DECADE + 1)
    gains = np.array(rates)[states] * np.diff(turns)
    return _Line(turns, np.concatenate(([0.0], np.cumsum(gains))))


@lru_cache(maxsize=64)
def _turns(seasons: Seasons, decade: int, until: int) -> tuple[Floats, NDArray[np.int64]]:
    first = max(decade * _DECADE, 1)
    ends, states = calendar_between(seasons, first, until * _DECADE + 1)
    return np.array([first, *ends], dtype=np.float64), np.array(states)


def _reading(line: _Line, days: Floats | np.float64) -> Floats:
    return np.asarray(np.interp(days, line.turns, line.readings), dtype=np.float64)


def _share_worn(law: Weibull, months: Floats, lives: tuple[float, float]) -> Floats:
    """1 - S(months), of the lives between two bounds only."""
    least, most = lives
    if (least, most) == (0.0, inf):
        return -np.expm1(-((months / law.scale) ** law.shape))
    before, after = 1 - law.survival(least), 1 - law.survival(most)
    if after - before <= 0:
        return np.where(months >= most, 1.0, 0.0)
    worn = -np.expm1(-((months / law.scale) ** law.shape))
    return np.clip((worn - before) / (after - before), 0.0, 1.0)


def unknown_curve(share: float, span: Span) -> Floats:
    """The same P on every day, for a layer of which nobody knows what it is."""
    return np.full(span.end - span.first, share)


def half_worn(curve: Sequence[float] | Floats, span: Span) -> date | None:
    """The first day of the span by which the layer is more likely worn than not; None where it holds."""
    worn = np.asarray(curve) >= 0.5
    return date.fromordinal(span.first + int(worn.argmax())) if worn.any() else None
