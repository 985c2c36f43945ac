"""Who is not asked and why, and what invitations that were sent mean on a later day."""

from __future__ import annotations

from datetime import date

import pytest

from crm.care.coats import Habit
from crm.care.winter_calls import Answer, Invitation, Pending, Skipped, Why, out_of_season, pending, refusal
from crm.care.winter_car import Owner, Whereabouts
from tests.care.sample_coats import SEA
from tests.care.sample_winter import car

ON = date(2026, 9, 21)
WEEK = date(2026, 10, 5)
LAID = date(2026, 4, 14)


@pytest.mark.parametrize(
    ("facts", "why", "words"),
    [
        ({"owner": None}, Why.NO_OWNER, "nobody is written down as its owner"),
        ({"owner": Owner(died=True)}, Why.DIED, "its owner has died: nobody is written to"),
        (
            {"owner": Owner(complaint_since=date(2026, 9, 3))},
            Why.COMPLAINT,
            "a complaint is open since 3 September 2026",
        ),
        (
            {"owner": Owner(paused_since=date(2026, 5, 1))},
            Why.PAUSED,
            "letters to its owner are paused since 1 May 2026",
        ),
        ({"owner": Owner(opted_out=True)}, Why.OPTED_OUT, "its owner wants no invitations"),
        (
            {"owner": Owner(reachable=False)},
            Why.NOT_REACHABLE,
            "there is no address at which its owner may be written to",
        ),
        ({"owner": Owner(unpaid=True)}, Why.UNPAID, "a bill is still to be settled"),
        ({"owner": Owner(too_far=True)}, Why.TOO_FAR, "its owner lives too far away"),
        ({"whereabouts": Whereabouts.SOLD}, Why.SOLD, "it has been sold"),
        ({"whereabouts": Whereabouts.STORED}, Why.STORED, "it is in storage"),
        ({"whereabouts": Whereabouts.STOLEN}, Why.STOLEN, "it was stolen"),
        ({"whereabouts": Whereabouts.SCRAPPED}, Why.SCRAPPED, "it has been scrapped or has left the country"),
        ({"habit": Habit(date(2026, 9, 1), stored=True)}, Why.STORED, "it is in storage"),
        ({"booked_on": date(2026, 11, 16)}, Why.BOOKED, "it is booked in for 16 November 2026 already"),
        ({"last_seen": date(2026, 8, 11)}, Why.SEEN, "it was here on 11 August 2026"),
    ],
)
def test_car_that_is_not_asked_has_its_reason_in_words(
    facts: dict[str, object], why: Why, words: str
) -> None:
    assert refusal(car(1, SEA, LAID, **facts), ON) == Skipped(why, words)


@pytest.mark.parametrize(
    "facts",
    [
        {},
        {"booked_on": date(2026, 11, 17)},
        {"booked_on": date(2026, 9, 20)},
        {"last_seen": date(2026, 8, 10)},
        {"last_seen": None},
    ],
)
def test_car_that_may_be_asked_has_none(facts: dict[str, object]) -> None:
    assert refusal(car(1, SEA, LAID, **facts), ON) is None


def test_death_of_the_owner_goes_before_everything_else() -> None:
    owner = Owner(died=True, complaint_since=ON, opted_out=True, unpaid=True)
    found = refusal(car(owner=owner, whereabouts=Whereabouts.SOLD), ON)
    assert found is not None
    assert found.why is Why.DIED


def _asked(asked_on: date, answer: Answer | None = None, answered_on: date | None = None) -> Invitation:
    return Invitation(
        key=1,
        monday=WEEK,
        asked_on=asked_on,
        hours=6.0,
        nights=0.5,
        chance=0.4,
        answer=answer,
        answered_on=answered_on,
    )


def test_yes_holds_its_hours_whole() -> None:
    found = pending([_asked(date(2026, 9, 14), Answer.YES, date(2026, 9, 16))], ON)
    assert found == Pending(WEEK, 6.0, 0.5, True, "has said yes to the week of 5 October")


def test_open_invitation_speaks_for_its_chance_until_the_fourteenth_day() -> None:
    found = pending([_asked(date(2026, 9, 8))], ON)
    assert isinstance(found, Pending)
    assert (found.hours, found.nights, found.held) == (0.4 * 6.0, 0.4 * 0.5, False)
    assert found.words == (
        "asked on 8 September 2026 for the week of 5 October; the answer is open until 22 September 2026"
    )


def test_invitation_lapses_after_fourteen_days_and_the_car_is_left_in_peace() -> None:
    assert pending([_asked(date(2026, 9, 7))], ON) == Skipped(
        Why.NO_ANSWER, "asked on 7 September 2026 without an answer: not asked again this season"
    )


def test_no_thanks_is_for_the_season() -> None:
    found = pending([_asked(date(2026, 9, 1), Answer.NO_THANKS, date(2026, 9, 2))], ON)
    assert found == Skipped(Why.NO_THANKS, "said no thanks on 2 September 2026: not asked again this season")


def test_later_is_asked_again_once_from_four_weeks_on() -> None:
    once = [_asked(date(2026, 8, 20), Answer.LATER, date(2026, 8, 25))]
    assert pending(once, ON) == Skipped(
        Why.LATER, "said later on 25 August 2026: to be asked again from 22 September 2026"
    )
    assert pending(once, date(2026, 9, 22)) is None
    twice = [*once, _asked(date(2026, 9, 22), Answer.LATER, date(2026, 9, 24))]
    for order in (twice, twice[::-1]):
        assert pending(order, date(2026, 12, 1)) == Skipped(
            Why.LATER, "said later a second time on 24 September 2026: not asked again this season"
        )


def test_later_without_a_day_counts_from_the_asking() -> None:
    once = [_asked(date(2026, 9, 1), Answer.LATER)]
    assert pending(once, ON) == Skipped(Why.LATER, "said later: to be asked again from 29 September 2026")


def test_car_that_was_never_asked_has_nothing_pending() -> None:
    assert pending([], ON) is None


@pytest.mark.parametrize(
    ("at_risk", "best", "why"),
    [
        (0.0, 0.0, Why.NO_SALT),
        (3.9, 3.0, Why.HOLDS),
        (30.0, 3.9, Why.LITTLE_USE),
        (30.0, 4.0, None),
    ],
)
def test_visit_that_avoids_little_is_not_proposed(at_risk: float, best: float, why: Why | None) -> None:
    found = out_of_season(at_risk, best)
    assert (found and found.why) == why


def test_little_use_says_how_little() -> None:
    found = out_of_season(30.2, 2.6)
    assert found is not None
    assert found.words == "of 30 unprotected days a visit in any of these weeks would avoid 3"
