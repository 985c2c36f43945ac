"""A winter round: opened for a season, given hours, changed and closed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
import time_machine

from crm.models import Rank, WinterRound
from crm.selectors.winter_plan_state import plan_is_current, round_of, rounds_to_plan
from crm.services import visits
from crm.services.errors import Refused
from crm.services.winter_round import (
    Opening,
    close_round,
    close_what_is_over,
    give_weeks,
    open_round,
    plan_again,
    reopen_round,
    set_aside,
    suggested_opening,
    take_up_again,
)
from crm.tasks import housekeeping
from tests import factories
from tests.winter_scene import FIRST_WEEK, SEPTEMBER, again, opened, planned_round, sealed

pytestmark = pytest.mark.django_db
LONDON = ZoneInfo("Europe/London")


def test_round_is_of_the_season_that_its_first_week_leads_to() -> None:
    season = opened()
    assert (season.salt_from, season.salt_until) == (date(2026, 11, 1), date(2027, 3, 31))
    assert str(season) == "Winter round 2026/27, Greywater Yard"
    assert [(week.monday, int(week.hours), int(week.nights)) for week in season.weeks.all()] == [
        (date(2026, 9, 14), 26, 4),
        (date(2026, 9, 21), 26, 4),
        (date(2026, 9, 28), 26, 4),
    ]


def test_a_season_has_one_round_and_a_branch_one_that_is_going() -> None:
    season = opened()
    with pytest.raises(Refused, match="is going at Greywater Yard already"):
        opened()
    close_round(season=season, by=None, now=SEPTEMBER)
    with pytest.raises(Refused, match="has its round already"):
        opened()
    reopen_round(season=season, by=None)
    assert season.is_going
    elsewhere = opened(branch=factories.branch("Saltmarsh Lane"))
    assert elsewhere.branch != season.branch


def test_closed_round_is_opened_again_only_while_no_other_is_going() -> None:
    season = opened()
    close_round(season=season, by=None, now=SEPTEMBER)
    opened(first=date(2027, 9, 6))
    with pytest.raises(Refused, match="Another winter round is going"):
        reopen_round(season=season, by=None)


@pytest.mark.parametrize(
    ("opening", "field"),
    [
        (Opening(first_monday=date(2026, 9, 15), weeks=3), "first_monday"),
        (Opening(first_monday=FIRST_WEEK, weeks=0), "weeks"),
        (Opening(first_monday=FIRST_WEEK, weeks=31), "weeks"),
        (Opening(first_monday=date(2027, 3, 1), weeks=6), "weeks"),
        (Opening(first_monday=FIRST_WEEK, weeks=3, hours=Decimal(-1)), "hours"),
        (Opening(first_monday=FIRST_WEEK, weeks=3, nights=Decimal(100)), "nights"),
    ],
)
def test_weeks_that_make_no_sense_are_refused(opening: Opening, field: str) -> None:
    with pytest.raises(Refused) as refused:
        open_round(branch=factories.branch(), opening=opening, by=None, now=SEPTEMBER)
    assert refused.value.field == field
    assert not WinterRound.objects.exists()


@pytest.mark.parametrize(
    ("today", "first", "weeks"),
    [
        # Eight weeks before the week in which salting starts, eleven weeks long: common practice, no source.
        (date(2026, 7, 20), date(2026, 8, 31), 11),
        (date(2026, 9, 16), date(2026, 9, 14), 9),
        (date(2026, 11, 11), date(2026, 11, 9), 1),
        (date(2026, 11, 25), date(2026, 11, 30), 6),
        (date(2027, 3, 20), date(2027, 3, 22), 1),
        # Nothing is left of that winter: the weeks are those before the next.
        (date(2027, 3, 30), date(2027, 9, 6), 11),
    ],
)
def test_suggested_weeks_are_those_of_the_season_that_are_left(today: date, first: date, weeks: int) -> None:
    suggested = suggested_opening(factories.studio(), today)
    assert (suggested.first_monday, suggested.weeks) == (first, weeks)
    at = datetime.combine(today, SEPTEMBER.time(), LONDON)
    assert open_round(branch=factories.branch(), opening=suggested, by=None, now=at).weeks.count() == weeks


def test_plan_waits_again_after_every_change() -> None:
    car, season = sealed(), planned_round()
    today = SEPTEMBER.date()
    assert plan_is_current(season, today)
    assert not rounds_to_plan(today).exists()
    changes: tuple[Callable[[], object], ...] = (
        lambda: give_weeks(season=season, weeks={FIRST_WEEK: (Decimal(10), Decimal(1))}, by=None),
        lambda: set_aside(season=season, car=car, because="sells it in October", by=None, now=SEPTEMBER),
        lambda: take_up_again(season=season, car=car, by=None),
        lambda: plan_again(season=season, by=None),
        lambda: visits.cancel(
            visit=visits.book(car=sealed(), branch=season.branch, purpose="detail", at=SEPTEMBER, by=None),
            by=None,
        ),
    )
    stay = visits.book(car=sealed(), branch=season.branch, purpose="detail", at=SEPTEMBER, by=None)
    again(season)
    changes += (lambda: visits.agree(visit=stay, agreed=visits.Agreed(hours=Decimal(9)), by=None),)
    for change in changes:
        change()
        season.refresh_from_db()
        assert not plan_is_current(season, today)
        assert plan_is_current(again(season), today)


def test_plan_is_made_anew_on_the_next_day() -> None:
    season = planned_round()
    assert not plan_is_current(season, date(2026, 9, 2))
    assert list(rounds_to_plan(date(2026, 9, 2))) == [season]
    close_round(season=season, by=None, now=SEPTEMBER)
    assert not rounds_to_plan(date(2026, 9, 2)).exists()


def test_hours_belong_to_weeks_of_the_round() -> None:
    season = opened()
    give_weeks(season=season, weeks={FIRST_WEEK: (Decimal("12.5"), Decimal(2))}, by=None)
    assert season.weeks.filter(monday=FIRST_WEEK).values_list("hours", "nights").get() == (
        Decimal("12.5"),
        Decimal(2),
    )
    with pytest.raises(Refused, match="The week of 7 September is not in this round"):
        give_weeks(season=season, weeks={date(2026, 9, 7): (Decimal(1), Decimal(1))}, by=None)
    with pytest.raises(Refused):
        give_weeks(season=season, weeks={FIRST_WEEK: (Decimal(1000), Decimal(2))}, by=None)


def test_closed_round_is_not_changed() -> None:
    car, season = sealed(), opened()
    close_round(season=season, by=None, now=SEPTEMBER)
    changes: tuple[Callable[[], None], ...] = (
        lambda: plan_again(season=season, by=None),
        lambda: set_aside(season=season, car=car, because="sold", by=None, now=SEPTEMBER),
        lambda: close_round(season=season, by=None, now=SEPTEMBER),
    )
    for change in changes:
        with pytest.raises(Refused, match="This winter round is closed"):
            change()


def test_leaving_a_car_out_needs_a_reason_and_can_be_taken_back() -> None:
    car, season = sealed(), planned_round()
    assert season.proposals.get().car == car
    with pytest.raises(Refused) as refused:
        set_aside(season=season, car=car, because="  ", by=None, now=SEPTEMBER)
    assert refused.value.field == "because"
    set_aside(season=season, car=car, because="sells it in October", by=None, now=SEPTEMBER)
    assert not season.proposals.exists()
    again(season)
    assert [(row.why, row.words) for row in season.left_out.all()] == [
        ("set_aside", "left out by the studio: sells it in October")
    ]
    take_up_again(season=season, car=car, by=None)
    assert again(season).proposals.get().car == car


@pytest.mark.parametrize("rank", [Rank.BENCH, Rank.LEAD])
def test_the_bench_changes_no_round(rank: Rank) -> None:
    by, season = factories.user(rank), opened()
    with pytest.raises(Refused, match="may not do this"):
        plan_again(season=season, by=by)
    with pytest.raises(Refused, match="may not do this"):
        close_round(season=season, by=by, now=SEPTEMBER)


def test_round_of_a_branch_is_the_one_that_is_going_or_that_of_the_coming_season() -> None:
    season = opened()
    assert round_of(season.branch, date(2026, 9, 1)) == season
    close_round(season=season, by=None, now=SEPTEMBER)
    assert round_of(season.branch, date(2027, 3, 31)) == season
    assert round_of(season.branch, date(2027, 4, 1)) is None


def test_round_is_closed_by_itself_when_its_salted_months_are_past() -> None:
    season = opened()
    last_day = datetime(2027, 3, 31, 12, 0, tzinfo=LONDON)
    assert close_what_is_over(now=last_day) == 0
    with time_machine.travel(last_day + timedelta(days=1), tick=False):
        housekeeping()
    season.refresh_from_db()
    assert not season.is_going
    assert season.history.count() == 2


def test_only_rounds_that_are_going_are_closed_by_themselves() -> None:
    by_hand = opened()
    close_round(season=by_hand, by=None, now=SEPTEMBER)
    opened(branch=factories.branch("Saltmarsh Lane")), opened(branch=factories.branch("Quay Street"))
    spring = datetime(2027, 4, 1, 12, 0, tzinfo=LONDON)
    assert (close_what_is_over(now=spring), close_what_is_over(now=spring)) == (2, 0)
    by_hand.refresh_from_db()
    assert by_hand.closed_at == SEPTEMBER
