"""A week of the round: whom to ask and why, asking them, and who comes."""

from __future__ import annotations

import re
from datetime import date, timedelta
from html import escape

import pytest
from django.test import Client
from django.urls import reverse

from crm.models import Message, Rank, WinterInvitation, WinterRound
from crm.services.winter_round import close_round
from crm.web.studio.winter_week import LOOK_AGAIN
from tests import factories
from tests.factories import NOW
from tests.web.world import FIRST_WEEK, Winter, a_proposal, an_invitation

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


def address(winter: Winter, monday: date = FIRST_WEEK) -> str:
    return reverse("winter_week", args=[winter.season.pk, monday])


def page(client: Client, winter: Winter, monday: date = FIRST_WEEK) -> str:
    return client.get(address(winter, monday)).content.decode()


def ask(client: Client, winter: Winter, **sent: str) -> str:
    """Press the button of the page as it was seen; the page that follows."""
    seen = re.search(r'name="seen" value="([0-9a-f]+)"', page(client, winter))
    known = {"seen": seen[1] if seen else "", **sent}
    act = reverse("winter_ask", args=[winter.season.pk, FIRST_WEEK])
    return client.post(act, known, follow=True).content.decode()


def test_a_car_is_shown_with_its_reason_its_work_and_its_chance(winter: Winter, desk: Client) -> None:
    html = page(desk, winter)
    assert escape("Driven on salted roads; its paint is bare; winter coat, six hours") in html
    assert "<b>Winter coat</b>" in html
    assert "6 h, perhaps a night in the bay" in html
    assert "2 in 5" in html
    assert "0 of 26 hours spoken for" in html
    assert "3.9 kept back" in html


def test_the_button_says_how_many_and_how_many_letters(winter: Winter, desk: Client) -> None:
    keeper = winter.proposal.car.roles.get().person
    a_proposal(winter.season, car=factories.car(keeper=keeper), monday=FIRST_WEEK + timedelta(days=7))
    html = page(desk, winter)
    assert "Ask these 2 cars" in html
    assert "2 cars in 1 letter, with the cars of the same owners that the plan has for other weeks" in html
    assert "week of 25 May" in html


def test_asking_writes_letters_and_says_so(winter: Winter, desk: Client) -> None:
    html = ask(desk, winter)
    assert "1 car is asked, in 1 letter." in html
    row = WinterInvitation.objects.get(how=WinterInvitation.How.LETTER)
    assert (row.car, row.asked_by) == (winter.proposal.car, desk.user)  # type: ignore[attr-defined]
    assert row.message is not None
    assert row.message.state == Message.State.WAITING
    assert "its letter has not left yet" in html
    assert "Ask this car" not in html


def test_nobody_asks_other_cars_than_those_they_saw(winter: Winter, desk: Client) -> None:
    seen = re.search(r'name="seen" value="([0-9a-f]+)"', page(desk, winter))
    assert seen
    a_proposal(winter.season)
    html = ask(desk, winter, seen=seen[1])
    assert escape(LOOK_AGAIN) in html
    assert not WinterInvitation.objects.filter(how=WinterInvitation.How.LETTER).exists()
    assert "2 cars are asked, in 2 letters." in ask(desk, winter)


def test_the_same_press_sent_twice_asks_once(winter: Winter, desk: Client) -> None:
    key = "a-key-of-sixteen-letters"
    ask(desk, winter, once=key)
    assert "These cars were asked already." in ask(desk, winter, once=key)
    assert WinterInvitation.objects.filter(how=WinterInvitation.How.LETTER).count() == 1


def test_what_the_service_refuses_is_said(winter: Winter, desk: Client) -> None:
    winter.proposal.delete()
    assert "Nobody is left to be asked by letter for that week." in ask(desk, winter)


def test_a_plan_of_another_day_is_not_asked_from(winter: Winter, desk: Client) -> None:
    WinterRound.objects.update(planned_for=NOW.date() - timedelta(days=1))
    html = page(desk, winter)
    assert "Ask this car" not in html
    assert "The plan is of another day and is being made again." in html


def test_a_week_that_is_too_near_is_rung_not_written_to(winter: Winter, desk: Client) -> None:
    near = NOW.date()
    winter.season.weeks.filter(monday=FIRST_WEEK).update(monday=near)
    winter.season.proposals.update(monday=near)
    html = page(desk, winter, near)
    assert "It is too near to ask by letter." in html
    assert "Ask this car" not in html
    assert "Asked in person" in html


def test_a_week_far_ahead_may_be_asked_with_a_word_of_caution(winter: Winter, desk: Client) -> None:
    far = date(2026, 6, 22)
    winter.season.weeks.filter(monday=FIRST_WEEK).update(monday=far)
    winter.season.proposals.update(monday=far)
    html = page(desk, winter, far)
    assert "It is early: this week is asked from 25 May on" in html
    assert "Ask this car" in html


def test_those_who_wait_come_or_do_not_come_stand_apart(winter: Winter, desk: Client) -> None:
    visit = factories.visit(factories.car(), state="booked", at=NOW + timedelta(days=16), purpose="winter")
    an_invitation(winter.season, car=visit.car, answer="yes", answered_at=NOW, visit=visit)
    an_invitation(winter.season, answer="no_thanks", answered_at=NOW)
    html = page(desk, winter)
    for words in ("open until 16 May", "yes, comes on Wed 20 May, 15:10", "said no thanks on 4 May"):
        assert words in html
    titles = [html.index(f"<h2>{title}</h2>") for title in ("Asked, and waiting", "Coming", "Not coming")]
    assert titles == sorted(titles)


def test_a_closed_round_asks_nobody(winter: Winter, desk: Client) -> None:
    seen = re.search(r'name="seen" value="([0-9a-f]+)"', page(desk, winter))
    assert seen
    close_round(season=winter.season, by=None, now=NOW)
    html = page(desk, winter)
    assert "Ask this car" not in html
    assert "Leave out" not in html
    assert "This winter round is closed." in ask(desk, winter, seen=seen[1])


def test_the_bench_reads_the_week_and_has_no_buttons(winter: Winter) -> None:
    html = page(factories.signed_in(Rank.BENCH), winter)
    keeper = winter.proposal.car.roles.get().person
    assert keeper.name in html
    assert reverse("person", args=[keeper.pk]) not in html
    for words in ("Ask this car", "Leave out", "Asked in person"):
        assert words not in html


@pytest.mark.parametrize(
    ("change", "words"),
    [({"is_open": False}, "This week is full."), ({}, "The plan has nobody for this week.")],
)
def test_a_week_with_nobody_says_why(
    change: dict[str, bool], words: str, winter: Winter, desk: Client
) -> None:
    winter.season.weeks.filter(monday=date(2026, 5, 25)).update(**change, room_hours=1)
    assert words in page(desk, winter, date(2026, 5, 25))


def test_weeks_lead_to_each_other(winter: Winter, desk: Client) -> None:
    html = page(desk, winter, date(2026, 5, 25))
    assert f'rel="prev" href="{address(winter)}"' in html
    assert f'rel="next" href="{address(winter, date(2026, 6, 1))}"' in html
    assert 'rel="prev"' not in page(desk, winter)
