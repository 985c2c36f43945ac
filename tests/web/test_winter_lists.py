"""The long lists of a round: who is not asked and why, and every invitation."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from crm.models import Rank, WinterLeftOut, WinterRound, WinterSetAside
from crm.web.studio.winter_lists import ON_A_PAGE
from tests import factories
from tests.factories import NOW
from tests.web.world import Winter, a_message, a_winter, an_invitation

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


def left(season: WinterRound, why: str, words: str) -> WinterLeftOut:
    return WinterLeftOut.objects.create(round=season, car=factories.car(), why=why, words=words)


def not_asked(client: Client, winter: Winter, **query: str | int) -> str:
    return client.get(reverse("winter_not_asked", args=[winter.season.pk]), query).content.decode()


def asked(client: Client, winter: Winter, **query: str | int) -> str:
    return client.get(reverse("winter_asked", args=[winter.season.pk]), query).content.decode()


def test_cars_stand_under_their_reason_each_with_its_sentence(winter: Winter, desk: Client) -> None:
    left(winter.season, "seen", "it was here on 20 April 2026")
    left(winter.season, "seen", "it was here on 22 April 2026")
    left(winter.season, "no_room", "no room left: six hours no longer fit into the week of 18 May")
    html = not_asked(desk, winter)
    places = [
        html.index(f"<h2>{name}</h2>")
        for name in ("No room left", "Left out by the studio", "Was here lately")
    ]
    assert places == sorted(places)
    assert "It was here on 20 April 2026." in html
    assert 'was here lately <small class="number">2</small>' in html
    assert "Greywater Yard: 4 cars." in html


def test_chips_leave_one_reason_and_what_makes_no_sense_narrows_nothing(winter: Winter, desk: Client) -> None:
    left(winter.season, "seen", "it was here on 20 April 2026")
    only = not_asked(desk, winter, why="seen")
    assert "It was here on 20 April 2026." in only
    assert "QL44 OUT" not in only
    everything = not_asked(desk, winter, why="; DROP TABLE")
    assert "QL44 OUT" in everything


def test_what_can_be_done_depends_on_the_reason(winter: Winter, desk: Client) -> None:
    sold = left(winter.season, "died", "its owner has died: nobody is written to").car
    seen = left(winter.season, "seen", "it was here on 20 April 2026").car
    html = not_asked(desk, winter)

    def leads(name: str, ref: str) -> bool:
        return reverse(name, args=[winter.season.pk, ref]) in html

    names = ("winter_take_up", "winter_ask_car", "winter_leave_out")
    mine = winter.season.set_aside.get().car
    assert [leads(name, mine.ref) for name in names] == [True, True, False]
    assert [leads(name, seen.ref) for name in names] == [False, True, True]
    assert [leads(name, sold.ref) for name in names] == [False, False, False]
    bench = not_asked(factories.signed_in(Rank.BENCH), winter)
    assert "QL44 OUT" in bench
    assert "Take up again" not in bench


def test_a_car_is_taken_up_again(winter: Winter, desk: Client) -> None:
    car = winter.season.set_aside.get().car
    answer = desk.post(reverse("winter_take_up", args=[winter.season.pk, car.ref]), follow=True)
    assert f"The plan looks at the {car.known_as} again." in answer.content.decode()
    assert not WinterSetAside.objects.exists()


def test_a_long_list_has_pages_in_as_many_queries(winter: Winter, desk: Client) -> None:
    address = reverse("winter_not_asked", args=[winter.season.pk])
    counts = []
    for number in (1, ON_A_PAGE + 3):
        for _ in range(number):
            left(winter.season, "seen", "it was here on 20 April 2026")
        with CaptureQueriesContext(connection) as queries:
            desk.get(address)
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 9
    assert f"Page 1 of 2, {ON_A_PAGE + 5} in all" in not_asked(desk, winter)
    assert "Page 2 of 2" in not_asked(desk, winter, page=2)


def test_before_the_first_plan_the_list_teaches(desk: Client) -> None:
    winter = a_winter(factories.car())
    winter.season.left_out.all().delete()
    assert "No car is left out" in not_asked(desk, winter)


def test_every_invitation_stands_with_its_answer_the_oldest_that_waits_first(
    winter: Winter, desk: Client
) -> None:
    older = an_invitation(winter.season, asked_at=NOW - timedelta(days=9))
    an_invitation(winter.season, asked_at=NOW - timedelta(days=30))
    an_invitation(winter.season, answer="later", answered_at=NOW - timedelta(days=1))
    unsent = an_invitation(winter.season, how="letter")
    unsent.message = a_message(unsent.person, state="cancelled", because="the car was sold")
    unsent.save()
    html = asked(desk, winter)
    words = (
        "open until 9 May",
        "open until 16 May",
        "its letter did not leave",
        "said later on 3 May",
        "no answer came by 18 April",
    )
    places = [html.index(each) for each in words]
    assert places == sorted(places)
    assert "the car was sold" in html
    assert reverse("winter_invitation", args=[older.pk]) in html
    assert "5 invitations." in html


@pytest.mark.parametrize(
    ("group", "shown"), [("waits", True), ("later", False), ("no_thanks", False), ("nothing", True)]
)
def test_chips_leave_one_kind_of_answer(group: str, shown: bool, winter: Winter, desk: Client) -> None:
    an_invitation(winter.season, answer="later", answered_at=NOW)
    assert ("open until 16 May" in asked(desk, winter, stands=group)) is shown


def test_where_nobody_was_asked_the_list_teaches(winter: Winter, desk: Client) -> None:
    winter.invitation.delete()
    assert "Nobody was asked yet" in asked(desk, winter)


def test_the_list_takes_as_many_queries_for_one_as_for_many(winter: Winter, desk: Client) -> None:
    address = reverse("winter_asked", args=[winter.season.pk])
    counts = []
    for number in (0, 12):
        for _ in range(number):
            an_invitation(winter.season)
        with CaptureQueriesContext(connection) as queries:
            desk.get(address)
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 9
