"""What other pages say of the round: the first screen of the day, and the car file."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from crm.models import Car, Rank, WinterInvitation, WinterRound
from crm.services.winter_round import close_round, open_round, suggested_opening
from tests import factories
from tests.factories import NOW
from tests.web.world import FIRST_WEEK, Winter, a_proposal, an_invitation

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


def today(client: Client) -> str:
    return client.get(reverse("today")).content.decode()


def file(client: Client, car: Car) -> str:
    return client.get(reverse("car", args=[car.ref])).content.decode()


def test_today_names_what_can_be_asked_and_what_waits(winter: Winter, desk: Client) -> None:
    html = today(desk)
    assert "Winter round: 1 car can be asked for the week of 18 May" in html
    assert "Winter round: 1 invitation waits for an answer" in html
    assert "At Greywater Yard, the oldest since 2 May." in html
    assert f"{reverse('winter')}?branch={winter.season.branch_id}" in html
    assert f"{reverse('winter_asked', args=[winter.season.pk])}?stands=waits" in html


def test_today_counts_cars_of_several_weeks_together(winter: Winter, desk: Client) -> None:
    a_proposal(winter.season, monday=FIRST_WEEK + timedelta(days=7))
    an_invitation(winter.season)
    html = today(desk)
    assert "Winter round: 2 cars can be asked from the week of 18 May on" in html
    assert "Winter round: 2 invitations wait for an answer" in html


def test_today_says_nothing_of_a_round_that_wants_nobody(winter: Winter, desk: Client) -> None:
    winter.proposal.delete()
    WinterInvitation.objects.update(asked_at=NOW - timedelta(days=20))
    assert "Winter round:" not in today(desk)


def test_today_says_nothing_to_those_who_write_no_post_nor_of_a_closed_round(
    winter: Winter, desk: Client
) -> None:
    assert "Winter round:" not in today(factories.signed_in(Rank.BENCH))
    elsewhere = factories.user(Rank.DESK, branch=factories.branch("Saltmarsh Lane"))
    assert "Winter round:" not in today(factories.signed_in(by=elsewhere))
    close_round(season=winter.season, by=None, now=NOW)
    assert "Winter round:" not in today(desk)


def test_today_takes_as_many_queries_for_many_cars_as_for_one(winter: Winter, desk: Client) -> None:
    counts = []
    for number in (0, 9):
        for _ in range(number):
            a_proposal(winter.season)
            an_invitation(winter.season)
        with CaptureQueriesContext(connection) as queries:
            today(desk)
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 17


def test_the_car_file_says_where_the_car_stands(winter: Winter, desk: Client) -> None:
    html = file(desk, winter.proposal.car)
    assert "to be asked: driven on salted roads; its paint is bare" in html
    assert reverse("winter_week", args=[winter.season.pk, FIRST_WEEK]) in html
    html = file(desk, winter.invitation.car)
    assert "asked on 2 May for the week of 18 May: open until 16 May." in html
    assert reverse("winter_invitation", args=[winter.invitation.pk]) in html
    html = file(desk, winter.season.set_aside.get().car)
    assert "left out by the studio: sells it in autumn." in html
    assert reverse("winter_not_asked", args=[winter.season.pk]) in html


def test_the_car_file_says_why_a_car_is_not_asked(winter: Winter, desk: Client) -> None:
    winter.season.set_aside.all().delete()
    left = winter.season.left_out.get()
    left.why, left.words = "seen", "it was here on 20 April 2026"
    left.save()
    assert "not asked: it was here on 20 April 2026." in file(desk, left.car)


def test_who_said_later_and_is_to_be_asked_again_is_shown_as_to_be_asked(
    winter: Winter, desk: Client
) -> None:
    car = winter.invitation.car
    WinterInvitation.objects.update(answer="later", answered_at=NOW)
    assert "said later on 4 May" in file(desk, car)
    a_proposal(winter.season, car=car)
    assert "to be asked:" in file(desk, car)


def test_the_car_file_is_silent_without_a_round_that_is_going(winter: Winter, desk: Client) -> None:
    assert "Winter round:" not in file(desk, factories.car())
    close_round(season=winter.season, by=None, now=NOW)
    assert "Winter round:" not in file(desk, winter.proposal.car)


def test_rounds_of_many_branches_are_no_heap_of_queries(winter: Winter, desk: Client) -> None:
    address = reverse("today") + "?branch=all"
    with CaptureQueriesContext(connection) as before:
        desk.get(address)
    for number in range(3):
        branch = factories.branch(f"Quay {number}")
        opening = suggested_opening(factories.studio(), NOW.date())
        season = open_round(branch=branch, opening=opening, by=None, now=NOW)
        WinterRound.objects.filter(pk=season.pk).update(planned_at=NOW)
        an_invitation(season)
    with CaptureQueriesContext(connection) as after:
        html = desk.get(address).content.decode()
    assert len(after) == len(before)
    assert html.count("1 invitation waits for an answer") == 4
