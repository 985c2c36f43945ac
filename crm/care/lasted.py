"""From what was seen of a product's layers to figures that a person can take: counts, words, round numbers.

Nothing here changes a figure: it is laid before a person.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from crm.care.learning import Learned
from crm.care.life import Life, Weibull

CONFIDENCE = 0.9
"""Of the two figures between which a learned one is said to lie."""
LEAST_MONTHS, MOST_MONTHS = Decimal("0.1"), Decimal(240)
_FINE, _MIDDLE, _COARSE = Decimal("0.1"), Decimal("0.5"), Decimal(1)


@dataclass(frozen=True, slots=True)
class RoundFigures:
    """Three figures of months as one writes them down."""

    low: Decimal
    likely: Decimal
    high: Decimal


def rounded(law: Weibull) -> RoundFigures:
    """A law as three round numbers: tenths of a month up to 3, halves up to 12, then whole ones (own choice).

    What is learned is never surer than that. Within the months that a shelf takes.
    """
    low, likely, high = (_round(months) for months in law.window)
    return RoundFigures(low, likely, high)


def differs(learned: Learned, shelf: Life) -> bool:
    """Whether what was seen speaks against the shelf: against the month by which half are gone by its law.

    That month lies outside the two figures between which the learned one lies, all three in tenths, as they are
    shown.
    """
    low, high = map(_tenths, learned.between(CONFIDENCE)[1])
    return not low <= _tenths(shelf.weibull.window[1]) <= high


def _tenths(months: float) -> Decimal:
    return Decimal(repr(float(months))).quantize(_FINE, ROUND_HALF_UP)


def _round(months: float) -> Decimal:
    exact = Decimal(repr(min(max(months, float(LEAST_MONTHS)), float(MOST_MONTHS))))
    step = _FINE if exact < 3 else _MIDDLE if exact < 12 else _COARSE
    return (exact / step).quantize(Decimal(1), ROUND_HALF_UP) * step
