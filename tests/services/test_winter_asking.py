"""Asking cars into weeks: rows, letters, and the plan that follows."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from crm.care.terms import ProductClass
from crm.models import Message, Rank, WinterInvitation
from crm.post.desk import cancel as cancel_letter
from crm.selectors.winter_asked import Stands
from crm.services import visits
from crm.services.errors import Refused
from crm.services.winter_asking import (
    Called,
    ask_in_person,
    ask_week,
    hear_winter_answer,
    take_back_invitation,
)
from crm.services.winter_round import close_round, give_weeks, set_aside
from tests import factories
from tests.conftest import PostOffice
from tests.post.cast import turn
from tests.winter_scene import (
    FIRST_WEEK,
    SEPTEMBER,
    again,
    asked_one,
    opened,
    owner,
    planned_round,
    sealed,
    sent,
    spoken,
    stands,
    the_only,
)

pytestmark = pytest.mark.django_db
Answer, How = WinterInvitation.Answer, WinterInvitation.How
SECOND_WEEK = FIRST_WEEK + timedelta(weeks=1)


def test_asking_a_week_writes_each_owner_one_letter_and_keeps_room() -> None:
    both, other = owner("Ada Quill"), owner("Bram Harrow")
    mine, also_mine, theirs = sealed(both), sealed(both), sealed(other)
    season = planned_round()
    assert set(season.proposals.values_list("car", flat=True)) == {mine.pk, also_mine.pk, theirs.pk}
    mondays = set(season.proposals.values_list("monday", flat=True))
    called = [ask_week(season=season, monday=monday, by=None, now=SEPTEMBER) for monday in sorted(mondays)]
    assert (sum(one.cars for one in called), sum(one.letters for one in called)) == (3, 2)
    letters = {row.car: row.message for row in season.invitations.select_related("car", "message")}
    assert letters[mine] == letters[also_mine] != letters[theirs]
    assert Message.objects.filter(kind=Message.Kind.WINTER).count() == 2
    assert not season.proposals.exists()
    spoken = sum(week.spoken_hours for week in again(season).weeks.all())
    # Three cars at six hours, of whom four in ten are likely to come.
    assert spoken == pytest.approx(3 * 0.4 * 6)
    assert not season.proposals.exists()
    assert not season.left_out.exists()


def test_cars_of_one_owner_are_asked_together_whatever_their_weeks() -> None:
    both = owner("Ada Quill")
    for _ in range(5):
        sealed(both)
    season = planned_round(hours=4, nights=9)
    mondays = sorted(set(season.proposals.values_list("monday", flat=True)))
    assert len(mondays) > 1
    count = season.proposals.count()
    assert ask_week(season=season, monday=mondays[0], by=None, now=SEPTEMBER) == Called(count, 1)
    assert set(season.invitations.values_list("monday", flat=True)) == set(mondays)


def test_week_is_asked_once_and_not_by_a_plan_of_another_day() -> None:
    season, _ = asked_one()
    with pytest.raises(Refused, match="Nobody is left to be asked by letter for that week"):
        ask_week(season=season, monday=FIRST_WEEK, by=None, now=SEPTEMBER)
    with pytest.raises(Refused, match="The plan is of another day"):
        ask_week(season=season, monday=FIRST_WEEK, by=None, now=SEPTEMBER + timedelta(days=1))
    with pytest.raises(Refused, match="The week of 7 September is not in this round"):
        ask_week(season=season, monday=date(2026, 9, 7), by=None, now=SEPTEMBER)
    with pytest.raises(Refused, match="may not do this"):
        ask_week(season=season, monday=FIRST_WEEK, by=factories.user(Rank.BENCH), now=SEPTEMBER)
    close_round(season=season, by=None, now=SEPTEMBER)
    with pytest.raises(Refused, match="This winter round is closed"):
        ask_week(season=season, monday=FIRST_WEEK, by=None, now=SEPTEMBER)


def test_week_that_is_too_near_is_not_asked_by_letter() -> None:
    sealed()
    season = planned_round(first=date(2026, 9, 7))
    with pytest.raises(Refused, match="too near to ask anybody by letter"):
        ask_week(season=season, monday=date(2026, 9, 7), by=None, now=SEPTEMBER)


def test_owner_who_said_no_since_the_plan_is_not_asked() -> None:
    willing, unwilling = owner("Ada Quill"), owner("Bram Harrow")
    sealed(willing), sealed(unwilling)
    season = planned_round(weeks=1)
    factories.consent(unwilling, given=False, at=SEPTEMBER)
    assert ask_week(season=season, monday=FIRST_WEEK, by=None, now=SEPTEMBER) == Called(1, 1)
    assert season.invitations.get().person == willing


def test_invitation_stands_as_its_letter_and_its_time_do() -> None:
    season, invitation = asked_one()
    assert stands(season) == [Stands.TO_LEAVE]
    left = SEPTEMBER + timedelta(days=1)
    sent(invitation, left)
    one = the_only(season, left)
    assert (one.stands, one.asked_on, one.lapses_on) == (Stands.OPEN, date(2026, 9, 2), date(2026, 9, 16))
    # An invitation lapses after ten to fourteen days and its hours go back: common practice, no source.
    assert the_only(season, left + timedelta(days=13)).stands is Stands.OPEN
    assert the_only(season, left + timedelta(days=14)).stands is Stands.LAPSED


def test_letter_that_is_cancelled_leaves_the_car_free_again() -> None:
    season, invitation = asked_one()
    assert invitation.message is not None
    again(season)
    assert season.proposals.count() == 0
    assert spoken(season) == pytest.approx(2.4)
    by = factories.user(Rank.DESK)
    cancel_letter(message=invitation.message, because="rang her instead", by=by, now=SEPTEMBER)
    one = the_only(season, SEPTEMBER)
    assert one.stands is Stands.NEVER_LEFT
    assert one.because.startswith("rang her instead")
    again(season)
    assert (season.proposals.count(), spoken(season)) == (1, 0)


def test_open_letter_does_not_stand_in_the_way_of_its_own_car() -> None:
    season, invitation = asked_one()
    sent(invitation)
    again(season, SEPTEMBER + timedelta(days=1))
    assert spoken(season) == pytest.approx(2.4)
    assert not season.left_out.exists()


def test_asked_in_person_is_for_the_work_the_plan_has_or_would_have() -> None:
    proposed = sealed()
    left = sealed(factories.person("Dov Harrow"), product=ProductClass.LIGHT_COATING)
    season = planned_round()
    assert season.left_out.get().car == left
    rows = [
        ask_in_person(season=season, car=car, monday=SECOND_WEEK, how=How.IN_PERSON, by=None, now=SEPTEMBER)
        for car in (proposed, left)
    ]
    assert [(row.work, row.hours, row.message) for row in rows] == [
        ("winter_coat", 6, None),
        ("top_up", 3.5, None),
    ]
    assert stands(season) == [Stands.OPEN, Stands.OPEN]
    assert not season.proposals.exists()
    with pytest.raises(Refused, match="has been asked already"):
        ask_in_person(season=season, car=left, monday=FIRST_WEEK, how=How.TELEPHONE, by=None, now=SEPTEMBER)


def test_car_without_a_keeper_is_not_asked() -> None:
    car = factories.car(without_keeper=True)
    season = opened()
    with pytest.raises(Refused, match="Nobody is written down as keeper"):
        ask_in_person(season=season, car=car, monday=FIRST_WEEK, how=How.TELEPHONE, by=None, now=SEPTEMBER)


def test_invitation_is_taken_back_until_its_letter_has_left() -> None:
    season, invitation = asked_one()
    take_back_invitation(invitation=invitation, by=None, now=SEPTEMBER)
    assert invitation.message is not None
    invitation.message.refresh_from_db()
    assert invitation.message.state == Message.State.CANCELLED
    assert not season.invitations.exists()
    assert WinterInvitation.everything.filter(round=season).count() == 1
    again(season)
    ask_week(season=season, monday=FIRST_WEEK, by=None, now=SEPTEMBER)
    second = season.invitations.get()
    sent(second)
    with pytest.raises(Refused, match="Its letter has left"):
        take_back_invitation(invitation=second, by=None, now=SEPTEMBER)
    hear_winter_answer(invitation=second, answer=Answer.LATER, by=None, now=SEPTEMBER)
    with pytest.raises(Refused, match="An answer came to it"):
        take_back_invitation(invitation=second, by=None, now=SEPTEMBER)


def test_taking_one_back_leaves_the_rest_of_its_letter() -> None:
    both = owner("Ada Quill")
    sealed(both), sealed(both)
    season = planned_round(weeks=1)
    ask_week(season=season, monday=FIRST_WEEK, by=None, now=SEPTEMBER)
    first, second = season.invitations.order_by("pk")
    take_back_invitation(invitation=first, by=None, now=SEPTEMBER)
    assert second.message is not None
    second.message.refresh_from_db()
    assert second.message.state == Message.State.WAITING
    assert [matter.dropped_because for matter in second.message.matters.order_by("pk")] == [
        "the invitation was taken back",
        "",
    ]


def test_car_left_out_after_it_was_asked_is_no_longer_waited_for() -> None:
    season, invitation = asked_one()
    set_aside(season=season, car=invitation.car, because="sold it on", by=None, now=SEPTEMBER)
    again(season)
    assert season.left_out.get().why == "set_aside"
    assert spoken(season) == 0


def test_invitation_that_somebody_took_back_meanwhile_is_refused_in_words() -> None:
    _, invitation = asked_one()
    on_my_screen = WinterInvitation.objects.get(pk=invitation.pk)
    take_back_invitation(invitation=invitation, by=None, now=SEPTEMBER)
    with pytest.raises(Refused, match="This invitation has been taken back"):
        hear_winter_answer(invitation=on_my_screen, answer=Answer.LATER, by=None, now=SEPTEMBER)
    with pytest.raises(Refused, match="This invitation has been taken back"):
        take_back_invitation(invitation=on_my_screen, by=None, now=SEPTEMBER)


def _first_touched(asked: CaptureQueriesContext, table: str, verb: str) -> int:
    statements = [query["sql"] for query in asked.captured_queries]
    return next(place for place, sql in enumerate(statements) if sql.startswith(verb) and f'"{table}"' in sql)


def test_rows_are_taken_in_one_order_so_that_nobody_waits_for_each_other() -> None:
    season, first = asked_one()
    with CaptureQueriesContext(connection) as asked:
        take_back_invitation(invitation=first, by=None, now=SEPTEMBER)
    the_round = _first_touched(asked, "crm_winterround", "UPDATE")
    assert (
        the_round
        < _first_touched(asked, "crm_message", "SELECT")
        < _first_touched(asked, "crm_message", "UPDATE")
    )
    car = first.car
    second = ask_in_person(
        season=season, car=car, monday=FIRST_WEEK, how=How.TELEPHONE, by=None, now=SEPTEMBER
    )
    season.left_out.create(car=car, why="holds", words="it holds")
    with CaptureQueriesContext(connection) as asked:
        hear_winter_answer(invitation=second, answer=Answer.LATER, by=None, now=SEPTEMBER)
    the_round = _first_touched(asked, "crm_winterround", "UPDATE")
    assert the_round < _first_touched(asked, "crm_winterleftout", "DELETE")


def test_round_is_read_once_however_many_cars_are_asked() -> None:
    for _ in range(3):
        sealed()
    season = planned_round(weeks=1)
    with CaptureQueriesContext(connection) as asked:
        assert ask_week(season=season, monday=FIRST_WEEK, by=None, now=SEPTEMBER) == Called(3, 3)
    read = '"crm_winterround"."salt_from"'
    assert sum(read in query["sql"] for query in asked.captured_queries) == 1


def test_car_that_is_booked_for_spring_is_asked_and_waits_like_any_other(post_office: PostOffice) -> None:
    car = sealed()
    visits.book(
        car=car,
        branch=factories.branch(),
        purpose="correction",
        at=datetime(2027, 4, 20, 8, 0, tzinfo=UTC),
        by=None,
    )
    season = planned_round(weeks=1)
    ask_week(season=season, monday=FIRST_WEEK, by=None, now=SEPTEMBER)
    assert stands(season) == [Stands.TO_LEAVE]
    assert turn(SEPTEMBER).sent == 1
    assert stands(season) == [Stands.OPEN]
    assert spoken(again(season, SEPTEMBER + timedelta(days=1))) == pytest.approx(2.4)


def test_other_car_of_an_owner_waits_until_the_next_letter_may_go() -> None:
    both = owner("Ada Quill")
    season, invitation = asked_one(both)
    other = sealed(both)
    sent(invitation)
    again(season, SEPTEMBER + timedelta(days=1))
    assert not season.proposals.exists()
    assert season.left_out.values_list("car", "why", "words").get() == (
        other.pk,
        "not_reachable",
        "the last letter went on 1 September 2026",
    )
    assert spoken(season) == pytest.approx(2.4)


def test_room_is_kept_for_a_car_asked_by_telephone_whose_owner_wants_no_letters() -> None:
    car = sealed(factories.person("Dov Harrow"))
    season = opened(weeks=1)
    ask_in_person(season=season, car=car, monday=FIRST_WEEK, how=How.TELEPHONE, by=None, now=SEPTEMBER)
    assert spoken(again(season)) == pytest.approx(2.4)
    assert not season.left_out.exists()
    lapsed = SEPTEMBER + timedelta(days=14)
    assert spoken(again(season, lapsed)) == 0
    assert season.left_out.get().why == "no_answer"


def test_nobody_is_asked_into_a_week_that_is_over() -> None:
    car, season = sealed(), opened()
    sunday, monday = (datetime(2026, 9, day, 12, 0, tzinfo=UTC) for day in (20, 21))
    with pytest.raises(Refused, match="That week is over") as refused:
        ask_in_person(season=season, car=car, monday=FIRST_WEEK, how=How.TELEPHONE, by=None, now=monday)
    assert refused.value.field == "monday"
    ask_in_person(season=season, car=car, monday=FIRST_WEEK, how=How.TELEPHONE, by=None, now=sunday)


def test_nobody_is_asked_into_a_week_that_was_just_given_less() -> None:
    sealed()
    season = planned_round(weeks=1)
    give_weeks(season=season, weeks={FIRST_WEEK: (Decimal(0), Decimal(0))}, by=None)
    with pytest.raises(Refused, match="Nobody is left to be asked by letter for that week"):
        ask_week(season=season, monday=FIRST_WEEK, by=None, now=SEPTEMBER)
    assert not again(season).proposals.exists()
    give_weeks(season=season, weeks={FIRST_WEEK: (Decimal(26), Decimal(4))}, by=None)
    again(season)
    assert ask_week(season=season, monday=FIRST_WEEK, by=None, now=SEPTEMBER) == Called(1, 1)
