"""Cure clocks. The hours are common practice, no source; the clock changes are IANA data."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from crm.care.cure import (
    Clock,
    Cure,
    OwnHours,
    clocks,
    coldest_known,
    cure_in_force,
    cure_of,
    cure_range_of,
    stretch,
)
from crm.care.months import NaiveMoment
from crm.care.terms import Mark, ProductClass

LONDON = ZoneInfo("Europe/London")
LAID = datetime(2026, 5, 4, 15, 10, tzinfo=LONDON)
COATING = ProductClass.COATING_PROFESSIONAL


def test_clocks_of_the_worked_visit() -> None:
    """A professional coating on 4 May at 15:10, bay minimum 12 °C (an invented visit, common practice)."""
    times = clocks(cure_of(COATING), applied_at=LAID, coldest_c=12)
    assert times.stretched == 1
    assert times.drive_from == LAID + timedelta(hours=4)
    assert times.dry_until == datetime(2026, 5, 5, 15, 10, tzinfo=LONDON)
    assert times.wash_from == datetime(2026, 5, 11, 15, 10, tzinfo=LONDON)
    assert times.topper_from == datetime(2026, 5, 25, 15, 10, tzinfo=LONDON)
    assert times.cured_at == datetime(2026, 5, 25, 15, 10, tzinfo=LONDON)


def test_hours_of_a_data_sheet_count_before_those_of_the_class_and_nought_is_a_figure() -> None:
    usual = cure_of(COATING)
    assert cure_in_force(COATING, OwnHours()) == usual
    own = cure_in_force(COATING, OwnHours(dry_h=0, topper_h=48))
    assert own == Cure(usual.drive_h, 0, usual.wash_h, 48, usual.full_h)
    wholly = cure_in_force(COATING, OwnHours(dry_h=1, wash_h=2, topper_h=3, full_h=4))
    assert wholly == Cure(usual.drive_h, 1, 2, 3, 4)


def test_clocks_at_freezing_are_the_trades_figures_for_cold() -> None:
    times = clocks(cure_of(COATING), applied_at=LAID, coldest_c=0)
    assert times.dry_until - LAID == timedelta(hours=48)
    assert times.wash_from - LAID == timedelta(days=14)


@pytest.mark.parametrize(
    ("coldest_c", "expected"),
    [(None, 1), (25, 1), (10, 1), (9.9, 2**0.01), (5, 2**0.5), (0, 2), (-10, 4), (-30, 4)],
)
def test_stretch_doubles_every_ten_degrees_under_ten_and_stops_at_four(
    coldest_c: float | None, expected: float
) -> None:
    assert stretch(coldest_c) == pytest.approx(expected)


@pytest.mark.parametrize("product_class", [COATING, ProductClass.POLYMER_SEALANT, ProductClass.WHEEL_COATING])
def test_stretch_joins_the_rule_of_doubling_below_twenty(product_class: ProductClass) -> None:
    """The least keep-dry time at 20 °C, doubled for 10 °C, is the default that holds down to 10 °C."""
    least, most = cure_range_of(product_class).hours[Clock.DRY]
    assert most == least * 2
    assert cure_of(product_class).dry_h == most


@pytest.mark.parametrize(
    ("air_c", "bay_min_c", "expected"),
    [(None, None, None), (6.5, None, 6.5), (None, 4, 4), (18.5, 12, 12), (6.5, 12, 6.5)],
)
def test_coldest_known_counts_the_air_it_was_laid_in(
    air_c: float | None, bay_min_c: float | None, expected: float | None
) -> None:
    assert coldest_known(air_c=air_c, bay_min_c=bay_min_c) == expected


def test_clocks_leave_cold_alone_where_the_product_says_so() -> None:
    times = clocks(cure_of(COATING), applied_at=LAID, coldest_c=0, cold_lengthens=False)
    assert times.stretched == 1
    assert times.dry_until - LAID == timedelta(hours=24)


@pytest.mark.parametrize(
    ("laid", "dry"),
    [
        # 24 elapsed hours over London's clock changes of 2026.
        (datetime(2026, 3, 28, 16, tzinfo=LONDON), "2026-03-29T17:00:00+01:00"),
        (datetime(2026, 10, 24, 16, tzinfo=LONDON), "2026-10-25T15:00:00+00:00"),
    ],
)
def test_clocks_count_elapsed_hours_across_a_clock_change(laid: datetime, dry: str) -> None:
    assert clocks(cure_of(COATING), applied_at=laid, coldest_c=None).dry_until.isoformat() == dry


def test_clocks_refuse_a_moment_without_a_zone() -> None:
    with pytest.raises(NaiveMoment):
        clocks(cure_of(COATING), applied_at=datetime(2026, 5, 4), coldest_c=None)  # noqa: DTZ001


@pytest.mark.parametrize("product_class", ProductClass)
def test_every_class_has_hours_in_order_and_a_mark(product_class: ProductClass) -> None:
    ranges = cure_range_of(product_class)
    cure = cure_of(product_class)
    assert ranges.mark in Mark
    assert all(0 <= least <= most for least, most in ranges.hours.values())
    assert {Clock.DRIVE, Clock.DRY, Clock.WASH, Clock.CURED} <= set(ranges.hours)
    assert (cure.topper_h is None) == (Clock.TOPPER not in ranges.hours)


@pytest.mark.parametrize("product_class", ProductClass)
def test_defaults_are_the_cautious_end_of_each_range(product_class: ProductClass) -> None:
    ranges, cure = cure_range_of(product_class).hours, cure_of(product_class)
    assert cure.drive_h == ranges[Clock.DRIVE][1]
    assert cure.dry_h == ranges[Clock.DRY][1]
    assert cure.wash_h == ranges[Clock.WASH][1]
    assert cure.full_h == ranges[Clock.CURED][1]


def test_topper_on_a_coating_waits_for_the_full_cure_not_for_the_longest_figure() -> None:
    cure = cure_of(COATING)
    assert cure == Cure(drive_h=4, dry_h=24, wash_h=168, topper_h=504, full_h=504)
    assert cure_range_of(COATING).hours[Clock.TOPPER] == (168, 720)


def test_tyre_dressing_only_waits_before_driving() -> None:
    assert cure_of(ProductClass.TYRE_GEL).drive_h == pytest.approx(1 / 3, abs=0.01)
    assert cure_of(ProductClass.TYRE_GEL).wash_h == 0
