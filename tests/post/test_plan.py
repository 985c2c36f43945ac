"""Who is written to about what, who is not, and why; one letter a person, never twice."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from crm.care.surfaces import Surface, Surfaces
from crm.care.terms import ProductClass
from crm.models import Car, Contact, Forecast, Matter, Message, Pause, Person, PlanDay, Role, Visit
from crm.post.plan import plan_letters, plan_once_a_day, prospects
from crm.post.stop import stop_letters
from crm.selectors.letters import Windows, candidate_pages
from crm.services.registry import give_role
from tests import factories
from tests.post.cast import MAY, OCTOBER, sealed_car, willing

pytestmark = pytest.mark.django_db
Kind = Message.Kind

JULY = datetime(2026, 7, 14, 9, 0, tzinfo=UTC)
"""10:00 on a Tuesday, outside the weeks of winter prompts."""


def _first_low(car: Car) -> date:
    low = Forecast.objects.filter(car=car).order_by("due_on").values_list("due_on", flat=True)[0]
    assert low is not None
    return low


def _reminding_day(car: Car, before: int = 21) -> datetime:
    """A weekday morning on which the reminder of the car's first layer is due (or so many days before it)."""
    day = _first_low(car) - timedelta(days=before)
    return datetime(day.year, day.month, day.day, 9, tzinfo=UTC)


def _summer_car(keeper: Person | None = None, **known: Any) -> Car:
    """A car whose sealant thins in summer, when no winter prompt is in the way."""
    return sealed_car(keeper, at=datetime(2026, 3, 2, 10, tzinfo=UTC), life=(4, 6, 8), salted=None, **known)


def test_reminder_is_planned_on_the_lead_day_and_not_before() -> None:
    car = _summer_car()
    assert plan_letters(now=_reminding_day(car, before=22)).letters == 0
    assert plan_letters(now=_reminding_day(car)).letters == 1
    letter = Message.objects.get()
    assert (letter.kind, letter.state, letter.person) == (
        Kind.TOP_UP,
        Message.State.WAITING,
        car.roles.get().person,
    )
    first = letter.matters.order_by("key").first()
    assert first is not None
    assert first.key.startswith(f"top-up:{car.layers.get().pk}:")


def test_planning_twice_writes_once() -> None:
    car = _summer_car()
    plan_letters(now=_reminding_day(car))
    before = set(Matter.objects.values_list("key", flat=True))
    assert plan_letters(now=_reminding_day(car)).letters == 0
    assert plan_letters(now=_reminding_day(car) + timedelta(days=1)).letters == 0
    assert set(Matter.objects.values_list("key", flat=True)) == before
    assert Message.objects.count() == 1


def test_a_shifted_date_is_no_reason_for_a_second_reminder() -> None:
    car = _summer_car()
    now = _reminding_day(car)
    plan_letters(now=now)
    Forecast.objects.filter(car=car).update(due_on=_first_low(car) + timedelta(days=3))
    assert plan_letters(now=now + timedelta(days=3)).letters == 0


def test_letter_speaks_of_what_falls_due_before_the_next_may_go() -> None:
    keeper = willing()
    first = _summer_car(keeper)
    second = sealed_car(keeper, at=datetime(2026, 3, 16, 10, tzinfo=UTC), salted=None)
    far = sealed_car(keeper, at=datetime(2026, 4, 1, 10, tzinfo=UTC), life=(24, 30, 36), salted=None)
    now = _reminding_day(first)
    assert _first_low(second) - timedelta(days=21) > now.date()
    plan_letters(now=now)
    assert Message.objects.count() == 1
    assert set(Matter.objects.values_list("car", flat=True)) == {first.pk, second.pk}
    assert far.pk not in set(Matter.objects.values_list("car", flat=True))


def test_what_was_found_later_joins_the_letter_that_waits() -> None:
    keeper = willing()
    first = _summer_car(keeper)
    now = _reminding_day(first)
    plan_letters(now=now)
    second = _summer_car(keeper)
    plan_letters(now=now)
    letter = Message.objects.get()
    assert set(letter.matters.values_list("car", flat=True)) == {first.pk, second.pk}


def test_layer_with_nothing_left_is_not_written_about() -> None:
    car = _summer_car()
    Forecast.objects.filter(car=car).update(due_on=None)
    assert plan_letters(now=_reminding_day_of(car)).letters == 0


def _reminding_day_of(car: Car) -> datetime:
    low = Forecast.objects.filter(car=car).order_by("low").values_list("low", flat=True)[0]
    assert low is not None
    return datetime(low.year, low.month, low.day, 9, tzinfo=UTC) - timedelta(days=21)


