"""What a visit is worth: worked by hand on plain curves, and the sense of it on real ones."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from crm.care.coats import Habit
from crm.care.surfaces import Zone
from crm.care.terms import Prep, ProductClass
from crm.care.wear import use_of
from crm.care.winter_curves import LaidAnew, curves_anew
from crm.care.winter_figures import WINTER, Work
from crm.care.winter_worth import Cover, Lying, Worth, exposure, worth_of
from tests.care.sample_coats import COP, SEA, TOP, WAX, kept
from tests.care.sample_winter import HABIT, PAINT, SETTING, SPAN, covered, lying

MONDAYS = tuple(date(2026, 8, 31) + timedelta(weeks=place) for place in range(11))
COAT, TOP_UP = WINTER.packages[Work.WINTER_COAT], WINTER.packages[Work.TOP_UP]
DAYS = SPAN.end - SPAN.first


def _worth(
    cover: tuple[Cover, ...],
    work: Work = Work.WINTER_COAT,
    habit: Habit | None = HABIT,
    mondays: tuple[date, ...] = MONDAYS,
) -> Worth:
    return worth_of(
        cover, WINTER.packages[work], habit=habit, mondays=mondays, span=SPAN, setting=SETTING, figures=WINTER
    )


def test_season_of_151_days_with_salt_on_45_in_a_hundred_risks_a_bare_car_68() -> None:
    assert DAYS == 151
    assert _worth(covered(None)).at_risk == pytest.approx(151 * 0.45)


def test_worth_is_the_sum_over_days_and_places_worked_by_hand() -> None:
    """Two places: the lower sides under a layer with a chance of 0.4 on every day, the bare upper sides."""
    layer = Lying(SEA, date(2026, 4, 1), np.full(DAYS, 0.4))
    cover = (Cover(Zone.LOWER_SIDES, (layer,)), Cover(Zone.UPPER_SIDES, ()))
    monday = date(2026, 10, 5)
    found = _worth(cover, mondays=(monday,))
    laid = (monday.toordinal() + 2,)
    by_hand = []
    for one, weight, untreated in ((cover[0], 1.0, 0.4), (cover[1], 0.7, 1.0)):
        new = curves_anew(
            LaidAnew(SEA, one.zone, Prep.CLAYED, use_of(HABIT, SETTING.tables)), laid, SPAN, SETTING
        )
        assert new is not None
        # Clay takes the sealant off, so that only the new layer counts from then on.
        by_hand.append(0.45 * weight / 1.7 * sum(untreated - chance for chance in new[0]))
    assert found.by_cover[:, 0] == pytest.approx(by_hand)
    assert found.days[0] == pytest.approx(sum(by_hand))
    assert found.at_risk == pytest.approx(0.45 * 151 * (1.0 * 0.4 + 0.7) / 1.7)


def test_days_before_the_visit_are_not_avoided() -> None:
    december = date(2026, 12, 7)
    bare = _worth(covered(None), mondays=(december,))
    remaining = SPAN.end - (december.toordinal() + 2)
    assert 0 < bare.days[0] < 0.45 * remaining
    assert _worth(covered(None), mondays=(date(2027, 4, 5),)).days[0] == 0


def test_topper_goes_on_a_coating_that_stays_and_both_have_to_be_gone() -> None:
    layer = Lying(COP, date(2024, 6, 1), np.full(DAYS, 0.5))
    cover = (Cover(Zone.LOWER_SIDES, (layer,)),)
    laid = (date(2026, 10, 7).toordinal(),)
    new = curves_anew(
        LaidAnew(TOP, Zone.LOWER_SIDES, Prep.CLAYED, use_of(HABIT, SETTING.tables)), laid, SPAN, SETTING
    )
    assert new is not None
    found = _worth(cover, Work.TOP_UP, mondays=(date(2026, 10, 5),))
    assert found.days[0] == pytest.approx(0.45 * (0.5 - 0.5 * new[0]).sum())


def test_sealant_in_october_is_about_right_a_topper_in_september_too_early_a_wax_never_carries() -> None:
    """The autumn decision in one table (common practice, no source)."""
    sealed = _worth(covered(None), Work.WINTER_COAT).days
    topped = _worth(covered(None), Work.TOP_UP).days
    assert sealed[5] > 1.7 * topped[2]
    assert topped[9] > 2 * topped[0]
    assert MONDAYS[int(sealed.argmax())] >= date(2026, 10, 12)
    waxed = _worth(covered(WAX, date(2026, 9, 20)))
    assert waxed.at_risk > 0.9 * 151 * 0.45


def test_fresh_coating_gains_little_and_an_old_sealant_much() -> None:
    fresh, old = covered(COP, date(2026, 6, 1)), covered(SEA, date(2026, 4, 14))
    assert _worth(fresh, Work.TOP_UP).at_risk < 4 < 60 < _worth(old).at_risk
    assert _worth(fresh, Work.TOP_UP).days.max() < 3 < 25 < _worth(old).days.max()


def test_winter_coat_over_a_good_layer_that_clay_takes_off_can_be_worth_less_than_nothing() -> None:
    fresh = (Cover(Zone.UPPER_SIDES, (Lying(SEA, date(2026, 9, 1), np.zeros(DAYS)),)),)
    assert (_worth(fresh).days < 0).all()


@pytest.mark.parametrize(
    ("habit", "counts"),
    [
        (None, 0.7),
        (Habit(date(2020, 1, 1), salted_roads=None), 0.7),
        (Habit(date(2020, 1, 1), salted_roads=True), 1.0),
        (Habit(date(2020, 1, 1), salted_roads=True, km_a_year=3000), 0.7),
        (Habit(date(2020, 1, 1), salted_roads=True, km_a_year=4999), 0.7),
        (Habit(date(2020, 1, 1), salted_roads=True, km_a_year=5000), 1.0),
        (Habit(date(2020, 1, 1), salted_roads=True, km_a_year=40_000), 1.2),
        (Habit(date(2020, 1, 1), salted_roads=False, km_a_year=40_000), 0.0),
        (Habit(date(2020, 1, 1), salted_roads=True, stored=True), 0.0),
    ],
)
def test_exposure_by_salted_roads_distance_and_storage(habit: Habit | None, counts: float) -> None:
    assert exposure(habit, WINTER) == pytest.approx(counts)


def test_places_are_weighed_and_those_a_car_lacks_do_not_count() -> None:
    lower = _worth(
        (Cover(Zone.LOWER_SIDES), Cover(Zone.TOPS, (Lying(COP, date(2026, 1, 1), np.zeros(DAYS)),)))
    )
    assert lower.at_risk == pytest.approx(0.45 * 151 * 1.0 / 1.6)
    assert _worth((Cover(Zone.LOWER_SIDES),)).at_risk == pytest.approx(0.45 * 151)
    assert _worth((Cover(Zone.SEATS),)).at_risk == 0
    assert _worth(()).days.tolist() == [0.0] * 11


def test_part_of_a_zone_counts_for_its_share() -> None:
    sealed = lying(SEA, date(2026, 10, 1))
    whole = _worth((Cover(Zone.LOWER_SIDES, (sealed,)),)).at_risk
    patched = _worth((Cover(Zone.LOWER_SIDES, (sealed,), 0.75), Cover(Zone.LOWER_SIDES, (), 0.25))).at_risk
    assert patched == pytest.approx(0.75 * whole + 0.25 * 0.45 * 151)


def test_place_of_lesser_weight_is_at_risk_only_where_something_lay_there() -> None:
    paint = tuple(Cover(zone, (Lying(COP, date(2026, 1, 1), np.zeros(DAYS)),)) for zone in PAINT)
    assert _worth((*paint, Cover(Zone.SEALS))).at_risk == 0
    assert _worth((*paint, Cover(Zone.SEALS))).days.max() > 0
    assert _worth((*paint, Cover(Zone.SEALS, had_one=True))).at_risk == pytest.approx(0.45 * 151 * 0.3 / 3.5)


def test_layer_of_which_nobody_knows_what_it_is_counts_for_a_half() -> None:
    cover = (Cover(Zone.LOWER_SIDES, (Lying(ProductClass.UNKNOWN, date(2020, 1, 1), None),)),)
    assert _worth(cover).at_risk == pytest.approx(0.5 * 0.45 * 151)


def test_second_set_of_wheels_is_done_like_the_first() -> None:
    """Its places have no weight of their own as shipped; a studio may give them one."""
    figures = WINTER.with_overrides({"packages": {"top_up": {"hours": 4}}})
    assert figures.packages[Work.TOP_UP].hours == 4
    assert _worth((Cover(Zone.WHEELS_TWO),)).days.max() == 0


def test_curve_of_another_season_is_refused() -> None:
    with pytest.raises(
        ValueError, match=r"^The curve of a layer needs one entry for each day of the salted season\.$"
    ):
        _worth((Cover(Zone.TOPS, (Lying(SEA, date(2026, 1, 1), np.zeros(3)),)),))


def test_car_driven_far_on_salt_is_worth_more_than_one_that_is_hardly_driven() -> None:
    far, near = kept(km=40_000), kept(km=2_000)
    assert _worth(covered(None), habit=far).at_risk == pytest.approx(1.2 * 0.45 * 151)
    assert _worth(covered(None), habit=near).at_risk == pytest.approx(0.7 * 0.45 * 151)
