"""The page of a round: its weeks as they stand to asking, its numbers, and how few queries it takes."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from crm.models import WinterInvitation, WinterRound, WinterWeek
from crm.selectors.studio import the_studio
from crm.selectors.winter_lines import chance_words
from crm.selectors.winter_screen import RoundPage, Stage, round_page
from crm.selectors.winter_week import week_page
from crm.services import visits
from crm.services.winter_asking import ask_in_person, hear_winter_answer
from tests import factories
from tests.web.world import FIRST_WEEK, a_proposal, a_winter, an_invitation
from tests.winter_scene import SEPTEMBER, again, opened, owner, planned_round, sealed

pytestmark = pytest.mark.django_db
TODAY = SEPTEMBER.date()
NOT_YET, FAR = date(2026, 9, 28), date(2026, 10, 5)


def page_of(season: WinterRound) -> RoundPage:
    season.refresh_from_db()
    return round_page(season, studio=the_studio(), now=SEPTEMBER)


def stages(season: WinterRound) -> dict[date, Stage]:
    return {week.monday: week.stage for week in page_of(season).weeks}


def test_weeks_stand_as_far_ahead_as_they_are() -> None:
    """A week's notice, and no more than four weeks ahead: common practice, no source."""
    for _ in range(14):
        sealed()
    season = planned_round(first=date(2026, 8, 24), weeks=8, hours=8)
    found = stages(season)
    assert found.pop(date(2026, 8, 24)) is Stage.OVER
    assert found.pop(date(2026, 8, 31)) is Stage.NEAR
    assert found.pop(date(2026, 9, 7)) is Stage.NEAR
    asked = {row.monday for row in season.proposals.all()}
    assert asked
    for monday, stage in found.items():
        early = monday > TODAY + timedelta(days=28)
        assert stage is ((Stage.AHEAD if early else Stage.ASK) if monday in asked else Stage.ROOM)
    assert {Stage.ASK, Stage.AHEAD} <= set(found.values())


def test_week_before_its_first_plan_and_a_week_that_is_full_say_so() -> None:
    season = opened()
    assert set(stages(season).values()) == {Stage.UNPLANNED}
    again(season)
    assert set(stages(season).values()) == {Stage.ROOM}
    WinterWeek.objects.filter(round=season, monday=NOT_YET).update(is_open=False)
    assert stages(season)[NOT_YET] is Stage.FULL


def test_hours_of_a_week_are_told_apart() -> None:
    """Six booked, a car of six hours asked that comes with two in five, 15 % of 26 kept back (no source)."""
    car = sealed()
    season = planned_round()
    monday = season.proposals.get().monday
    visits.book(car=sealed(), branch=season.branch, purpose="winter", at=SEPTEMBER.replace(day=17), by=None)
    ask_in_person(
        season=season, car=car, monday=monday, how=WinterInvitation.How.TELEPHONE, by=None, now=SEPTEMBER
    )
    season.refresh_from_db()
    line = next(week for week in page_of(again(season)).weeks if week.monday == monday)
    booked = 6.0 if monday == date(2026, 9, 14) else 0.0
    assert line.hours.firm == pytest.approx(booked)
    assert line.hours.held == pytest.approx(0.4 * 6)
    assert line.hours.kept == pytest.approx(0.15 * 26)
    assert line.hours.spoken + line.hours.free + line.hours.to_ask + line.hours.kept == pytest.approx(26)


def test_numbers_follow_what_becomes_of_the_cars() -> None:
    cars = [sealed() for _ in range(3)]
    sealed(keeper=factories.person())
    season = planned_round()
    page = page_of(season)
    assert (page.to_ask, page.not_asked, page.waiting, page.coming, page.current) == (3, 1, 0, 0, True)
    rows = [
        ask_in_person(
            season=season,
            car=car,
            monday=date(2026, 9, 21),
            how=WinterInvitation.How.TELEPHONE,
            by=None,
            now=SEPTEMBER,
        )
        for car in cars[:2]
    ]
    hear_winter_answer(
        invitation=rows[0],
        answer=WinterInvitation.Answer.YES,
        comes_at=SEPTEMBER.replace(day=22),
        by=None,
        now=SEPTEMBER,
    )
    page = page_of(season)
    assert (page.to_ask, page.waiting, page.coming, page.oldest) == (1, 1, 1, TODAY)
    assert (page.current, page.of_today) == (False, True)


def test_where_nobody_is_to_be_asked_now_the_next_week_is_named() -> None:
    sealed()
    season = planned_round(first=FAR)
    page = page_of(season)
    assert page.now == []
    assert page.next is not None
    assert page.next.monday == season.proposals.get().monday


def test_page_and_week_take_the_same_few_queries_for_one_car_and_for_many() -> None:
    season = opened(first=FIRST_WEEK, now=factories.NOW)
    counts = []
    for number in (1, 12):
        for _ in range(number):
            a_proposal(season, car=sealed(owner()))
            an_invitation(season)
        season.refresh_from_db()
        week = season.weeks.earliest("monday")
        studio = the_studio()
        with CaptureQueriesContext(connection) as round_queries:
            round_page(season, studio=studio, now=factories.NOW)
        with CaptureQueriesContext(connection) as week_queries:
            week_page(season, week, studio=studio, now=factories.NOW)
        counts.append((len(round_queries), len(week_queries)))
    assert counts[0] == counts[1]
    assert counts[0][0] <= 7
    assert counts[0][1] <= 8


def test_cars_of_one_owner_in_two_weeks_are_one_letter() -> None:
    ada = owner("Ada Quill")
    season = a_winter(factories.car()).season
    season.proposals.all().delete()
    first = a_proposal(season, car=sealed(ada))
    other = a_proposal(season, car=sealed(ada), monday=FIRST_WEEK + timedelta(days=7))
    week = season.weeks.get(monday=FIRST_WEEK)
    page = week_page(season, week, studio=the_studio(), now=factories.NOW)
    assert [one.row for one in page.proposed] == [first]
    assert [one.row for one in page.with_them] == [other]
    assert (len(page.asking), page.letters, page.can_be_asked) == (2, 1, True)
    before = page.key
    other.delete()
    assert week_page(season, week, studio=the_studio(), now=factories.NOW).key != before


@pytest.mark.parametrize(
    ("chance", "words"),
    [(0.4, "2 in 5"), (0.2, "1 in 5"), (0.08, "1 in 12"), (1.0, "certain"), (0.01, "fewer than 1 in 12")],
)
def test_chances_are_said_as_people_say_them(chance: float, words: str) -> None:
    assert chance_words(chance) == words
