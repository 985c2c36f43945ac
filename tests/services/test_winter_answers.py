"""What owners say to a winter invitation: bookings, and hours that are counted once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from crm.models import Car, Visit, WinterInvitation
from crm.selectors.winter_asked import Stands
from crm.services import visits
from crm.services.errors import Refused
from crm.services.winter_asking import ask_in_person, ask_week, hear_winter_answer
from tests import factories
from tests.winter_scene import (
    FIRST_WEEK,
    SEPTEMBER,
    again,
    asked_one,
    planned_round,
    sealed,
    sent,
    spoken,
    stands,
    the_only,
)

pytestmark = pytest.mark.django_db
Answer, How = WinterInvitation.Answer, WinterInvitation.How
A_MORNING = datetime(2026, 9, 16, 7, 40, tzinfo=UTC)
"""08:40 on the Wednesday of the first week."""


def test_yes_books_the_visit_and_holds_its_week() -> None:
    season, invitation = asked_one()
    hear_winter_answer(invitation=invitation, answer=Answer.YES, comes_at=A_MORNING, by=None, now=SEPTEMBER)
    visit = invitation.visit
    assert visit is not None
    assert (visit.state, visit.purpose, visit.planned_in) == (Visit.State.BOOKED, "winter", A_MORNING)
    assert (visit.scope, visit.hours, visit.branch) == ("winter coat", Decimal(6), season.branch)
    assert stands(season) == [Stands.COMING]
    assert spoken(again(season)) == 6
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
    season, invitation = asked_one()
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
    _, invitation = asked_one()
    with pytest.raises(Refused, match=sentence) as refused:
        hear_winter_answer(
            invitation=invitation, answer=Answer.YES, comes_at=comes_at, by=None, now=SEPTEMBER
        )
    assert refused.value.field == "comes_at"
    invitation.refresh_from_db()
    assert invitation.answer == ""


def test_other_answer_after_a_yes_calls_the_visit_off() -> None:
    season, invitation = asked_one()
    hear_winter_answer(invitation=invitation, answer=Answer.YES, comes_at=A_MORNING, by=None, now=SEPTEMBER)
    visit = invitation.visit
    hear_winter_answer(invitation=invitation, answer=Answer.LATER, by=None, now=SEPTEMBER)
    assert visit is not None
    visit.refresh_from_db()
    assert (visit.state, invitation.visit, stands(season)) == (Visit.State.CANCELLED, None, [Stands.LATER])
    assert spoken(again(season)) == 0


def test_visit_that_is_called_off_frees_its_week_and_the_car_is_asked_again_in_four_weeks() -> None:
    season, invitation = asked_one()
    hear_winter_answer(invitation=invitation, answer=Answer.YES, comes_at=A_MORNING, by=None, now=SEPTEMBER)
    assert invitation.visit is not None
    visits.cancel(visit=invitation.visit, by=None)
    assert stands(season) == [Stands.CALLED_OFF]
    assert spoken(again(season)) == 0
    assert season.left_out.get().words.startswith("its visit was called off on ")


def test_car_that_has_been_keeps_its_answer() -> None:
    season, invitation = asked_one()
    hear_winter_answer(invitation=invitation, answer=Answer.YES, comes_at=A_MORNING, by=None, now=SEPTEMBER)
    assert invitation.visit is not None
    visits.arrive(visit=invitation.visit, arrival=visits.Arrival(at=A_MORNING), by=None)
    assert stands(season) == [Stands.CAME]
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
    assert spoken(season) == 0


def test_car_that_was_booked_in_meanwhile_no_longer_waits_and_its_hours_count_once() -> None:
    season, invitation = asked_one()
    visit = visits.book(
        car=invitation.car, branch=season.branch, purpose="winter", at=A_MORNING, by=factories.user()
    )
    visits.agree(visit=visit, agreed=visits.Agreed(hours=Decimal(7)), by=None)
    one = the_only(season, SEPTEMBER)
    assert (one.stands, one.visit) == (Stands.COMING, visit)
    assert spoken(again(season)) == 7
    assert not season.proposals.exists()
    with pytest.raises(Refused, match="has been asked already"):
        ask_in_person(
            season=season, car=invitation.car, monday=FIRST_WEEK, how=How.TELEPHONE, by=None, now=SEPTEMBER
        )
    visits.arrive(visit=visit, arrival=visits.Arrival(at=A_MORNING), by=None)
    assert stands(season) == [Stands.CAME]


def test_wash_or_a_look_is_no_answer_and_neither_is_what_was_called_off() -> None:
    season, invitation = asked_one()
    for purpose in ("wash", "inspection"):
        visits.book(car=invitation.car, branch=season.branch, purpose=purpose, at=A_MORNING, by=None)
    off = visits.book(car=invitation.car, branch=season.branch, purpose="winter", at=A_MORNING, by=None)
    visits.cancel(visit=off, by=None)
    assert stands(season) == [Stands.TO_LEAVE]


def test_visit_that_a_yes_took_from_the_book_counts_with_its_own_hours() -> None:
    season, invitation = asked_one()
    booked = visits.book(
        car=invitation.car,
        branch=season.branch,
        purpose="coating",
        at=A_MORNING,
        out=A_MORNING + timedelta(days=2),
        by=None,
    )
    visits.agree(visit=booked, agreed=visits.Agreed(hours=Decimal(20)), by=None)
    hear_winter_answer(invitation=invitation, answer=Answer.YES, comes_at=A_MORNING, by=None, now=SEPTEMBER)
    assert invitation.visit == booked
    week = again(season).weeks.get()
    assert (week.spoken_hours, week.spoken_nights) == (20, 2)
    assert season.proposals.count() == 0


def test_yes_to_an_older_invitation_is_still_in_the_book() -> None:
    season, first = asked_one()
    sent(first)
    later = SEPTEMBER + timedelta(days=2)
    hear_winter_answer(invitation=first, answer=Answer.LATER, by=None, now=later)
    ask_in_person(season=season, car=first.car, monday=FIRST_WEEK, how=How.TELEPHONE, by=None, now=later)
    hear_winter_answer(invitation=first, answer=Answer.YES, comes_at=A_MORNING, by=None, now=later)
    assert spoken(again(season, later)) == 6


def test_other_answer_leaves_what_stood_in_the_book_for_something_else() -> None:
    season, invitation = asked_one()
    coating = visits.book(car=invitation.car, branch=season.branch, purpose="coating", at=A_MORNING, by=None)
    hear_winter_answer(invitation=invitation, answer=Answer.YES, comes_at=A_MORNING, by=None, now=SEPTEMBER)
    assert invitation.visit == coating
    hear_winter_answer(invitation=invitation, answer=Answer.NO_THANKS, by=None, now=SEPTEMBER)
    coating.refresh_from_db()
    assert coating.state == Visit.State.BOOKED
    invitation.refresh_from_db()
    assert invitation.visit is None


def test_yes_for_another_time_of_the_same_day_moves_the_booking() -> None:
    _, invitation = asked_one()
    afternoon = A_MORNING + timedelta(hours=5)
    for at in (A_MORNING, afternoon, afternoon):
        hear_winter_answer(invitation=invitation, answer=Answer.YES, comes_at=at, by=None, now=SEPTEMBER)
    booked = Visit.objects.filter(car=invitation.car, state=Visit.State.BOOKED)
    assert [visit.planned_in for visit in booked] == [afternoon]
    assert invitation.visit == booked.get()
    assert Visit.objects.filter(car=invitation.car, purpose="winter").count() == 2
