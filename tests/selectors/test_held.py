"""Which part or plate counts on a day: the first day does, the day of the end does not."""

from __future__ import annotations

from datetime import date

import pytest

from crm.models import Forecast, Matter, Plate, Role
from crm.selectors.due_rows import due_rows
from crm.selectors.held import (
    Standing,
    held_from,
    held_on,
    keeper_of,
    keepers_on,
    plate_of,
    plates_on,
    standing,
    told_apart,
)
from crm.selectors.post_list import lines
from crm.selectors.sheet_builder import sheet_content
from crm.selectors.visit_page import visit_page
from crm.services.registry import give_plate, give_role
from tests import factories
from tests.factories import NOW
from tests.web.world import a_message

pytestmark = pytest.mark.django_db
DAY = date(2026, 5, 4)
EVE, MORROW = date(2026, 5, 3), date(2026, 5, 5)
AHEAD = date(2030, 3, 1)

PERIODS = [
    (None, None, Standing.NOW),
    (EVE, None, Standing.NOW),
    (DAY, None, Standing.NOW),
    (MORROW, None, Standing.LATER),
    (None, EVE, Standing.FORMER),
    (None, DAY, Standing.FORMER),
    (None, MORROW, Standing.NOW),
    (DAY, MORROW, Standing.NOW),
    (MORROW, AHEAD, Standing.LATER),
    (MORROW, MORROW, Standing.FORMER),
    (DAY, DAY, Standing.FORMER),
]


@pytest.mark.parametrize(("since", "until", "stands"), PERIODS)
def test_a_period_stands_to_a_day_in_words_as_in_the_database(
    since: date | None, until: date | None, stands: Standing
) -> None:
    assert standing(since, until, day=DAY) is stands
    role = Role.objects.create(
        car=factories.car(without_keeper=True),
        person=factories.person(),
        part=Role.Part.KEEPER,
        since=since,
        until=until,
    )
    assert Role.objects.filter(held_on(DAY), pk=role.pk).exists() == (stands is Standing.NOW)
    assert Role.objects.filter(held_from(DAY), pk=role.pk).exists() is (stands is not Standing.FORMER)


def test_keeper_and_plate_change_on_their_day_and_not_before() -> None:
    ada, bram = factories.person("Ada Quill"), factories.person("Bram Harrow")
    car = factories.car("QA26 DEM", keeper=ada)
    give_role(car=car, person=bram, part=Role.Part.KEEPER, since=AHEAD, by=None)
    give_plate(car=car, mark="QP11 VAT", since=AHEAD, by=None)
    last = date(2030, 2, 28)
    assert [keeper_of(car, day) for day in (DAY, last, AHEAD)] == [ada, ada, bram]
    marks = [plate.mark for day in (DAY, last, AHEAD) if (plate := plate_of(car, day))]
    assert marks == ["QA26 DEM", "QA26 DEM", "QP11 VAT"]
    assert [role.person for role in keepers_on(last)] == [ada]
    assert [plate.mark for plate in plates_on(AHEAD)] == ["QP11 VAT"]


def test_nobody_keeps_a_car_after_an_end_without_a_successor() -> None:
    car = factories.car()
    Role.objects.filter(car=car).update(until=AHEAD)
    Plate.objects.filter(car=car).update(until=AHEAD)
    assert keeper_of(car, DAY) is not None
    assert plate_of(car, DAY) is not None
    assert (keeper_of(car, AHEAD), plate_of(car, AHEAD)) == (None, None)


def test_of_two_that_count_the_newer_is_the_one() -> None:
    car = factories.car(since=None)
    newer = factories.person("Bram Harrow")
    Role.objects.filter(car=car).update(until=AHEAD)
    Role.objects.create(car=car, person=newer, part=Role.Part.KEEPER, since=EVE)
    assert keeper_of(car, DAY) == newer


def test_rows_are_told_apart_and_those_to_come_stand_in_their_order() -> None:
    car = factories.car(without_keeper=True)
    periods = [(AHEAD, None), (MORROW, None), (EVE, None), (None, EVE)]
    for since, until in periods:
        Role.objects.create(
            car=car, person=factories.person(), part=Role.Part.DRIVER, since=since, until=until
        )
    groups = told_apart(car.roles.order_by("pk"), day=DAY)
    assert [role.since for role in groups[Standing.LATER]] == [MORROW, AHEAD]
    assert [role.since for role in groups[Standing.NOW]] == [EVE]
    assert [role.until for role in groups[Standing.FORMER]] == [EVE]


def test_sheets_lists_and_bookings_name_keeper_and_plate_of_the_day() -> None:
    car = factories.car("QA26 DEM", keeper=factories.person("Ada Quill"))
    give_role(car=car, person=factories.person("Bram Harrow"), part=Role.Part.KEEPER, since=AHEAD, by=None)
    give_plate(car=car, mark="QP11 VAT", since=AHEAD, by=None)
    stay = factories.visit(car)
    factories.layer(stay)
    studio = factories.studio()
    sheet, _ = sheet_content(stay, studio=studio, now=NOW)
    bay = visit_page(stay, today=DAY)
    due = Forecast.objects.filter(car=car, due_on__isnull=False).values_list("pk", flat=True)[:1]
    (row,) = due_rows(list(due), studio=studio, today=DAY, now=NOW)
    message = a_message(factories.person())
    Matter.objects.create(message=message, kind=message.kind, car=car, key="one")
    (line,) = lines([message], today=DAY)
    assert {sheet.keeper_name, str(bay.keeper), str(row.reach.person)} == {"Ada Quill"}
    assert {sheet.plate, bay.plate, row.plate} == {"QA26 DEM"}
    assert line.cars == ("blue Halden Estate QA26 DEM",)
    assert lines([message], today=AHEAD)[0].cars == ("blue Halden Estate QP11 VAT",)
