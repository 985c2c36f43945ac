"""Which cars are due back: one row a car, its earliest layer, and every way to narrow the list."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from crm.care.surfaces import CABIN, PANELS, Surfaces, Zone, surfaces_of
from crm.care.terms import Circumstance, Condition, ProductClass, WashPlan
from crm.models import Car, Forecast, Matter, Message, Studio, Visit
from crm.selectors import due
from crm.selectors.due import DueList, due_list, lapsing_first, salt_turn
from crm.selectors.due_reach import Reaching, reached_by_car
from crm.selectors.due_rows import DueRow, due_rows
from crm.selectors.due_wanted import Lapsing, Salted, Wanted, ZoneGroup
from tests import factories

pytestmark = pytest.mark.django_db

TODAY = date(2026, 10, 6)
NOW = datetime(2026, 10, 6, 9, 0, tzinfo=UTC)
SCREEN = surfaces_of(Zone.SCREEN)


def listed(
    wanted: Wanted | None = None, *, reaching: Reaching | None = None, today: date = TODAY
) -> list[DueRow]:
    studio = factories.studio()
    rows = lapsing_first(wanted or Wanted(), studio=studio, today=today)
    found = due_list(rows, reaching=reaching, studio=studio, today=today, now=NOW)
    return due_rows(found.forecasts, studio=studio, today=today, now=NOW)


def refs(rows: list[DueRow]) -> list[str]:
    return [row.ref for row in rows]


def car_due(
    low: date,
    *,
    high: date | None = None,
    kind: ProductClass = ProductClass.POLYMER_SEALANT,
    surfaces: Surfaces = PANELS,
    car: Car | None = None,
) -> Car:
    """A car whose layer of that class has exactly this window; the engine's own dates are tested elsewhere."""
    row = car or factories.car()
    layer = factories.layer(row, factories.product(kind), surfaces=surfaces, at=NOW - timedelta(days=120))
    last = high or low + timedelta(days=120)
    Forecast.objects.filter(layer=layer).update(low=low, likely=low + (last - low) / 2, high=last, due_on=low)
    return row


def test_a_car_has_one_row_the_layer_that_lapses_first() -> None:
    car = car_due(date(2027, 3, 1))
    car_due(date(2026, 11, 20), kind=ProductClass.GLASS_COATING, surfaces=SCREEN, car=car)
    (row,) = listed()
    assert (row.ref, row.due_on, row.where, row.rest) == (car.ref, date(2026, 11, 20), "windscreen", ())
    sealant = factories.product(ProductClass.POLYMER_SEALANT)
    assert row.also == (f"{sealant.name} until late April 2027",)


def test_rows_come_by_their_low_date_and_backwards_when_asked() -> None:
    late, early, middle = (car_due(date(2026, month, 3)) for month in (12, 10, 11))
    assert refs(listed()) == [early.ref, middle.ref, late.ref]
    assert refs(listed(Wanted(latest_first=True))) == [late.ref, middle.ref, early.ref]


def test_a_layer_that_ended_does_not_count() -> None:
    car = car_due(date(2026, 11, 1))
    Forecast.objects.filter(car=car).update(due_on=None, live=Surfaces())
    assert listed() == []


def test_sold_scrapped_and_stolen_cars_are_left_out_and_stored_ones_are_not() -> None:
    for status in (Car.Status.SOLD, Car.Status.SCRAPPED, Car.Status.STOLEN):
        car_due(date(2026, 11, 1), car=factories.car(without_keeper=True))
        Car.objects.order_by("-pk").update(status=status)
    stored = car_due(date(2026, 11, 1))
    Car.objects.filter(pk=stored.pk).update(status=Car.Status.STORED)
    assert refs(listed()) == [stored.ref]


def test_dressings_that_any_wash_renews_are_left_out() -> None:
    car_due(date(2026, 10, 8), kind=ProductClass.TRIM_DRESSING, surfaces=surfaces_of(Zone.TRIM))
    assert listed() == []


