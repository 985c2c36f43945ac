"""The figures of the winter round: what is shipped, and what a studio may lay over it."""

from __future__ import annotations

from datetime import date

import pytest

from crm.care.figures import FiguresError
from crm.care.surfaces import Zone
from crm.care.tables import DEFAULTS
from crm.care.terms import Mark, ProductClass
from crm.care.winter_figures import WINTER, WORK_NAMES, Work


def test_packages_have_the_mid_points_of_the_usual_hours_and_nights() -> None:
    """Common practice, no source: 3-4, 5-7, 8-11 and 16-24 hours; none, 0-1, 1 and 1-2 nights."""
    found = {work: (one.hours, one.nights) for work, one in WINTER.packages.items()}
    assert found == {
        Work.TOP_UP: (3.5, 0),
        Work.WINTER_COAT: (6, 0.5),
        Work.WHEELS_OFF: (9.5, 1),
        Work.NEW_COATING: (20, 1.5),
    }
    assert set(WORK_NAMES) == set(Work)


def test_correction_and_coating_have_no_place_in_the_rush() -> None:
    assert [work for work, one in WINTER.packages.items() if not one.rush] == [Work.NEW_COATING]


def test_every_table_carries_a_mark() -> None:
    assert set(WINTER.marks) >= {"round", "week", "acceptance", "salt", "places", "packages.top_up"}
    assert set(WINTER.marks.values()) <= set(Mark)


@pytest.mark.parametrize(
    ("last_seen", "chance"),
    [
        (date(2026, 8, 1), 0.40),
        (date(2025, 3, 2), 0.40),
        (date(2025, 3, 1), 0.20),
        (date(2023, 9, 2), 0.20),
        (date(2023, 9, 1), 0.08),
        (date(2015, 1, 1), 0.08),
        (None, 0.08),
    ],
)
def test_chance_of_coming_falls_with_the_time_since_the_car_was_here(
    last_seen: date | None, chance: float
) -> None:
    """Under 18 months 35-45 %, up to 36 months 15-25 %, older under 10 % (common practice, no source)."""
    assert WINTER.chance(last_seen, date(2026, 9, 1)) == chance


def test_studio_lays_its_own_figures_over_the_shipped_ones() -> None:
    own = WINTER.with_overrides(
        {"week": {"reserve": 0.1}, "packages": {"top_up": {"hours": 3}}, "places": {"tops": 0}}
    )
    assert (own.reserve, own.full) == (0.1, 0.85)
    assert own.packages[Work.TOP_UP].hours == 3
    assert own.packages[Work.TOP_UP].lays[Zone.TOPS] is ProductClass.SILICA_TOPPER
    assert own.places[Zone.TOPS] == 0
    assert WINTER.reserve == 0.15


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"week": {"reserve": 2}}, r"^winter\.week\.reserve is 2; it has to be between 0 and 0\.9\.$"),
        ({"week": {"spare": 1}}, r"^There is no figure called week\.spare\.$"),
        ({"acceptance": {"months": [36, 18]}}, r"^winter\.acceptance\.months has to rise"),
        (
            {"acceptance": {"chances": [0.4]}},
            r"^winter\.acceptance\.chances need one more entry than there are months\.$",
        ),
        ({"acceptance": {"chances": [0.4, 0.2, 0]}}, r"has to be between 0\.01 and 1\.$"),
        ({"acceptance": {"months": [18, 30.5]}}, r"^winter\.acceptance\.months has to hold whole numbers\.$"),
        (
            {"acceptance": {"months": [], "chances": [0.4]}},
            r"^winter\.acceptance\.months has to hold one number at least\.$",
        ),
        ({"round": {"weeks": 8.5}}, r"^winter\.round\.weeks has to be a whole number\.$"),
        (
            {"packages": {"top_up": {"rush": 0.5}}},
            r"^winter\.packages\.top_up\.rush has to be a whole number\.$",
        ),
        (
            {"round": {"ask_ahead_days": 6}},
            r"^winter\.round\.ask_ahead_days has to be at least winter\.round\.notice_days, or no week",
        ),
        (
            {"rest": {"seen_days": 90, "forgotten_days": 90}},
            r"^winter\.rest\.forgotten_days has to be more than winter\.rest\.seen_days, or no car",
        ),
        (
            {"packages": {"top_up": {"prep": "spat on"}}},
            r"^winter\.packages\.top_up\.prep: “spat on” is not one of",
        ),
    ],
)
def test_figure_that_cannot_be_meant_is_named(changes: dict[str, object], words: str) -> None:
    with pytest.raises(FiguresError, match=words):
        WINTER.with_overrides(changes)


def test_some_place_has_to_count() -> None:
    nothing = {zone.value: 0 for zone in WINTER.places}
    with pytest.raises(FiguresError, match=r"^winter\.places has to count at least one place\.$"):
        WINTER.with_overrides({"places": nothing})


def test_a_week_may_be_asked_for_on_one_day_alone() -> None:
    own = WINTER.with_overrides({"round": {"ask_ahead_days": 7}})
    assert (own.notice_days, own.ask_ahead_days) == (7, 7)


def test_the_figures_shipped_are_read_once() -> None:
    assert DEFAULTS.winter is WINTER
    assert DEFAULTS.with_overrides({"wear": {"parking": {"garage": 0.85}}}).winter is WINTER
    assert DEFAULTS.with_overrides({"winter": {"week": {"reserve": 0.1}}}).winter.reserve == 0.1
    assert DEFAULTS.winter.reserve == 0.15