def test_layer_under_one_that_lasts_longer_is_not_written_about() -> None:
    car = _summer_car()
    coating = factories.product(ProductClass.COATING_PROFESSIONAL, life=(30, 40, 50))
    layer = car.layers.get()
    factories.layer(car, coating, at=layer.laid_at - timedelta(days=2))
    assert Forecast.objects.filter(layer=layer, due_on__isnull=False).exists()
    now = _reminding_day(car)
    assert [want.key for prospect in prospects(now=now) for want in prospect.wants] == []


def test_what_goes_within_weeks_is_renewed_at_washes_and_not_by_letter() -> None:
    car = sealed_car(at=MAY, life=(1, 1.5, 2), salted=None)
    assert _first_low(car) - MAY.date() < timedelta(days=60)
    assert plan_letters(now=_reminding_day(car, before=1)).letters == 0


def test_long_past_date_is_left_in_peace() -> None:
    car = _summer_car()
    last = max(row.due_on for row in Forecast.objects.filter(car=car) if row.due_on)
    late = datetime(last.year, last.month, last.day, 9, tzinfo=UTC) + timedelta(days=46)
    Forecast.objects.filter(car=car).update(likely=last, high=last)
    assert plan_letters(now=late).kept_back == {}
    assert Message.objects.count() == 0


@pytest.mark.parametrize(
    ("change", "because"),
    [
        ({"deceased": True}, None),
        ({"moved_away": True}, None),
    ],
)
def test_people_beyond_reach_are_not_even_candidates(change: dict[str, bool], because: None) -> None:
    car = _summer_car()
    Person.objects.update(**change)
    assert list(prospects(now=_reminding_day(car))) == []


def _refusal(car: Car) -> str:
    planned = plan_letters(now=_reminding_day(car))
    assert planned.letters == 0
    (because,) = planned.kept_back
    return because


def test_never_asked_is_not_a_yes() -> None:
    car = _summer_car(factories.person())
    assert _refusal(car) == "has not agreed to letters by e-mail"


def test_consent_for_another_channel_is_not_a_yes() -> None:
    keeper = factories.person()
    factories.consent(keeper, channel=Contact.Kind.PHONE, at=MAY)
    assert _refusal(_summer_car(keeper)) == "has not agreed to letters by e-mail"


def test_newest_answer_counts() -> None:
    keeper = willing()
    factories.consent(keeper, given=False, at=MAY)
    car = _summer_car(keeper)
    assert _refusal(car) == "said no to letters on 4 May 2026"
    factories.consent(keeper, given=True, at=MAY + timedelta(days=1))
    assert plan_letters(now=_reminding_day(car)).letters == 1


def test_suppressed_address_stays_suppressed_for_a_new_person() -> None:
    old = willing(email="kezia@example.org")
    stop_letters(person=old, how="the link in a letter", now=MAY)
    again = willing(email="Kezia@Example.org")
    assert _refusal(_summer_car(again)) == "this address asked for no more letters"


def test_no_address_is_said() -> None:
    assert _refusal(_summer_car(willing(email=None))) == "no working e-mail address is known"


def test_pause_is_said_and_ends() -> None:
    keeper = willing()
    car = _summer_car(keeper)
    now = _reminding_day(car)
    pause = Pause.objects.create(person=keeper, why=Pause.Why.COMPLAINT, since=date(2026, 5, 1))
    assert _refusal(car) == "open complaint since 1 May 2026"
    pause.until = now.date() - timedelta(days=1)
    pause.save()
    assert plan_letters(now=now).letters == 1


def _letter_that_left(person: Person, at: datetime, state: str = Message.State.SENT) -> None:
    Message.objects.create(
        kind=Kind.TOP_UP,
        state=state,
        person=person,
        not_before=at,
        next_try_at=at,
        expires_at=at + timedelta(days=14),
        claimed_at=at,
        sent_at=at if state == Message.State.SENT else None,
        message_id=f"{person.pk}-{at.timestamp()}@example.com",
        created_at=at,
    )


def test_letters_keep_their_distance() -> None:
    keeper = willing()
    car = _summer_car(keeper)
    now = _reminding_day(car)
    _letter_that_left(keeper, now - timedelta(days=44))
    assert _refusal(car).startswith("the last letter went on ")
    assert plan_letters(now=now + timedelta(days=1)).letters == 1