@pytest.mark.parametrize(
    ("lapsing", "inside", "outside"),
    [
        (Lapsing.MONTH, date(2026, 10, 31), date(2026, 11, 1)),
        (Lapsing.QUARTER, date(2027, 1, 6), date(2027, 1, 7)),
        # The salted months of the studio begin on 1 November.
        (Lapsing.WINTER, date(2026, 11, 1), date(2026, 11, 2)),
    ],
)
def test_lapsing_before_takes_in_its_last_day_and_no_more(
    lapsing: Lapsing, inside: date, outside: date
) -> None:
    car = car_due(inside)
    car_due(outside)
    assert refs(listed(Wanted(lapsing=lapsing))) == [car.ref]


def test_a_layer_long_past_its_low_date_is_only_listed_under_any_time() -> None:
    car = car_due(TODAY - timedelta(days=366), high=TODAY - timedelta(days=100))
    assert listed(Wanted(lapsing=Lapsing.MONTH)) == []
    assert refs(listed(Wanted(lapsing=Lapsing.ANY))) == [car.ref]


def test_an_old_layer_does_not_hide_the_one_that_lapses_now() -> None:
    car = car_due(TODAY - timedelta(days=500), high=TODAY - timedelta(days=100))
    car_due(date(2026, 10, 20), kind=ProductClass.GLASS_COATING, surfaces=SCREEN, car=car)
    (row,) = listed(Wanted(lapsing=Lapsing.MONTH))
    assert row.due_on == date(2026, 10, 20)


def test_once_it_is_winter_before_winter_means_before_the_salt_ends() -> None:
    studio = factories.studio()
    assert salt_turn(studio, date(2026, 10, 31)) == (date(2026, 11, 1), False)
    assert salt_turn(studio, date(2026, 12, 24)) == (date(2027, 3, 31), True)


@pytest.mark.parametrize(
    ("wanted", "low", "high"),
    [
        (Condition.HOLDING, TODAY + timedelta(days=1), TODAY + timedelta(days=90)),
        (Condition.THINNING, TODAY, TODAY + timedelta(days=90)),
        (Condition.THINNING, TODAY - timedelta(days=90), TODAY),
        (Condition.DUE_A_LOOK, TODAY - timedelta(days=90), TODAY - timedelta(days=1)),
    ],
)
def test_the_condition_that_is_asked_for_is_the_one_that_is_shown(
    wanted: Condition, low: date, high: date
) -> None:
    car = car_due(low, high=high)
    assert [(row.ref, row.condition) for row in listed(Wanted(condition=wanted))] == [(car.ref, wanted)]
    others = {Condition.HOLDING, Condition.THINNING, Condition.DUE_A_LOOK} - {wanted}
    assert [listed(Wanted(condition=other)) for other in others] == [[], []]


def test_a_zone_shows_the_first_layer_of_that_zone() -> None:
    car = car_due(date(2026, 10, 20))
    car_due(date(2027, 2, 1), kind=ProductClass.GLASS_COATING, surfaces=SCREEN, car=car)
    car_due(date(2026, 10, 9), kind=ProductClass.FABRIC_GUARD, surfaces=surfaces_of(Zone.SEATS), car=car)
    by_group = {group: [row.due_on for row in listed(Wanted(group=group))] for group in (None, *ZoneGroup)}
    assert by_group == {
        None: [date(2026, 10, 20)],
        ZoneGroup.PAINT: [date(2026, 10, 20)],
        ZoneGroup.WHEELS: [],
        ZoneGroup.GLASS: [date(2027, 2, 1)],
        ZoneGroup.TRIM: [],
        ZoneGroup.CABIN: [date(2026, 10, 9)],
    }
    assert surfaces_of(Zone.SEATS) <= CABIN


