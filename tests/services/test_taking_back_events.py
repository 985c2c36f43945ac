"""An event that did not happen: the car, its people and its layers are as they were."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from crm.care.surfaces import PANELS, Surface, Surfaces
from crm.models import Car, CarEvent, Keeping, Rank, Role
from crm.selectors.coats import fresh_paint, live_surfaces
from crm.selectors.held import keepers_on, roles_on
from crm.services.errors import Refused
from crm.services.registry import end_roles, give_role
from crm.services.taking_back import take_back_event
from tests import factories as made

pytestmark = pytest.mark.django_db
NOW = made.NOW
TODAY = NOW.date()
Kind, Status = CarEvent.Kind, Car.Status
BONNET = Surfaces.of([Surface.BONNET])


def _back(event: CarEvent) -> Car:
    take_back_event(event=event, because="wrong car", by=None, now=NOW)
    return Car.objects.get(pk=event.car_id)


def _open(car: Car) -> list[tuple[str, str]]:
    return [(role.person.name, role.part) for role in Role.objects.filter(car=car, until__isnull=True)]


def _until(role: Role, day: date) -> Role:
    """The role with an end, as somebody writes it down."""
    role.until = day
    role.save()
    return role


def _again(*roles: Role) -> list[Role]:
    return [Role.objects.get(pk=role.pk) for role in roles]


@pytest.mark.parametrize("kind", [Kind.SOLD, Kind.SCRAPPED, Kind.STOLEN])
def test_a_car_that_had_not_gone_has_its_people_again(kind: CarEvent.Kind) -> None:
    car = made.car(keeper=made.person("Ada Quill"))
    give_role(car=car, person=made.person("Bram Harrow"), part="payer", since=date(2025, 1, 1), by=None)
    event = made.event(car, kind, on=TODAY)
    assert (Car.objects.get().status, _open(car)) == (kind.value, [])
    assert _back(event).status == Status.ACTIVE
    assert _open(car) == [("Ada Quill", "keeper"), ("Bram Harrow", "payer")]
    assert Role.objects.filter(ended_by__isnull=False).count() == 0


def test_it_stays_on_record_with_the_reason_and_counts_no_more() -> None:
    event = made.event(made.car(), Kind.SOLD, on=TODAY)
    _back(event)
    assert list(CarEvent.objects.all()) == []
    kept = CarEvent.everything.get()
    assert (kept.taken_back_at, kept.taken_back_because) == (NOW, "wrong car")
    assert kept.history.count() == 2
    with pytest.raises(Refused, match="taken back already"):
        take_back_event(event=kept, because="again", by=None, now=NOW)


def test_a_part_that_had_ended_before_stays_ended() -> None:
    car = made.car(keeper=made.person("Ada Quill"))
    driver = give_role(
        car=car, person=made.person("Dov Brine"), part="driver", since=date(2025, 1, 1), by=None
    )
    Role.objects.filter(pk=driver.pk).update(until=TODAY)
    event = made.event(car, Kind.SOLD, on=TODAY)
    _back(event)
    assert _open(car) == [("Ada Quill", "keeper")]


@pytest.mark.parametrize("kind", [Kind.SOLD, Kind.SCRAPPED, Kind.STOLEN])
@pytest.mark.parametrize("part", [Role.Part.KEEPER, Role.Part.PAYER, Role.Part.DRIVER])
def test_a_part_whose_end_lies_ahead_ends_with_the_car_and_comes_back_with_that_end(
    kind: CarEvent.Kind, part: str
) -> None:
    car, until = made.car(without_keeper=True), TODAY + timedelta(days=40)
    role = _until(give_role(car=car, person=made.person(), part=part, since=date(2025, 1, 1), by=None), until)
    event = made.event(car, kind, on=TODAY)
    role.refresh_from_db()
    assert (role.until, role.ended_by, Car.objects.get().status) == (TODAY, event, kind.value)
    assert list(roles_on(TODAY).filter(car=car)) == []
    assert _back(event).status == Status.ACTIVE
    role.refresh_from_db()
    assert (role.until, role.ended_by) == (until, None)
    assert list(roles_on(TODAY).filter(car=car)) == [role]


def test_a_part_that_ends_on_the_day_or_begins_after_it_is_not_ended_by_the_sale() -> None:
    car, on = made.car(), TODAY - timedelta(days=3)
    over, late = (
        give_role(car=car, person=made.person(), part="driver", since=since, by=None)
        for since in (date(2025, 1, 1), TODAY)
    )
    _until(over, on)
    made.event(car, Kind.SOLD, on=on)
    assert [(role.until, role.ended_by) for role in _again(over, late)] == [(on, None), (None, None)]


def test_what_ended_after_the_day_of_a_sale_written_down_late_ends_on_that_day() -> None:
    car, until = made.car(without_keeper=True), TODAY - timedelta(days=1)
    role = give_role(car=car, person=made.person(), part="keeper", since=date(2025, 1, 1), by=None)
    _until(role, until)
    event = made.event(car, Kind.SOLD, on=TODAY - timedelta(days=9))
    assert [(one.until, one.ended_by) for one in _again(role)] == [(event.on, event)]
    _back(event)
    assert [(one.until, one.ended_by) for one in _again(role)] == [(until, None)]


def test_the_next_keeper_was_known_already_and_everything_is_as_it_was() -> None:
    car, begins = made.car(without_keeper=True), TODAY + timedelta(days=20)
    ada = give_role(car=car, person=made.person("Ada Quill"), part="keeper", since=date(2025, 1, 1), by=None)
    payer = give_role(
        car=car, person=made.person("Ada's firm"), part="payer", since=date(2025, 1, 1), by=None
    )
    _until(ada, begins)
    bram = Role.objects.create(car=car, person=made.person("Bram Harrow"), part="keeper", since=begins)
    event = made.event(car, Kind.SOLD, on=TODAY)
    assert [role.until for role in _again(ada, payer, bram)] == [TODAY, TODAY, None]
    assert _back(event).status == Status.ACTIVE
    assert [role.until for role in _again(ada, payer, bram)] == [begins, None, None]


def test_who_was_to_keep_it_for_a_time_does_not_come_back_to_a_car_that_somebody_keeps_since() -> None:
    car = made.car(without_keeper=True)
    ada = give_role(car=car, person=made.person("Ada Quill"), part="keeper", since=date(2025, 1, 1), by=None)
    _until(ada, TODAY + timedelta(days=40))
    event = made.event(car, Kind.SOLD, on=TODAY - timedelta(days=3))
    car.refresh_from_db()
    bram = Role.objects.create(
        car=car, person=made.person(), part="keeper", since=TODAY, until=TODAY + timedelta(days=9)
    )
    assert _back(event).status == Status.ACTIVE
    assert [(role.until, role.ended_by) for role in _again(ada)] == [(event.on, event)]
    assert list(keepers_on(TODAY).filter(car=car)) == [bram]


@pytest.mark.parametrize("first_back", [0, 1])
def test_of_two_sales_the_one_that_stands_ends_it_and_the_former_end_comes_back_last(first_back: int) -> None:
    car, until = made.car(without_keeper=True), TODAY + timedelta(days=40)
    role = give_role(car=car, person=made.person(), part="keeper", since=date(2025, 1, 1), by=None)
    _until(role, until)
    events = [made.event(car, Kind.SOLD, on=TODAY - timedelta(days=ago)) for ago in (0, 2)]
    other = events[1 - first_back]
    assert _back(events[first_back]).status == Status.SOLD
    assert [(one.until, one.ended_by) for one in _again(role)] == [(other.on, other)]
    assert _back(other).status == Status.ACTIVE
    assert [(one.until, one.ended_by) for one in _again(role)] == [(until, None)]


def test_a_sale_after_the_former_end_does_not_take_its_place() -> None:
    car, until = made.car(without_keeper=True), TODAY - timedelta(days=4)
    role = give_role(car=car, person=made.person(), part="keeper", since=date(2025, 1, 1), by=None)
    _until(role, until)
    events = [made.event(car, Kind.SOLD, on=TODAY - timedelta(days=ago)) for ago in (9, 0)]
    assert _back(events[0]).status == Status.SOLD
    assert [(one.until, one.ended_by) for one in _again(role)] == [(until, None)]


def test_a_car_that_somebody_came_to_keep_for_a_time_is_theirs_and_of_nobody_once_that_is_over() -> None:
    for until, status in ((TODAY + timedelta(days=1), Status.ACTIVE), (TODAY, Status.SOLD)):
        car = made.car()
        person, since = made.person(), TODAY - timedelta(days=5)
        Role.objects.create(car=car, person=person, part="keeper", since=since, until=until)
        made.event(car, Kind.SOLD, on=TODAY - timedelta(days=9))
        assert Car.objects.get(pk=car.pk).status == status


def test_a_car_that_stood_laid_up_stands_laid_up_again() -> None:
    car = made.car()
    made.keeping(car, stored=True)
    event = made.event(car, Kind.STOLEN, on=TODAY)
    assert Keeping.objects.get().stored
    assert _back(event).status == Status.STORED


def test_the_former_keeper_does_not_come_back_to_a_car_that_somebody_keeps_since() -> None:
    car = made.car(keeper=made.person("Ada Quill"))
    give_role(car=car, person=made.person("Ada's firm"), part="payer", since=date(2025, 1, 1), by=None)
    event = made.event(car, Kind.SOLD, on=TODAY - timedelta(days=3))
    car.refresh_from_db()
    give_role(car=car, person=made.person("Bram Harrow"), part="keeper", since=TODAY, by=None)
    assert _back(event).status == Status.ACTIVE
    assert _open(car) == [("Bram Harrow", "keeper")]


def test_of_a_sale_written_down_twice_the_other_still_stands() -> None:
    car = made.car(keeper=made.person("Ada Quill"))
    first = made.event(car, Kind.SOLD, on=TODAY)
    second = made.event(car, Kind.SOLD, on=TODAY - timedelta(days=2))
    assert _back(first).status == Status.SOLD
    role = Role.objects.get()
    assert (role.until, role.ended_by) == (second.on, second)
    assert _back(second).status == Status.ACTIVE
    assert _open(car) == [("Ada Quill", "keeper")]


def test_a_sale_of_years_ago_does_not_keep_a_car_from_its_keeper_of_today() -> None:
    car = made.car(keeper=made.person("Ada Quill"))
    made.event(car, Kind.SOLD, on=date(2023, 6, 1))
    car.refresh_from_db()
    give_role(car=car, person=made.person("Bram Harrow"), part="keeper", since=date(2023, 6, 1), by=None)
    event = made.event(Car.objects.get(), Kind.SCRAPPED, on=TODAY)
    assert _back(event).status == Status.ACTIVE
    assert _open(car) == [("Bram Harrow", "keeper")]


def test_what_a_respray_that_was_not_had_ended_counts_again() -> None:
    car = made.car()
    layer = made.layer(car, at=NOW - timedelta(days=200))
    event = made.event(car, Kind.RESPRAY, on=TODAY - timedelta(days=3), surfaces=BONNET)
    assert live_surfaces(layer) == PANELS - BONNET
    _back(event)
    layer.refresh_from_db()
    assert live_surfaces(layer) == PANELS
    assert fresh_paint(CarEvent.objects.filter(car=car)) == ()


def test_what_another_respray_ended_stays_ended() -> None:
    car = made.car()
    layer = made.layer(car, at=NOW - timedelta(days=200))
    event = made.event(car, Kind.RESPRAY, on=TODAY - timedelta(days=3), surfaces=PANELS)
    made.event(car, Kind.RESPRAY, on=TODAY - timedelta(days=2), surfaces=BONNET)
    _back(event)
    layer.refresh_from_db()
    assert live_surfaces(layer) == PANELS - BONNET


def test_it_needs_a_reason_and_the_right_to_write_such_a_thing_down() -> None:
    car = made.car()
    sale, tunnel = (made.event(car, kind, on=TODAY, now=NOW) for kind in (Kind.SOLD, Kind.TUNNEL_WASH))
    bench, desk = made.user(Rank.BENCH), made.user(Rank.DESK)
    with pytest.raises(Refused, match="Say why"):
        take_back_event(event=sale, because=" ", by=desk, now=NOW)
    with pytest.raises(Refused, match="may not do this"):
        take_back_event(event=sale, because="wrong car", by=bench, now=NOW)
    with pytest.raises(Refused, match="may not do this"):
        end_roles(event=sale, by=bench)
    take_back_event(event=tunnel, because="another car", by=bench, now=NOW)
    take_back_event(event=sale, because="wrong car", by=desk, now=NOW)
