"""The file of a person, and people who share a name."""

from __future__ import annotations

from datetime import date

import pytest

from crm.models import Role
from crm.selectors.people import MOST_NAMESAKES, Namesakes, namesakes, person_file
from crm.services.registry import give_plate, give_role
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db
TODAY, AHEAD = NOW.date(), date(2030, 3, 1)


def called(name: str, *given: str) -> Namesakes:
    return namesakes(name, today=TODAY, region="GB", given=given)


def test_cars_of_today_of_a_day_to_come_and_of_the_past_are_told_apart() -> None:
    ada, bram = factories.person("Ada Quill"), factories.person("Bram Harrow")
    kept, bought, sold = (factories.car(keeper=who) for who in (ada, bram, ada))
    give_role(car=bought, person=ada, part=Role.Part.KEEPER, since=AHEAD, by=None)
    give_role(car=sold, person=bram, part=Role.Part.KEEPER, since=date(2025, 1, 1), by=None)
    file = person_file(ada, today=TODAY)
    cars = [[role.car for role in group] for group in (file.roles, file.later_roles, file.former_roles)]
    assert cars == [[kept], [bought], [sold]]
    file = person_file(bram, today=TODAY)
    assert {role.car for role in file.roles} == {bought, sold}


def test_a_car_is_named_by_the_plate_of_today() -> None:
    ada = factories.person("Ada Quill")
    car = factories.car("QA26 DEM", keeper=ada)
    give_plate(car=car, mark="QP11 VAT", since=AHEAD, by=None)
    assert [words for _, words in called("Ada Quill").people] == ["blue Halden Estate QA26 DEM"]


def test_a_namesake_is_not_told_by_a_car_that_is_not_theirs_yet() -> None:
    ada = factories.person("Ada Quill")
    car = factories.car(keeper=factories.person("Bram Harrow"))
    give_role(car=car, person=ada, part=Role.Part.KEEPER, since=AHEAD, by=None)
    assert called("ada  quill").people == ((ada, "no car now"),)


def test_more_namesakes_than_are_shown_are_counted() -> None:
    for _ in range(MOST_NAMESAKES):
        factories.person("Ada Quill")
    assert (len(called("Ada Quill").people), called("Ada Quill").more) == (MOST_NAMESAKES, 0)
    for _ in range(4):
        factories.person("Ada Quill")
    assert (len(called("Ada Quill").people), called("Ada Quill").more) == (MOST_NAMESAKES, 4)
    assert called("") == Namesakes()


def test_namesakes_with_a_car_come_before_those_without() -> None:
    for _ in range(MOST_NAMESAKES):
        factories.person("Ada Quill")
    keeper = factories.person("Ada Quill")
    factories.car(keeper=keeper)
    assert called("Ada Quill").people[0][0] == keeper


@pytest.mark.parametrize("given", ["07700 900123", "+44 7700 900123", "ADA.Q@example.com"])
def test_whoever_has_the_number_or_address_that_was_given_comes_first(given: str) -> None:
    for _ in range(MOST_NAMESAKES):
        factories.car(keeper=factories.person("Ada Quill", phone=None))
    right = factories.person("Ada Quill", phone="07700 900123", email="ada.q@example.com")
    assert right not in [person for person, _ in called("Ada Quill").people]
    assert called("Ada Quill", "", given).people[0][0] == right
    assert called("Ada Quill", "not a number").more == 1
