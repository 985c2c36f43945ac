"""What a day looks like to one branch."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from crm.models import Contact, Message, Visit
from crm.selectors.today import MOST, Need, Today, today_page
from crm.services.registry import give_plate, give_role
from tests import factories
from tests.factories import NOW
from tests.web.world import a_message

pytestmark = pytest.mark.django_db


def today() -> Today:
    return today_page(studio=factories.studio(), now=NOW, today=NOW.date(), branch=None)


def test_nothing_anywhere_is_an_empty_page() -> None:
    page = today()
    assert (page.in_bay, page.going_out, page.expected, page.soon, page.needs) == ((), (), (), (), ())
    assert not page.first_steps.all_done


def test_a_stay_is_listed_once() -> None:
    factories.visit(out=NOW + timedelta(hours=1))
    page = today()
    assert (len(page.in_bay), len(page.going_out)) == (0, 1)


def test_a_visit_that_is_over_or_cancelled_is_not_listed() -> None:
    factories.visit(state=Visit.State.HANDED_OVER, at=NOW - timedelta(days=1))
    factories.visit(state=Visit.State.CANCELLED, at=NOW)
    page = today()
    assert (page.in_bay, page.going_out, page.expected) == ((), (), ())


def test_bookings_stand_in_the_order_in_which_they_come() -> None:
    """Also where nobody wrote down when they go out again."""
    days = (3, 1, 2)
    for ahead, stays in zip(days, (1, None, 1), strict=True):
        comes = NOW + timedelta(days=ahead)
        out = comes + timedelta(days=stays) if stays else None
        factories.visit(state=Visit.State.BOOKED, at=comes, out=out)
    assert [stay.visit.planned_in for stay in today().soon] == [
        NOW + timedelta(days=ahead) for ahead in (1, 2, 3)
    ]


def test_uncertain_post_is_named_first_and_the_rest_is_counted() -> None:
    ada = factories.person()
    for _ in range(MOST + 3):
        a_message(ada, state=Message.State.FAILED)
    page = today()
    assert (len(page.needs), page.more_needs, page.needs[0].need) == (MOST, 3, Need.FAILED)


def test_a_layer_is_named_once_however_many_zones_it_is_on() -> None:
    car = factories.car()
    factories.layer(car, at=NOW - timedelta(days=900))
    factories.visit(car, at=NOW, out=NOW + timedelta(days=1))
    assert [item.need for item in today().needs] == [Need.DUE_A_LOOK]


def test_keeper_and_plate_are_those_of_the_day() -> None:
    car = factories.car("QA26 DEM", keeper=factories.person("Ada Quill"))
    ahead = date(2030, 3, 1)
    give_plate(car=car, mark="QP11 VAT", since=ahead, by=None)
    give_role(car=car, person=factories.person("Bram Harrow"), part="keeper", since=ahead, by=None)
    factories.visit(car, out=NOW + timedelta(days=1))
    (stay,) = today().in_bay
    assert (stay.plate, stay.keeper) == ("QA26 DEM", "Ada Quill")


def test_an_address_that_fails_is_told_of_the_keeper_of_the_day_alone() -> None:
    ada, bram = factories.person("Ada Quill"), factories.person("Bram Harrow")
    car = factories.car(keeper=ada)
    give_role(car=car, person=bram, part="keeper", since=date(2030, 3, 1), by=None)
    Contact.objects.filter(kind="email").update(dead_since=NOW)
    factories.visit(car, out=NOW + timedelta(days=1))
    assert [item.person for item in today().needs if item.need == Need.UNREACHABLE] == [ada]