def test_a_letter_that_may_have_left_counts_as_one() -> None:
    keeper = willing()
    car = _summer_car(keeper)
    _letter_that_left(keeper, _reminding_day(car) - timedelta(days=3), Message.State.UNCERTAIN)
    assert _refusal(car).startswith("the last letter went on ")


def test_four_letters_a_year_over_all_cars() -> None:
    keeper = willing()
    car = _summer_car(keeper)
    now = _reminding_day(car)
    for days in (60, 150, 240, 360):
        _letter_that_left(keeper, now - timedelta(days=days))
    assert _refusal(car) == "4 letters in the last twelve months, and 4 are the most"
    assert plan_letters(now=now + timedelta(days=6)).letters == 1


def test_booked_car_and_sold_car_are_left_out() -> None:
    booked, sold = _summer_car(), _summer_car()
    factories.visit(booked, state=Visit.State.BOOKED, at=_reminding_day(booked) + timedelta(days=5))
    Car.objects.filter(pk=sold.pk).update(status=Car.Status.SOLD)
    assert list(prospects(now=_reminding_day(booked))) == []


def test_booking_that_nobody_kept_is_no_excuse() -> None:
    car = _summer_car()
    factories.visit(car, state=Visit.State.BOOKED, at=_reminding_day(car) - timedelta(days=3))
    assert plan_letters(now=_reminding_day(car)).letters == 1


def test_new_keeper_is_written_to_from_their_own_day() -> None:
    car = _summer_car()
    now = _reminding_day(car)
    old = car.roles.get()
    Role.objects.filter(pk=old.pk).update(until=now.date() + timedelta(days=2))
    new = willing()
    give_role(car=car, person=new, part=Role.Part.KEEPER, since=now.date() + timedelta(days=2), by=None)
    assert [prospect.person for prospect in prospects(now=now)] == [old.person]
    assert [prospect.person for prospect in prospects(now=now + timedelta(days=2))] == [new]


def test_three_silent_years_end_letters() -> None:
    laid = datetime(2023, 3, 6, 10, tzinfo=UTC)
    car = sealed_car(at=laid, surfaces=Surfaces.of([Surface.ROOF]), life=(70, 80, 90), salted=None)
    now = _reminding_day(car)
    assert now - laid > timedelta(days=3 * 365)
    assert list(prospects(now=now)) == []
    factories.visit(car, state=Visit.State.HANDED_OVER, at=laid + timedelta(days=700))
    assert len(list(prospects(now=now))) == 1


# The round


def test_round_is_made_once_a_day_by_the_studios_calendar() -> None:
    sealed_car(salted=None)
    late = datetime(2026, 7, 14, 22, 30, tzinfo=UTC)  # 23:30 in Skerrin
    assert plan_once_a_day(now=late) is not None
    assert plan_once_a_day(now=late + timedelta(minutes=20)) is None
    assert plan_once_a_day(now=late + timedelta(minutes=40)) is not None
    assert sorted(PlanDay.objects.values_list("on", flat=True)) == [date(2026, 7, 14), date(2026, 7, 15)]


def test_round_that_broke_off_is_made_again() -> None:
    factories.studio()
    PlanDay.objects.create(on=JULY.date(), begun_at=JULY)
    assert plan_once_a_day(now=JULY + timedelta(minutes=19)) is None
    assert plan_once_a_day(now=JULY + timedelta(minutes=20)) is not None


def test_number_of_queries_does_not_grow_with_the_cars() -> None:
    counts = []
    for more in (1, 5):
        for _ in range(more):
            sealed_car()
        with CaptureQueriesContext(connection) as asked:
            people = len(list(prospects(now=OCTOBER)))
        counts.append((people, len(asked)))
    assert [people for people, _ in counts] == [1, 6]
    assert counts[0][1] == counts[1][1] <= 20


def test_pages_of_people_leave_nobody_out_and_part_no_one_from_a_car() -> None:
    names = ("Zena", "Ada", "Moss", "Bram", "Yves")
    keepers = [willing(name) for name in names]
    for keeper in (*keepers, keepers[1]):
        sealed_car(keeper)
    windows = Windows.on(factories.studio(), OCTOBER)
    pages = list(candidate_pages(windows, size=2))
    assert [len(page.people) for page in pages] == [2, 2, 1]
    assert [{person.name for person in page.people.values()} for page in pages] == [
        {"Zena", "Ada"},
        {"Moss", "Bram"},
        {"Yves"},
    ]
    cars = [len(page.standings) for page in pages]
    assert cars == [3, 2, 1]
