"""The winter round as a whole: a reason for every car, no week too full, and plans made again from answers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.coats import Habit
from crm.care.seasons import MonthDay, Season
from crm.care.surfaces import Zone
from crm.care.terms import ProductClass
from crm.care.winter_calls import Answer, Invitation, Why
from crm.care.winter_car import Candidate, Owner, Whereabouts
from crm.care.winter_figures import WINTER, Work
from crm.care.winter_plan import invitations_for, planned, round_mondays
from crm.care.winter_problem import How
from crm.care.winter_round import Plan, PlanError, Round, Week
from crm.care.winter_worth import Cover
from tests.care.sample_coats import COP, SEA, SEASONS
from tests.care.sample_winter import FIRST, HABIT, ON, a_round, car, covered, weeks

OFF_SALT = Habit(date(2020, 1, 1), salted_roads=False)


def _in_or_out(plan: Plan) -> dict[int, str]:
    """Every car with what became of it."""
    found = [(one.key, "call") for one in plan.calls]
    found += [(one.key, "waiting") for one in plan.waiting]
    found += [(one.key, one.why.value) for one in plan.left]
    assert len(found) == len({key for key, _ in found})
    return dict(found)


def _require_sound(season: Round, cars: Sequence[Candidate], plan: Plan) -> None:
    """One reason for every car; no week over what it can give; nobody asked into a week that is full."""
    assert set(_in_or_out(plan)) >= {one.key for one in cars}
    told = (
        [one.words for one in plan.calls]
        + [one.words for one in plan.waiting]
        + [one.words for one in plan.left]
    )
    assert all(told)
    figures = season.figures
    for week, use in zip(season.weeks, plan.weeks, strict=True):
        calls = [call for call in plan.calls if call.monday == week.monday]
        hours = sum(call.chance * call.hours for call in calls)
        nights = sum(call.chance * call.nights for call in calls)
        assert [use.asked_hours, use.asked_nights] == pytest.approx([hours, nights])
        if calls:
            assert use.spoken_hours <= figures.full * week.hours + 1e-6
            assert use.spoken_hours + hours <= (1 - figures.reserve) * week.hours + 1e-6
            assert use.spoken_nights + nights <= (1 - figures.reserve) * week.nights + 1e-6
    assert plan.value == pytest.approx(sum(call.chance * call.worth for call in plan.calls))
    assert plan.value <= plan.bound + 1e-9


def test_call_says_why_for_what_and_when() -> None:
    season = a_round(*weeks(30, 0, 0, 0, 30))
    plan = planned(season, [car(7, SEA, date(2026, 8, 24), last_seen=date(2025, 10, 1))])
    (call,) = plan.calls
    assert (call.key, call.monday, call.work, call.hours) == (7, date(2026, 10, 5), Work.WINTER_COAT, 6)
    assert (call.chance, call.promised) == (0.4, False)
    assert call.words == (
        "its paint sealant of 24 August 2026 on the lower sides is likely thin by around December 2026;"
        " driven on salted roads; its paint is waxed or sealed;"
        " winter coat, six hours, perhaps a night in the bay, in the week of 5 October"
    )
    assert (plan.how, plan.left, plan.waiting) == (How.PROVEN, (), ())
    _require_sound(season, [], plan)


def test_every_car_left_out_has_one_reason() -> None:
    season = a_round(*weeks(30))
    cars = [
        car(1, owner=Owner(opted_out=True)),
        car(2, owner=Owner(complaint_since=date(2026, 8, 3))),
        car(3, whereabouts=Whereabouts.SOLD),
        car(4, booked_on=date(2026, 9, 1)),
        car(5, habit=OFF_SALT),
        car(6, COP, date(2026, 6, 1)),
        car(7, None, cover=()),
    ]
    plan = planned(season, cars)
    assert _in_or_out(plan) == {
        1: "opted_out",
        2: "complaint",
        3: "sold",
        4: "booked",
        5: "no_salt",
        6: "holds",
        7: "no_salt",
    }
    assert [one.key for one in plan.left] == [1, 2, 3, 4, 5, 6, 7]
    assert (plan.value, plan.bound, plan.gap) == (0, 0, 0)


def test_most_worth_for_an_hour_comes_first_and_the_other_is_told_by_how_much() -> None:
    season = a_round(*weeks(3), figures=WINTER)
    bare, sealed = car(1, None), car(2, SEA, date(2026, 8, 20))
    plan = planned(season, [bare, sealed])
    assert _in_or_out(plan) == {1: "call", 2: "no_room"}
    (left,) = plan.left
    assert left.words.startswith("no room left: the last car in the week of 7 September avoids ")
    assert " unprotected days for each hour of work, this one " in left.words


def test_car_whose_work_no_longer_fits_is_told_so() -> None:
    """A top-up fills the week; a winter coat of the better rate would not fit into it at all."""
    season = a_round(*weeks(2))
    coated = car(1, COP, date(2023, 6, 1))
    plan = planned(season, [coated, car(2, None)])
    assert _in_or_out(plan) == {1: "call", 2: "no_room"}
    assert plan.left[0].words == (
        "no room left: six hours no longer fit into the week of 7 September, its best, or into another"
    )


def test_round_without_an_open_week_says_so() -> None:
    full = Week(FIRST, 30, 20, booked_hours=26)
    plan = planned(a_round(full), [car(1)])
    assert [(one.why, one.words) for one in plan.left] == [
        (Why.NO_ROOM, "no room left: every week of the round that can still be asked for is full")
    ]


@pytest.mark.parametrize(("booked", "open_"), [(25.4, True), (25.5, True), (25.6, False)])
def test_nobody_is_asked_into_a_week_that_is_more_than_85_in_a_hundred_full(
    booked: float, open_: bool
) -> None:
    """With no reserve there would be room, so that the rule is seen by itself."""
    figures = WINTER.with_overrides({"week": {"reserve": 0}})
    plan = planned(a_round(Week(FIRST, 30, 20, booked), figures=figures), [car(1)])
    assert plan.weeks[0].open is open_
    assert bool(plan.calls) is open_


def test_reserve_is_kept_back_of_hours_and_nights() -> None:
    """Of 30 hours 25.5 are to give: ten winter coats at 2.4 expected hours; of 2 nights 1.7: eight at 0.2."""
    cars = [car(key, None) for key in range(20)]
    assert len(planned(a_round(Week(FIRST, 30, 20)), cars).calls) == 10
    assert len(planned(a_round(Week(FIRST, 30, 2)), cars).calls) == 8


def test_week_is_asked_for_seven_days_ahead_at_the_latest() -> None:
    for on, open_ in ((FIRST - timedelta(days=7), True), (FIRST - timedelta(days=6), False)):
        assert planned(a_round(*weeks(30), on=on), [car(1)]).weeks[0].open is open_


def test_promised_inspection_comes_before_worth() -> None:
    due = date(2026, 11, 3)
    promised = car(1, COP, date(2026, 1, 10), promise_due=due, last_seen=date(2026, 1, 10))
    plan = planned(a_round(*weeks(3)), [promised, car(2, None), car(3, None)])
    assert _in_or_out(plan) == {1: "call", 2: "no_room", 3: "no_room"}
    assert plan.calls[0].promised
    assert plan.calls[0].words.startswith("the inspection it was promised is due by 3 November 2026; ")
    roomy = planned(a_round(*weeks(30)), [promised, car(2, None)])
    assert [call.key for call in roomy.calls] == [1, 2]


def test_promise_does_not_write_to_who_wants_no_letters() -> None:
    promised = car(1, promise_due=date(2026, 11, 3), owner=Owner(opted_out=True))
    assert _in_or_out(planned(a_round(*weeks(30)), [promised])) == {1: "opted_out"}


def _sent(key: int, monday: date = FIRST, asked_on: date = ON, **answer: object) -> Invitation:
    return Invitation(
        key=key,
        monday=monday,
        asked_on=asked_on,
        hours=6.0,
        nights=0.5,
        chance=0.4,
        **answer,  # type: ignore[arg-type]
    )


def test_plan_is_made_again_from_the_answers() -> None:
    on = ON + timedelta(days=7)
    cars = [car(key, None) for key in range(1, 7)]
    sent = [
        _sent(1, answer=Answer.YES, answered_on=ON + timedelta(days=2)),
        _sent(2, answer=Answer.NO_THANKS, answered_on=on),
        _sent(3, answer=Answer.LATER, answered_on=on),
        _sent(4),
        _sent(5, asked_on=on - timedelta(days=14)),
    ]
    season = a_round(*weeks(30), on=on)
    plan = planned(season, cars, sent)
    assert _in_or_out(plan) == {
        1: "waiting",
        2: "no_thanks",
        3: "later",
        4: "waiting",
        5: "no_answer",
        6: "call",
    }
    assert [(one.key, one.held) for one in plan.waiting] == [(1, True), (4, False)]
    # A yes counts whole, an open one by its chance; what lapsed or was declined gives its hours back.
    assert plan.weeks[0].spoken_hours == pytest.approx(6 + 0.4 * 6)
    assert plan.weeks[0].spoken_nights == pytest.approx(0.5 + 0.4 * 0.5)
    assert plan.weeks[0].room_hours == pytest.approx(0.85 * 30 - 8.4)
    _require_sound(season, cars, plan)


def test_yes_takes_the_room_that_it_was_only_expected_to_take() -> None:
    """Ten were asked where ten times 0.4 fit; when five say yes the week is full."""
    cars = [car(key, None) for key in range(12)]
    season = a_round(*weeks(30))
    first = planned(season, cars)
    sent = [
        Invitation(key=call.key, monday=call.monday, asked_on=ON, hours=6, nights=0.5, chance=0.4)
        for call in first.calls
    ]
    answered = [replace(one, answer=Answer.YES, answered_on=ON) for one in sent[:5]] + sent[5:]
    second = planned(season, cars, answered)
    assert (len(first.calls), len(second.calls)) == (10, 0)
    assert not second.weeks[0].open


def test_yes_of_a_car_that_is_gone_from_the_list_still_holds_its_week() -> None:
    plan = planned(a_round(*weeks(30)), [], [_sent(99, answer=Answer.YES)])
    assert (plan.weeks[0].spoken_hours, plan.waiting[0].key) == (6, 99)


def test_open_invitation_of_who_opted_out_since_gives_its_hours_back_but_a_yes_stands() -> None:
    cars = [car(1, owner=Owner(opted_out=True)), car(2, owner=Owner(opted_out=True))]
    plan = planned(a_round(*weeks(30)), cars, [_sent(1), _sent(2, answer=Answer.YES)])
    assert _in_or_out(plan) == {1: "opted_out", 2: "waiting"}
    assert plan.weeks[0].spoken_hours == 6


def test_order_of_cars_and_invitations_does_not_matter() -> None:
    cars = [car(key, kind) for key, kind in enumerate((SEA, None, COP, SEA, None, SEA))]
    sent = [_sent(1), _sent(4, answer=Answer.LATER)]
    season = a_round(*weeks(5, 4, 6))
    assert planned(season, cars, sent) == planned(season, cars[::-1], sent[::-1])


def test_same_car_or_week_twice_is_refused() -> None:
    with pytest.raises(PlanError, match=r"^The same car is in the round twice\.$"):
        planned(a_round(*weeks(30)), [car(1), car(1)])
    with pytest.raises(PlanError, match=r"^The same week is in the round twice\.$"):
        planned(a_round(*weeks(30), *weeks(30)), [car(1)])


def test_round_without_weeks_or_cars_is_empty() -> None:
    assert planned(a_round(), [car(1)]).calls == ()
    assert planned(a_round(*weeks(30)), []).value == 0


def test_weeks_carry_their_iso_names() -> None:
    plan = planned(a_round(*weeks(30, 30)), [])
    assert [use.name for use in plan.weeks] == ["2026-W37", "2026-W38"]


def test_season_of_eleven_weeks_opens_in_early_september_and_ends_in_mid_november() -> None:
    """Early September to mid-November, some 10 or 11 weeks (common practice, no source)."""
    mondays = round_mondays(SEASONS.salt, date(2026, 8, 20))
    assert (len(mondays), mondays[0], mondays[-1]) == (11, date(2026, 8, 31), date(2026, 11, 9))
    assert round_mondays(SEASONS.salt, date(2027, 1, 5)) == mondays
    southern = Season(MonthDay(5, 1), MonthDay(9, 30))
    assert round_mondays(southern, date(2026, 12, 1))[0] == date(2027, 3, 1)


def test_about_fifteen_invitations_fill_an_empty_week_of_one_person() -> None:
    """26 h / 4.3 h a car / 0.40 (common practice, no source)."""
    assert invitations_for(26, 0, 0, hours_a_car=4.3, chance=0.4) == 15
    assert invitations_for(26, 12, 5, hours_a_car=4.3, chance=0.4) == 3
    assert invitations_for(26, 30, 0, hours_a_car=4.3, chance=0.4) == 0
    assert invitations_for(26, 20, 9, hours_a_car=4.3, chance=0.4) == 0


def test_plan_asks_as_many_as_the_rule_of_thumb_into_an_empty_week() -> None:
    """4.3 hours a car; 30.6 hours less the reserve are 26."""
    figures = WINTER.with_overrides({"packages": {"top_up": {"hours": 4.3}}})
    cars = [car(key, COP, date(2022, 1, 1)) for key in range(60)]
    plan = planned(a_round(Week(FIRST, 30.6, 20), figures=figures), cars)
    assert len(plan.calls) == 15


@st.composite
def fleets(draw: st.DrawFn) -> list[Candidate]:
    """A few cars, some of whom may not be asked."""
    found = []
    for key in range(draw(st.integers(1, 6))):
        kind: ProductClass | None = draw(st.sampled_from([SEA, COP, None]))
        laid_on = draw(st.sampled_from([date(2023, 5, 1), date(2026, 4, 14), date(2026, 7, 1)]))
        owner = draw(
            st.sampled_from(
                [
                    Owner(),
                    Owner(),
                    Owner(),
                    Owner(opted_out=True),
                    Owner(paused_since=ON),
                    Owner(reachable=False),
                ]
            )
        )
        found.append(
            car(
                key,
                cover=covered(kind, laid_on),
                owner=owner,
                whereabouts=draw(st.sampled_from([Whereabouts.ACTIVE] * 4 + [Whereabouts.SOLD])),
                last_seen=draw(st.sampled_from([date(2026, 4, 14), date(2024, 10, 1), None])),
                promise_due=draw(st.sampled_from([None, None, date(2026, 11, 3)])),
                habit=draw(st.sampled_from([HABIT, HABIT, OFF_SALT, None])),
            )
        )
    return found


@given(
    cars=fleets(),
    hours=st.lists(st.floats(0, 20), min_size=1, max_size=3),
    booked=st.floats(0, 20),
    nights=st.floats(0, 2),
    answers=st.lists(st.sampled_from([None, *Answer]), max_size=3),
)
@settings(max_examples=50, deadline=None)
def test_every_plan_is_sound_and_asks_nobody_who_may_not_be_asked(
    cars: list[Candidate],
    hours: list[float],
    booked: float,
    nights: float,
    answers: list[Answer | None],
) -> None:
    season = a_round(*(replace(week, booked_hours=booked) for week in weeks(*hours, nights=nights)))
    sent = [_sent(key, answer=answer) for key, answer in enumerate(answers)]
    plan = planned(season, cars, sent, gap=0.0)
    _require_sound(season, cars, plan)
    asked = {call.key for call in plan.calls}
    for one in cars:
        owner = one.owner
        if (
            owner is None
            or owner.opted_out
            or owner.paused_since
            or not owner.reachable
            or one.whereabouts is Whereabouts.SOLD
        ):
            assert one.key not in asked
    roomier = a_round(*(replace(week, hours=week.hours + 5, nights=week.nights + 1) for week in season.weeks))
    after = planned(roomier, cars, sent, gap=0.0)
    before_promised, after_promised = (sum(call.promised for call in each.calls) for each in (plan, after))
    assert after_promised >= before_promised
    if after_promised == before_promised:
        assert after.value >= plan.value - 1e-9


def test_bare_places_are_said_before_small_ones() -> None:
    plan = planned(a_round(*weeks(30)), [car(1, None)])
    assert plan.calls[0].words.startswith(
        "nothing protects its lower sides; driven on salted roads; its paint is bare;"
    )
    (call,) = planned(a_round(*weeks(30)), [car(1, None, habit=None)]).calls
    assert "whether it meets salt is not known" in call.words


def test_cover_of_small_places_alone_gives_no_reason_of_its_own() -> None:
    promised = car(1, cover=(Cover(Zone.SEALS),), promise_due=date(2026, 11, 3))
    (call,) = planned(a_round(*weeks(30)), [promised]).calls
    assert call.words == (
        "the inspection it was promised is due by 3 November 2026; driven on salted roads; its paint is bare;"
        " winter coat, six hours, perhaps a night in the bay, in the week of 7 September"
    )
