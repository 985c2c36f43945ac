"""What a hand-over writes into the post, and what it does not."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from crm.care.surfaces import Surface, Surfaces
from crm.care.terms import ProductClass
from crm.models import Matter, Message, Role, Visit
from crm.post.queue import queue_aftercare, queue_wash_now
from crm.services.hand_over import hand_over
from crm.services.registry import give_role
from tests import factories
from tests.post.cast import MAY, handed_over, message_of, willing

pytestmark = pytest.mark.django_db
Kind = Message.Kind


def test_hand_over_writes_one_note_at_once_and_one_for_when_the_clock_ends() -> None:
    visit = handed_over()
    rows = {row.kind: row for row in Message.objects.filter(visit=visit)}
    assert set(rows) == {Kind.AFTERCARE, Kind.WASH_NOW}
    assert rows[Kind.AFTERCARE].not_before == MAY
    layer = visit.layers.get()
    # Laid at 11:10 on Monday; no wash for seven days (common practice, no source).
    assert layer.wash_from == datetime(2026, 5, 11, 10, 10, tzinfo=UTC)
    assert rows[Kind.WASH_NOW].not_before == layer.wash_from
    assert {row.state for row in rows.values()} == {Message.State.WAITING}
    keys = set(Matter.objects.values_list("key", flat=True))
    assert keys == {f"aftercare:{visit.pk}", f"wash-now:{visit.pk}"}


def test_queueing_twice_writes_once() -> None:
    visit = handed_over()
    again = queue_aftercare(visit=visit, sheet=visit.sheet, now=MAY)
    assert again == message_of(visit, Kind.AFTERCARE)
    assert queue_wash_now(visit=visit, sheet=visit.sheet, now=MAY) == message_of(visit, Kind.WASH_NOW)
    assert Message.objects.count() == 2


def test_clock_that_ends_at_night_is_told_in_the_morning() -> None:
    visit = handed_over(at=datetime(2026, 5, 4, 23, 30, tzinfo=UTC))
    layer = visit.layers.get()
    assert layer.wash_from == datetime(2026, 5, 11, 19, 30, tzinfo=UTC)
    assert message_of(visit, Kind.WASH_NOW).not_before == datetime(2026, 5, 12, 8, tzinfo=UTC)


def test_latest_of_several_clocks_counts() -> None:
    stay = factories.visit(factories.car(keeper=willing()), at=MAY - timedelta(days=2))
    sealant = factories.product(ProductClass.POLYMER_SEALANT)
    coating = factories.product(ProductClass.WHEEL_COATING)
    factories.layer(stay, sealant, surfaces=Surfaces.of([Surface.BONNET]), at=MAY - timedelta(days=1))
    last = factories.layer(
        stay, coating, surfaces=Surfaces.of([Surface.LEFT_FRONT_WHEEL]), at=MAY - timedelta(hours=5)
    )
    hand_over(visit=stay, by=None, at=MAY, now=MAY)
    assert message_of(stay, Kind.WASH_NOW).not_before == last.wash_from


def test_leather_alone_keeps_nobody_from_washing() -> None:
    stay = factories.visit(factories.car(keeper=willing()), at=MAY - timedelta(days=1))
    leather = factories.product(ProductClass.LEATHER_COATING)
    factories.layer(stay, leather, surfaces=Surfaces.of([Surface.DRIVER_SEAT]), at=MAY - timedelta(hours=5))
    hand_over(visit=stay, by=None, at=MAY, now=MAY)
    assert [row.kind for row in Message.objects.filter(visit=stay)] == [Kind.AFTERCARE]


def test_hand_over_written_down_in_the_evening_sends_nothing_at_night() -> None:
    afternoon, evening = MAY, datetime(2026, 5, 4, 20, 30, tzinfo=UTC)
    visit = handed_over(at=afternoon, now=evening)
    assert message_of(visit, Kind.AFTERCARE).not_before == datetime(2026, 5, 5, 8, tzinfo=UTC)


def test_hand_over_written_down_weeks_late_sends_nothing() -> None:
    handed_over(at=MAY, now=MAY + timedelta(days=30))
    assert Message.objects.count() == 0


def test_note_goes_to_the_driver_where_there_is_no_keeper() -> None:
    car = factories.car(without_keeper=True)
    driver, payer = factories.person("Dov Brine"), factories.person("Wick & Daughter", sort="company")
    for person, part in ((payer, Role.Part.PAYER), (driver, Role.Part.DRIVER)):
        give_role(car=car, person=person, part=part, since=date(2024, 1, 1), by=None)
    assert message_of(handed_over(car), Kind.AFTERCARE).person == driver


def test_nobody_known_gets_nothing() -> None:
    visit = handed_over(factories.car(without_keeper=True))
    assert visit.state == Visit.State.HANDED_OVER
    assert Message.objects.count() == 0


def test_message_ids_differ_and_fit_their_column() -> None:
    handed_over()
    handed_over()
    ids = list(Message.objects.values_list("message_id", flat=True))
    assert len(set(ids)) == 4
    assert all(len(each) <= 120 and each.endswith("@localhost") for each in ids)
