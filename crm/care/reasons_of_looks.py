"""What the grades of a layer say of its window, in words."""

from __future__ import annotations

from crm.care.inspection import Inspected
from crm.care.inspection_figures import InspectionFigures
from crm.care.months import MONTH_NAMES
from crm.care.reasons_of_use import Reason
from crm.care.terms import WaterGrade


def look_reasons(seen: Inspected, figures: InspectionFigures) -> tuple[Reason, ...]:
    """The look that counts and what it leaves; then what does not fit it."""
    on = seen.last.on
    day = f"{on.day} {MONTH_NAMES[on.month - 1]} {on.year}"
    graded = f"graded {seen.last.water.value} after decontamination on {day}"
    found = [Reason("look", f"{graded}: {_left(seen.last.water, figures)}")]
    if seen.at_odds:
        found.append(
            Reason("look_at_odds", "an earlier grade said that more should be left: the later one counts")
        )
    if seen.doubted:
        words = (
            "by its figures hardly any such layer is found like that, so the grade is taken to be one step better"
            " or worse and the window is wider"
        )
        found.append(Reason("look_doubted", words))
    return tuple(found)


def _left(grade: WaterGrade, figures: InspectionFigures) -> str:
    if grade is WaterGrade.WETS_OUT:
        return "nothing of it was left"
    share = figures.left[grade]
    low, high = f"{share.low * 100:.0f}", f"{share.high * 100:.0f} %"
    if share.high >= 1:
        return f"at least {low} % of its life was left"
    return (
        f"{low} to {high} of its life was left" if share.low > 0 else f"at most {high} of its life was left"
    )
