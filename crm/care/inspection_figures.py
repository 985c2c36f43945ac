"""The figures of an inspection: what each grade leaves of a life, and when a finding is doubted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from crm.care.figures import Figures, FiguresError
from crm.care.terms import WaterGrade


class Share(NamedTuple):
    """The share of a layer's life that is left, from `low` to `high` (0 to 1)."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class InspectionFigures:
    """What is left by grade (none is left of what wets out), and the least share that is not doubted."""

    left: Mapping[WaterGrade, Share]
    least: float


def read_inspection(figures: Figures) -> InspectionFigures:
    """The figures from their nested form. Raises FiguresError with the path of the first that cannot be."""
    left, doubt = figures.part("left"), figures.part("doubt")
    left.mark()
    doubt.mark()
    shares: dict[WaterGrade, Share] = {
        grade: _share(left, grade) for grade in WaterGrade if grade is not WaterGrade.WETS_OUT
    }
    for better, worse in zip(sorted(shares, reverse=True), sorted(shares, reverse=True)[1:], strict=False):
        if shares[worse].low > shares[better].low or shares[worse].high > shares[better].high:
            raise FiguresError(
                f"{left.path}.{worse.name.lower()} must not leave more than the better grade above it."
            )
    return InspectionFigures(shares, doubt.number("least", 0, 0.5))


def _share(figures: Figures, grade: WaterGrade) -> Share:
    numbers = figures.numbers(grade.name.lower(), 0, 1)
    path = f"{figures.path}.{grade.name.lower()}"
    if len(numbers) != 2 or numbers[0] > numbers[1]:
        raise FiguresError(f"{path} has to hold two numbers, the least and the most that is left.")
    if numbers[0] >= 1:
        raise FiguresError(f"{path}: a layer that has worn at all has less than its whole life left.")
    return Share(*numbers)
