"""Asking cars into weeks, and what their owners say: rows, letters, bookings, and the plan that follows."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from crm.care.terms import ProductClass
from crm.models import Car, Message, Rank, Visit, WinterInvitation, WinterRound
from crm.post.desk import cancel as cancel_letter
from crm.post.states import move
from crm.selectors.winter_asked import Asked, Stands
from crm.selectors.winter_facts import asked_so_far
from crm.services import visits
from crm.services.errors import Refused
from crm.services.winter_asking import (
    Called,
    ask_in_person,
    ask_week,
    hear_winter_answer,
    take_back_invitation,
)
from crm.services.winter_round import close_round, set_aside
from tests import factories
from tests.winter_scene import FIRST_WEEK, SEPTEMBER, again, opened, owner, planned_round, sealed

pytestmark = pytest.mark.django_db
Answer, How = WinterInvitation.Answer, WinterInvitation.How
SECOND_WEEK = FIRST_WEEK + timedelta(weeks=1)
A_MORNING = datetime(2026, 9, 16, 7, 40, tzinfo=UTC)
"""08:40 on the Wednesday of the first week."""


def _asked_one() -> tuple[WinterRound, WinterInvitation]:
    sealed()
    season = planned_round(weeks=1)
    assert ask_week(season=season, monday=FIRST_WEEK, by=None, now=SEPTEMBER) == Called(1, 1)
    return season, season.invitations.get()


def _stands(season: WinterRound, now: datetime = SEPTEMBER) -> list[Stands]:
    return [one.stands for one in asked_so_far(season, now=now)]


def _the_only(season: WinterRound, now: datetime) -> Asked:
    (one,) = asked_so_far(season, now=now)
    return one


def _sent(invitation: WinterInvitation, at: datetime = SEPTEMBER) -> None:
    """The letter leaves, as the post would have it."""
    assert invitation.message is not None
    move(invitation.message, Message.State.SENDING, because="", claimed_at=at)
    move(invitation.message, Message.State.SENT, because="", sent_at=at)


def _spoken(season: WinterRound) -> float:
    week = season.weeks.first()
    assert week is not None
    return week.spoken_hours


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
    season, _ = _asked_one()
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
    season, invitation = _asked_one()
    assert _stands(season) == [Stands.TO_LEAVE]
    sent = SEPTEMBER + timedelta(days=1)
    _sent(invitation, sent)
    one = _the_only(season, sent)
    assert (one.stands, one.asked_on, one.lapses_on) == (Stands.OPEN, date(2026, 9, 2), date(2026, 9, 16))
    # An invitation lapses after ten to fourteen days and its hours go back: common practice, no source.
    assert _the_only(season, sent + timedelta(days=13)).stands is Stands.OPEN
    assert _the_only(season, sent + timedelta(days=14)).stands is Stands.LAPSED


def test_letter_that_is_cancelled_leaves_the_car_free_again() -> None:
    season, invitation = _asked_one()
    assert invitation.message is not None
    again(season)
    assert season.proposals.count() == 0
    assert _spoken(season) == pytest.approx(2.4)
    by = factories.user(Rank.DESK)
    cancel_letter(message=invitation.message, because="rang her instead", by=by, now=SEPTEMBER)
    one = _the_only(season, SEPTEMBER)
    assert one.stands is Stands.NEVER_LEFT
    assert one.because.startswith("rang her instead")
    again(season)
    assert (season.proposals.count(), _spoken(season)) == (1, 0)


def test_open_letter_does_not_stand_in_the_way_of_its_own_car() -> None:
    season, invitation = _asked_one()
    _sent(invitation)
    again(season, SEPTEMBER + timedelta(days=1))
    assert _spoken(season) == pytest.approx(2.4)
    assert not season.left_out.exists()


def test_yes_books_the_visit_and_holds_its_week() -> None:
    season, invitation = _asked_one()
    hear_winter_answer(invitation=invitation, answer=Answer.YES, comes_at=A_MORNING, by=None, now=SEPTEMBER)
    visit = invitation.visit
    assert visit is not None
    assert (visit.state, visit.purpose, visit.planned_in) == (Visit.State.BOOKED, "winter", A_MORNING)
    assert (visit.scope, visit.hours, visit.branch) == ("winter coat", Decimal(6), season.branch)
    assert _stands(season) == [Stands.COMING]
    assert _spoken(again(season)) == 6
    assert not season.left_out.exists()


def test_yes_for_another_week_holds_that_one() -> None:
    sealed()
    season = planned_round()
    invitation = ask_in_person(
        season=season, car=Car.objects.get(), monday=FIRST_WEEK, how=How.TELEPHONE, by=None, now=SEPTEMBER
    )
    later = A_MORNING + timedelta(weeks=1)
    hear_winter_answer(invitation=invitation, answer=Answer.YES, comes_at=later, by=None, now=SEPTEMBER)
    again(season)
    assert [week.spoken_hours for week in season.weeks.all()] == [0, 6, 0]


def test_yes_takes_the_visit_that_is_in_the_book_for_that_day() -> None:
    season, invitation = _asked_one()
    booked = visits.book(
        car=invitation.car, branch=season.branch, purpose="winter", at=A_MORNING + timedelta(hours=2), by=None
    )
    hear_winter_answer(invitation=invitation, answer=Answer.YES, comes_at=A_MORNING, by=None, now=SEPTEMBER)
    assert invitation.visit == booked
    assert Visit.objects.filter(car=invitation.car, state=Visit.State.BOOKED).count() == 1


@pytest.mark.parametrize(
    ("comes_at", "sentence"),
    [(None, "Say on which day it comes"), (SEPTEMBER - timedelta(days=1), "That day is over")],
)
def test_yes_needs_a_day_that_is_still_to_come(comes_at: datetime | None, sentence: str) -> None:
    _, invitation = _asked_one()
    with pytest.raises(Refused, match=sentence) as refused:
        hear_winter_answer(
            invitation=invitation, answer=Answer.YES, comes_at=comes_at, by=None, now=SEPTEMBER
        )
    assert refused.value.field == "comes_at"
    invitation.refresh_from_db()
    assert invitation.answer == ""


def test_other_answer_after_a_yes_calls_the_visit_off() -> None:
    season, invitation = _asked_one()
    hear_winter_answer(invitation=invitation, answer=Answer.YES, comes_at=A_MORNING, by=None, now=SEPTEMBER)
    visit = invitation.visit
    hear_winter_answer(invitation=invitation, answer=Answer.LATER, by=None, now=SEPTEMBER)
    assert visit is not None
    visit.refresh_from_db()
    assert (visit.state, invitation.visit, _stands(season)) == (Visit.State.CANCELLED, None, [Stands.LATER])
    assert _spoken(again(season)) == 0


def test_visit_that_is_called_off_frees_its_week_and_the_car_is_asked_again_in_four_weeks() -> None:
    season, invitation = _asked_one()
    hear_winter_answer(invitation=invitation, answer=Answer.YES, comes_at=A_MORNING, by=None, now=SEPTEMBER)
    assert invitation.visit is not None
    visits.cancel(visit=invitation.visit, by=None)
    assert _stands(season) == [Stands.CALLED_OFF]
    assert _spoken(again(season)) == 0
    assert season.left_out.get().words.startswith("its visit was called off on ")


def test_car_that_has_been_keeps_its_answer() -> None:
    season, invitation = _asked_one()
    hear_winter_answer(invitation=invitation, answer=Answer.YES, comes_at=A_MORNING, by=None, now=SEPTEMBER)
    assert invitation.visit is not None
    visits.arrive(visit=invitation.visit, arrival=visits.Arrival(at=A_MORNING), by=None)
    assert _stands(season) == [Stands.CAME]
    with pytest.raises(Refused, match="The answer stands"):
        hear_winter_answer(invitation=invitation, answer=Answer.LATER, by=None, now=A_MORNING)


def test_no_thanks_and_later_leave_the_car_out_with_what_was_said() -> None:
    sealed(), sealed()
    season = planned_round(weeks=1)
    ask_week(season=season, monday=FIRST_WEEK, by=None, now=SEPTEMBER)
    first, second = season.invitations.order_by("pk")
    hear_winter_answer(invitation=first, answer=Answer.NO_THANKS, by=None, now=SEPTEMBER)
    hear_winter_answer(invitation=second, answer=Answer.LATER, by=None, now=SEPTEMBER)
    again(season)
    assert set(season.left_out.values_list("why", "words")) == {
        ("no_thanks", "said no thanks on 1 September 2026: not asked again this season"),
        ("later", "said later on 1 September 2026: to be asked again from 29 September 2026"),
    }
    assert _spoken(season) == 0


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
    assert _stands(season) == [Stands.OPEN, Stands.OPEN]
    assert not season.proposals.exists()
    with pytest.raises(Refused, match="has been asked already"):
        ask_in_person(season=season, car=left, monday=FIRST_WEEK, how=How.TELEPHONE, by=None, now=SEPTEMBER)


def test_car_without_a_keeper_is_not_asked() -> None:
    car = factories.car(without_keeper=True)
    season = opened()
    with pytest.raises(Refused, match="Nobody is written down as keeper"):
        ask_in_person(season=season, car=car, monday=FIRST_WEEK, how=How.TELEPHONE, by=None, now=SEPTEMBER)


def test_invitation_is_taken_back_until_its_letter_has_left() -> None:
    season, invitation = _asked_one()
    take_back_invitation(invitation=invitation, by=None, now=SEPTEMBER)
    assert invitation.message is not None
    invitation.message.refresh_from_db()
    assert invitation.message.state == Message.State.CANCELLED
    assert not season.invitations.exists()
    assert WinterInvitation.everything.filter(round=season).count() == 1
    again(season)
    ask_week(season=season, monday=FIRST_WEEK, by=None, now=SEPTEMBER)
    second = season.invitations.get()
    _sent(second)
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
    season, invitation = _asked_one()
    set_aside(season=season, car=invitation.car, because="sold it on", by=None, now=SEPTEMBER)
    again(season)
    assert season.left_out.get().why == "set_aside"
    assert _spoken(season) == 0


def test_car_that_was_booked_in_meanwhile_no_longer_waits_and_its_hours_count_once() -> None:
    season, invitation = _asked_one()
    visit = visits.book(
        car=invitation.car, branch=season.branch, purpose="winter", at=A_MORNING, by=factories.user()
    )
    visits.agree(visit=visit, agreed=visits.Agreed(hours=Decimal(7)), by=None)
    one = _the_only(season, SEPTEMBER)
    assert (one.stands, one.visit) == (Stands.COMING, visit)
    assert _spoken(again(season)) == 7
    assert not season.proposals.exists()
    with pytest.raises(Refused, match="has been asked already"):
        ask_in_person(
            season=season, car=invitation.car, monday=FIRST_WEEK, how=How.TELEPHONE, by=None, now=SEPTEMBER
        )
    visits.arrive(visit=visit, arrival=visits.Arrival(at=A_MORNING), by=None)
    assert _stands(season) == [Stands.CAME]


def test_wash_or_a_look_is_no_answer_and_neither_is_what_was_called_off() -> None:
    season, invitation = _asked_one()
    for purpose in ("wash", "inspection"):
        visits.book(car=invitation.car, branch=season.branch, purpose=purpose, at=A_MORNING, by=None)
    off = visits.book(car=invitation.car, branch=season.branch, purpose="winter", at=A_MORNING, by=None)
    visits.cancel(visit=off, by=None)
    assert _stands(season) == [Stands.TO_LEAVE]
