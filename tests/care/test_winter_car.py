"""Which package suits a car."""

from __future__ import annotations

from datetime import date

import pytest

from crm.care.surfaces import Zone
from crm.care.terms import ProductClass, WaterGrade
from crm.care.winter_car import proposal_for
from crm.care.winter_figures import WINTER, Work
from crm.care.winter_worth import Cover
from tests.care.sample_coats import COP, LCO, SEA, WAX, kept
from tests.care.sample_winter import SETTING, car, covered, lying

FAR = kept(km=30_000)
NEAR = kept(km=29_999)
BARE_WHEELS = (*covered(SEA), Cover(Zone.WHEELS))
WHEELS = Cover(Zone.WHEELS, (lying(ProductClass.WHEEL_SEALANT, date(2026, 6, 1), Zone.WHEELS),))


@pytest.mark.parametrize(
    ("product_class", "facts", "work", "because"),
    [
        (None, {}, Work.WINTER_COAT, "its paint is bare"),
        (WAX, {}, Work.WINTER_COAT, "its paint is waxed or sealed"),
        (SEA, {}, Work.WINTER_COAT, "its paint is waxed or sealed"),
        (COP, {}, Work.TOP_UP, "its coating has not been graded yet"),
        (LCO, {"coat_grade": WaterGrade.LAZY}, Work.TOP_UP, "its coating still works"),
        (COP, {"coat_grade": WaterGrade.TIGHT}, Work.TOP_UP, "its coating still works"),
        (COP, {"coat_grade": WaterGrade.CLINGING}, Work.WINTER_COAT, "its coating has given way"),
        (SEA, {"habit": FAR}, Work.WINTER_COAT, "its paint is waxed or sealed"),
        (SEA, {"habit": NEAR, "swap_due": True}, Work.WINTER_COAT, "its paint is waxed or sealed"),
        (
            SEA,
            {"habit": FAR, "swap_due": True},
            Work.WHEELS_OFF,
            "its wheels are swapped anyway and it is driven far",
        ),
        (
            SEA,
            {"cover": BARE_WHEELS, "swap_due": True},
            Work.WHEELS_OFF,
            "its wheels are swapped anyway and nothing protects its wheels",
        ),
        (SEA, {"cover": BARE_WHEELS}, Work.WINTER_COAT, "its paint is waxed or sealed"),
        (
            SEA,
            {"cover": (*covered(SEA), WHEELS), "swap_due": True},
            Work.WINTER_COAT,
            "its paint is waxed or sealed",
        ),
        (SEA, {"habit": None, "swap_due": True}, Work.WINTER_COAT, "its paint is waxed or sealed"),
    ],
)
def test_package_follows_from_the_state_of_the_car(
    product_class: ProductClass | None, facts: dict[str, object], work: Work, because: str
) -> None:
    """Common practice, no source."""
    proposal = proposal_for(car(1, product_class, date(2026, 4, 14), **facts), SETTING.tables)
    assert (proposal.package.work, proposal.because) == (work, because)


def test_package_with_no_place_in_the_rush_is_never_proposed() -> None:
    figures = WINTER.with_overrides({"packages": {"top_up": {"rush": 0}, "wheels_off": {"rush": 0}}})
    coated = car(1, COP, swap_due=True, habit=FAR)
    assert proposal_for(coated, SETTING.tables, figures).package.work is Work.WINTER_COAT
    nothing = WINTER.with_overrides({"packages": {work.value: {"rush": 0} for work in Work}})
    assert proposal_for(coated, SETTING.tables, nothing).package.work is Work.WINTER_COAT