def test_driven_on_salt_is_yes_no_or_not_known() -> None:
    yes, marked, no, unknown, never_asked = cars = [factories.car() for _ in range(5)]
    factories.keeping(yes, salted_roads=True)
    factories.keeping(no, salted_roads=True)
    factories.keeping(no, since=date(2026, 1, 1), salted_roads=False)
    factories.keeping(unknown, salted_roads=None)
    Car.objects.filter(pk=marked.pk).update(circumstances=[Circumstance.SALTED_ROADS.value])
    for day, car in enumerate(cars, start=1):
        car_due(date(2026, 11, day), car=car)
    assert refs(listed(Wanted(salted=Salted.YES))) == [yes.ref, marked.ref]
    assert refs(listed(Wanted(salted=Salted.NO))) == [no.ref]
    assert refs(listed(Wanted(salted=Salted.UNKNOWN))) == [unknown.ref, never_asked.ref]
    assert [row.salted for row in listed()] == [True, True, False, None, None]


def test_a_change_of_keeping_that_lies_ahead_does_not_count_yet() -> None:
    car = factories.car()
    factories.keeping(car, salted_roads=False)
    factories.keeping(car, since=TODAY + timedelta(days=1), salted_roads=True)
    car_due(date(2026, 11, 1), car=car)
    (row,) = listed()
    assert row.salted is False


def test_on_a_plan_or_without() -> None:
    on, without = car_due(date(2026, 11, 1)), car_due(date(2026, 11, 2))
    Car.objects.filter(pk=on.pk).update(wash_plan=WashPlan.SEALED_DAILY)
    assert refs(listed(Wanted(on_plan=True))) == [on.ref]
    assert refs(listed(Wanted(on_plan=False))) == [without.ref]


def test_text_finds_by_plate_by_keeper_and_by_product() -> None:
    keeper = factories.person("Perpetua Longshanks")
    mine = car_due(date(2026, 11, 1), car=factories.car("QX71 GRY", keeper=keeper))
    glass = car_due(date(2026, 11, 2), kind=ProductClass.GLASS_COATING, surfaces=SCREEN)
    assert refs(listed(Wanted(text="x71"))) == [mine.ref]
    assert refs(listed(Wanted(text="longsh"))) == [mine.ref]
    assert refs(listed(Wanted(text="glass coating"))) == [glass.ref]
    assert listed(Wanted(text="no such thing at all")) == []


def test_who_may_be_reached_and_why_not() -> None:
    agreed = factories.person(letters=True)
    refused = factories.person(letters=False)
    silent = factories.person(email=None, phone=None)
    dead = factories.person(letters=True)
    type(dead).objects.filter(pk=dead.pk).update(deceased=True)
    cars = [
        car_due(date(2026, 11, day), car=factories.car(keeper=person))
        for day, person in enumerate((agreed, refused, silent, dead), start=1)
    ]
    nobody = car_due(date(2026, 11, 9), car=factories.car(without_keeper=True))
    rows = listed()
    assert [(row.reach.how, row.reach.why) for row in rows] == [
        (Reaching.LETTER, ""),
        (Reaching.NOTE, "said no to letters on 4 May 2026"),
        (Reaching.NOTHING, "no working e-mail address is known"),
        (Reaching.NOTHING, "nothing is sent to this person"),
        (Reaching.NOTHING, "no keeper is on file"),
    ]
    assert refs(listed(reaching=Reaching.LETTER)) == [cars[0].ref]
    assert refs(listed(reaching=Reaching.NOTE)) == [cars[1].ref]
    assert refs(listed(reaching=Reaching.NOTHING)) == [cars[2].ref, cars[3].ref, nobody.ref]


def test_a_car_without_a_keeper_is_reached_by_nobody() -> None:
    car = factories.car(without_keeper=True)
    found = reached_by_car([car.pk], studio=factories.studio(), today=TODAY, now=NOW)
    assert (found[car.pk].person, found[car.pk].how) == (None, Reaching.NOTHING)


