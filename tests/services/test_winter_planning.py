"""The plan of a winter round from the record: who is proposed, who is left out and why, and what the weeks hold."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine
from pytest_django import DjangoAssertNumQueries

from crm.care.terms import ProductClass
from crm.care.winter_plan import planned
from crm.config.celery import app
from crm.models import Car, Pause, Person, Visit, WinterRound
from crm.services import visits, winter_planning
from crm.services.people import PersonFacts, change_person, pause_letters
from crm.services.winter_planning import plan_round, plan_what_waits
from crm.services.winter_round import close_round, plan_again, set_aside
from crm.tasks import plan_winter
from tests import factories
from tests.winter_scene import APRIL, SEPTEMBER, again, opened, owner, planned_round, sealed

pytestmark = pytest.mark.django_db


def _why(season: WinterRound, car: Car) -> tuple[str, str]:
    return season.left_out.values_list("why", "words").get(car=car)


def test_sealed_car_that_meets_salt_is_proposed_with_its_reason() -> None:
    car, season = sealed(), planned_round()
    one = season.proposals.get()
    assert (one.car, one.work, one.hours, one.nights, one.chance) == (car, "winter_coat", 6.0, 0.5, 0.4)
    assert one.words == (
        "its paint sealant of 14 April 2026 on the lower sides is likely thin by late September 2026; driven on"
        " salted roads; its paint is waxed or sealed; winter coat, six hours, perhaps a night in the bay, in the week"
        " of 28 September"
    )
    assert 0 < one.worth < 0.45 * 151
    assert not season.left_out.exists()
    assert season.value == pytest.approx(0.4 * one.worth)
    assert (season.value, season.how) == (season.bound, "proven")


def test_coated_car_comes_for_a_top_up() -> None:
    sealed(product=ProductClass.LIGHT_COATING, at=APRIL - timedelta(days=300))
    one = planned_round().proposals.get()
    assert (one.work, one.hours, one.nights) == ("top_up", 3.5, 0)


def test_every_car_of_the_branch_has_a_place_and_no_other() -> None:
    asked, stored = sealed(), sealed(stored=True)
    sold = sealed()
    change_status(sold, Car.Status.SOLD)
    never_here = factories.car(keeper=owner())
    elsewhere = sealed()
    there = factories.branch("Saltmarsh Lane")
    stay = visits.book(
        car=elsewhere, branch=there, purpose="wash", at=SEPTEMBER - timedelta(days=60), by=None
    )
    visits.arrive(visit=stay, arrival=visits.Arrival(at=SEPTEMBER - timedelta(days=60)), by=None)
    visits.close_old_visit(visit=stay, at=SEPTEMBER - timedelta(days=60), by=None)
    season = planned_round()
    assert set(season.proposals.values_list("car", flat=True)) == {asked.pk}
    assert set(season.left_out.values_list("car", flat=True)) == {stored.pk}
    at_the_other = planned_round(branch=there)
    assert set(at_the_other.proposals.values_list("car", flat=True)) == {elsewhere.pk}
    assert never_here.pk not in season.left_out.values_list("car", flat=True)


def change_status(car: Car, status: Car.Status) -> None:
    Car.objects.filter(pk=car.pk).update(status=status)


def test_who_is_left_out_has_the_reason_that_stands_in_the_way() -> None:
    no_leave = sealed(factories.person("Dov Harrow"))
    complaint, rest, dispute, dead = (
        sealed(owner(name)) for name in ("Ines Wick", "Jory Wick", "Kezia Wick", "Finn Wick")
    )
    for car, why in (
        (complaint, Pause.Why.COMPLAINT),
        (rest, Pause.Why.ASKED),
        (dispute, Pause.Why.DISPUTE),
    ):
        pause_letters(person=_keeper(car), why=why, since=date(2026, 8, 3), by=None)
    change_person(person=_keeper(dead), facts=PersonFacts(name="Finn Wick", deceased=True), by=None)
    stored = sealed(stored=True)
    dry = sealed(salted=False)
    long_ago = sealed(at=datetime(2022, 5, 4, 9, 0, tzinfo=UTC))
    just_here = sealed(at=SEPTEMBER - timedelta(days=20))
    holds = sealed(product=ProductClass.COATING_PROFESSIONAL, at=SEPTEMBER - timedelta(days=60))
    expected = sealed()
    visits.book(
        car=expected, branch=factories.branch(), purpose="winter", at=SEPTEMBER + timedelta(days=20), by=None
    )
    season = planned_round()
    assert {car: _why(season, car) for car in (no_leave, complaint, rest, dispute, dead)} == {
        no_leave: ("not_reachable", "has not agreed to letters by e-mail"),
        complaint: ("complaint", "a complaint is open since 3 August 2026"),
        rest: ("paused", "letters to its owner are paused since 3 August 2026"),
        dispute: ("not_reachable", "dispute over a bill since 3 August 2026"),
        dead: ("died", "its owner has died: nobody is written to"),
    }
    assert {car: _why(season, car) for car in (stored, dry, long_ago, just_here, expected)} == {
        stored: ("stored", "it is in storage"),
        dry: ("no_salt", "it is not driven on salted roads"),
        long_ago: ("forgotten", "it was last here on 4 May 2022"),
        just_here: ("seen", "it was here on 12 August 2026"),
        expected: ("booked", "it is booked in for 21 September 2026 already"),
    }
    assert _why(season, holds) == ("holds", "what is on it likely holds until the salted months are over")
    assert not season.proposals.exists()


def _keeper(car: Car) -> Person:
    return car.roles.get().person


def test_weeks_are_never_filled_over_their_hours() -> None:
    for _ in range(12):
        sealed()
    season = planned_round(hours=10, nights=1, weeks=2)
    for week in season.weeks.all():
        asked = season.proposals.filter(monday=week.monday)
        expected = sum(one.chance * one.hours for one in asked)
        # Fifteen in a hundred are kept back: common practice, no source.
        assert expected <= 10 * 0.85 + 1e-6
        assert week.asked_hours == pytest.approx(expected)
        assert sum(one.chance * one.nights for one in asked) <= 1 * 0.85 + 1e-6
        assert [week.room_hours, week.room_nights] == pytest.approx([8.5, 0.85])
        assert week.is_open
    reasons = set(season.left_out.values_list("why", flat=True))
    assert season.proposals.count() + season.left_out.count() == 12
    assert reasons == {"no_room"}


def test_the_book_takes_from_the_room_of_its_week() -> None:
    sealed()
    season = opened(weeks=2)
    monday = datetime(2026, 9, 14, 8, 0, tzinfo=UTC)
    stay = visits.book(
        car=factories.car(), branch=season.branch, purpose=Visit.Purpose.COATING, at=monday,
        out=monday + timedelta(days=2), by=None,
    )  # fmt: skip
    wash = visits.book(
        car=factories.car(), branch=season.branch, purpose=Visit.Purpose.WASH, at=monday, by=None
    )
    visits.agree(visit=wash, agreed=visits.Agreed(hours=Decimal("1.5")), by=None)
    off = visits.book(
        car=factories.car(), branch=season.branch, purpose=Visit.Purpose.COATING, at=monday, by=None
    )
    visits.cancel(visit=off, by=None)
    elsewhere = factories.branch("Saltmarsh Lane")
    visits.book(car=factories.car(), branch=elsewhere, purpose=Visit.Purpose.COATING, at=monday, by=None)
    first, second = again(season).weeks.all()
    # Twenty hours of a coating nobody wrote hours down for, and one and a half that somebody did.
    assert (first.spoken_hours, first.spoken_nights) == (21.5, 2)
    assert [first.room_hours, first.room_nights] == pytest.approx([26 * 0.85 - 21.5, 4 * 0.85 - 2])
    assert (second.spoken_hours, second.spoken_nights) == (0, 0)
    visits.agree(visit=stay, agreed=visits.Agreed(hours=Decimal(30)), by=None)
    full = again(season).weeks.first()
    assert full is not None
    assert (full.room_hours, full.is_open) == (0, False)


def test_promised_look_comes_first_and_is_said_first() -> None:
    """A promise asks for a look once a year and at its end: common practice, no source."""
    promised = sealed(product=ProductClass.COATING_PROFESSIONAL, at=datetime(2025, 10, 20, 9, 0, tzinfo=UTC))
    visit = promised.visits.get()
    Visit.objects.filter(pk=visit.pk).update(promise="Five years, looked at every autumn.", promise_months=60)
    for _ in range(5):
        sealed()
    season = planned_round(hours=6, nights=2, weeks=1)
    first = season.proposals.first()
    assert first is not None
    assert (first.car, first.promised) == (promised, True)
    assert first.words.startswith("the inspection it was promised is due by 20 October 2026; ")


@pytest.mark.parametrize(
    ("here_on", "promised"),
    [
        (None, True),
        (datetime(2026, 7, 2, 9, 0, tzinfo=UTC), True),
        (datetime(2026, 8, 20, 9, 0, tzinfo=UTC), False),
    ],
)
def test_promised_look_that_fell_due_in_the_round_is_still_owed(
    here_on: datetime | None, promised: bool
) -> None:
    car = sealed(product=ProductClass.COATING_PROFESSIONAL, at=datetime(2025, 9, 10, 9, 0, tzinfo=UTC))
    car.visits.update(promise="Five years, looked at every autumn.", promise_months=60)
    if here_on is not None:
        stay = visits.book(car=car, branch=factories.branch(), purpose="inspection", at=here_on, by=None)
        visits.write_down_old_visit(visit=stay, arrival=visits.Arrival(at=here_on), left=here_on, by=None)
    season = opened(weeks=9)
    later = SEPTEMBER + timedelta(days=45)
    again(season, later)
    words = "the inspection it was promised was due by 10 September 2026; "
    proposed = season.proposals.filter(car=car, promised=True, words__startswith=words)
    assert proposed.exists() == promised


def test_changed_figure_of_the_studio_counts_in_the_next_plan() -> None:
    for _ in range(9):
        sealed()
    season = planned_round(hours=10, nights=9, weeks=1)
    # Of ten hours 8.5, at 2.4 expected a car.
    assert season.proposals.count() == 3
    factories.studio(engine_overrides={"winter": {"week": {"reserve": 0.0}}})
    assert again(season).proposals.count() == 4


def test_two_at_once_plan_only_once() -> None:
    sealed()
    season = opened()
    WinterRound.objects.filter(pk=season.pk).update(planning_since=SEPTEMBER)
    assert not plan_round(season=season, now=SEPTEMBER + timedelta(minutes=1))
    assert not season.proposals.exists()
    assert plan_round(season=season, now=SEPTEMBER + timedelta(minutes=10))
    assert season.proposals.exists()


def test_change_made_while_the_plan_is_made_leaves_it_one_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    season, plan = opened(), planned

    def meanwhile(*given: object, **more: object) -> object:
        plan_again(season=WinterRound.objects.get(pk=season.pk), by=None)
        return plan(*given, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(winter_planning, "planned", meanwhile)
    again(season)
    assert season.changes == season.planned_changes + 1


def test_failed_planning_leaves_the_plan_before_it_and_may_be_tried_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    sealed()
    season = planned_round()

    def fails(*_given: object, **_more: object) -> None:
        raise MemoryError

    with monkeypatch.context() as patched:
        patched.setattr("crm.services.winter_planning.planned", fails)
        with pytest.raises(MemoryError):
            plan_round(season=season, now=SEPTEMBER)
    assert season.proposals.count() == 1
    assert plan_round(season=season, now=SEPTEMBER)


def test_car_left_out_while_the_plan_is_made_is_not_proposed(monkeypatch: pytest.MonkeyPatch) -> None:
    car, season, plan = sealed(), opened(), planned

    def meanwhile(*given: object, **more: object) -> object:
        by_now = WinterRound.objects.get(pk=season.pk)
        set_aside(season=by_now, car=car, because="sells it in October", by=None, now=SEPTEMBER)
        return plan(*given, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(winter_planning, "planned", meanwhile)
    again(season)
    assert not season.proposals.exists()


def test_round_that_cannot_be_planned_keeps_no_other_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    sealed()
    first, second = opened(), opened(branch=factories.branch("Saltmarsh Lane"))
    plan = plan_round

    def fails_for_the_first(*, season: WinterRound, now: datetime) -> bool:
        if season == first:
            raise ArithmeticError
        return plan(season=season, now=now)

    monkeypatch.setattr(winter_planning, "plan_round", fails_for_the_first)
    assert plan_what_waits(now=SEPTEMBER) == 1
    second.refresh_from_db()
    assert second.planned_for == SEPTEMBER.date()
    with pytest.raises(ArithmeticError):
        plan_what_waits(now=SEPTEMBER, stops=(ArithmeticError,))


def test_turn_plans_what_waits_and_nothing_else() -> None:
    sealed()
    first, second = opened(), opened(branch=factories.branch("Saltmarsh Lane"))
    close_round(season=second, by=None, now=SEPTEMBER)
    assert plan_what_waits(now=SEPTEMBER) == 1
    first.refresh_from_db()
    assert first.planned_for == SEPTEMBER.date()
    assert plan_what_waits(now=SEPTEMBER) == 0
    assert plan_what_waits(now=SEPTEMBER + timedelta(days=1)) == 1


def test_nothing_is_planned_while_cars_wait_for_their_forecasts() -> None:
    car = sealed()
    opened()
    Car.objects.filter(pk=car.pk).update(forecast_stale=True)
    assert plan_what_waits(now=SEPTEMBER) == 0


def test_more_cars_take_no_more_queries(django_assert_max_num_queries: DjangoAssertNumQueries) -> None:
    for _ in range(2):
        sealed()
    season = planned_round()
    with django_assert_max_num_queries(60) as few:
        plan_round(season=season, now=SEPTEMBER)
    for _ in range(8):
        sealed()
    with django_assert_max_num_queries(len(few)):
        plan_round(season=season, now=SEPTEMBER)
    assert season.proposals.count() == 10


def test_task_plans_what_waits_and_beat_sends_it() -> None:
    sealed()
    season = opened()
    with time_machine.travel(SEPTEMBER, tick=False):
        plan_winter()
    season.refresh_from_db()
    assert season.planned_for == SEPTEMBER.date()
    assert app.conf.beat_schedule["plan_winter"]["task"] == plan_winter.name


def test_nothing_is_planned_before_there_is_a_studio() -> None:
    assert plan_what_waits(now=SEPTEMBER) == 0