def test_the_next_visit_is_shown_and_a_booking_that_passed_is_not() -> None:
    car, passed = car_due(date(2026, 11, 1)), car_due(date(2026, 11, 2))
    factories.visit(car, state=Visit.State.BOOKED, at=NOW + timedelta(days=20))
    first = factories.visit(car, state=Visit.State.BOOKED, at=NOW + timedelta(days=3))
    factories.visit(passed, state=Visit.State.BOOKED, at=NOW - timedelta(days=3))
    rows = listed()
    booked = [(row.booked.pk, row.booked.on) if row.booked else None for row in rows]
    assert booked == [(first.pk, date(2026, 10, 9)), None]


def test_what_waits_in_the_post_is_shown_once_and_what_went_is_not() -> None:
    car = car_due(date(2026, 11, 1))
    person = car.roles.get().person
    for state, keys in ((Message.State.WAITING, ("a", "b")), (Message.State.CANCELLED, ("c",))):
        message = Message.objects.create(
            kind=Message.Kind.TOP_UP,
            state=state,
            person=person,
            not_before=NOW,
            next_try_at=NOW,
            expires_at=NOW + timedelta(days=14),
            message_id=f"{state}@example.com",
            created_at=NOW,
        )
        for key in keys:
            Matter.objects.create(message=message, kind=message.kind, car=car, key=key)
    (row,) = listed()
    assert [(posted.kind, posted.state) for posted in row.posted] == [("top-up reminder", "waiting")]


def test_the_number_of_queries_does_not_grow_with_the_rows() -> None:
    studio = factories.studio()
    counts = []
    for more in (1, 2, 22):
        for _ in range(more):
            car_due(date(2026, 11, 1), car=factories.car(keeper=factories.person(letters=True)))
        with CaptureQueriesContext(connection) as queries:
            rows = _page(studio)
        counts.append((len(rows), len(queries)))
    assert [rows for rows, _ in counts] == [1, 3, 25]
    assert len({queries for _, queries in counts}) == 1


def _page(studio: Studio) -> list[DueRow]:
    rows = lapsing_first(Wanted(salted=Salted.UNKNOWN), studio=studio, today=TODAY)
    found: DueList = due_list(rows, reaching=Reaching.LETTER, studio=studio, today=TODAY, now=NOW)
    return due_rows(found.forecasts, studio=studio, today=TODAY, now=NOW)


def test_a_list_begins_at_the_index_of_what_is_due() -> None:
    lapses = lapsing_first(Wanted(lapsing=Lapsing.MONTH), studio=factories.studio(), today=TODAY)
    plan = lapses.rows.values_list("pk")[:26].explain()
    if connection.vendor == "sqlite":
        assert "USING INDEX forecasts_due (due_on" in plan.splitlines()[0]
    else:
        assert "forecasts_due" in plan or "Seq Scan" in plan


def test_a_list_looks_at_a_bounded_number_of_forecasts_and_says_that_there_are_more(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    cars = [
        car_due(date(2026, 11, day), surfaces=SCREEN, kind=ProductClass.GLASS_COATING) for day in range(1, 7)
    ]
    monkeypatch.setattr(due, "SCANNED", 3)
    studio = factories.studio()

    def seen(wanted: Wanted) -> tuple[list[str], bool]:
        found = due_list(
            lapsing_first(wanted, studio=studio, today=TODAY),
            reaching=None,
            studio=studio,
            today=TODAY,
            now=NOW,
        )
        return refs(due_rows(found.forecasts, studio=studio, today=TODAY, now=NOW)), found.cut

    assert seen(Wanted()) == ([car.ref for car in cars[:4]], True)
    assert seen(Wanted(latest_first=True)) == ([car.ref for car in cars[:1:-1]], True)
    plate = cars[5].plates.get().mark
    assert seen(Wanted(text=plate)) == ([cars[5].ref], False)
    monkeypatch.setattr(due, "SCANNED", 6)
    assert seen(Wanted()) == ([car.ref for car in cars], False)
    monkeypatch.setattr(due, "LOOKED_AT", 2)
    assert seen(Wanted()) == ([car.ref for car in cars[:2]], True)
