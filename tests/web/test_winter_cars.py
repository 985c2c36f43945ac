"""One car of a round: leaving it out, and asking its owner oneself."""

from __future__ import annotations

from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from crm.models import WinterInvitation
from tests.web.world import FIRST_WEEK, Winter

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


def address(name: str, winter: Winter) -> str:
    return reverse(name, args=[winter.season.pk, winter.proposal.car.ref])


def test_a_car_is_left_out_with_a_reason_and_the_way_leads_back_to_its_week(
    winter: Winter, desk: Client
) -> None:
    act = address("winter_leave_out", winter)
    assert "The owner never sees it." in desk.get(act).content.decode()
    answer = desk.post(act, {"because": "comes in spring instead"})
    assert answer.headers["Location"] == reverse("winter_week", args=[winter.season.pk, FIRST_WEEK])
    row = winter.season.set_aside.get(car=winter.proposal.car)
    assert (row.because, row.by) == ("comes in spring instead", desk.user)  # type: ignore[attr-defined]
    assert not winter.season.proposals.exists()


@pytest.mark.parametrize(
    ("because", "sentence"),
    [("", "Why it is left out” is empty. Write it down."), ("x" * 201, "200 are the most")],
)
def test_leaving_out_needs_a_reason_of_some_words(
    because: str, sentence: str, winter: Winter, desk: Client
) -> None:
    answer = desk.post(address("winter_leave_out", winter), {"because": because})
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert winter.season.proposals.exists()


def test_the_reason_of_a_car_that_is_left_out_already_can_be_changed(winter: Winter, desk: Client) -> None:
    car = winter.season.set_aside.get().car
    act = reverse("winter_leave_out", args=[winter.season.pk, car.ref])
    assert "sells it in autumn" in desk.get(act).content.decode()
    answer = desk.post(act, {"because": "sold in May"})
    assert answer.headers["Location"] == reverse("winter_not_asked", args=[winter.season.pk])
    assert winter.season.set_aside.get().because == "sold in May"


def test_the_week_of_the_plan_is_offered_first_and_full_weeks_are_not(winter: Winter, desk: Client) -> None:
    winter.season.weeks.filter(monday=date(2026, 5, 25)).update(room_hours=0, spoken_hours=26)
    html = desk.get(address("winter_ask_car", winter)).content.decode()
    assert "Driven on salted roads" in html
    assert 'value="2026-05-18"' in html
    assert "18 May: 22 hours left" in html
    assert 'value="2026-05-25"' not in html
    assert html.index("checked") < html.index('value="2026-06-01"')


def test_asking_in_person_is_written_down_and_leads_to_the_answer(winter: Winter, desk: Client) -> None:
    sent = {"monday": "2026-06-01", "how": "in_person"}
    answer = desk.post(address("winter_ask_car", winter), sent)
    row = WinterInvitation.objects.get(car=winter.proposal.car)
    assert (row.monday, row.how, row.message) == (date(2026, 6, 1), "in_person", None)
    assert (row.work, row.hours) == ("winter_coat", 6.0)
    assert answer.headers["Location"] == reverse("winter_invitation", args=[row.pk])


def test_what_was_asked_already_is_refused_with_a_sentence(winter: Winter, desk: Client) -> None:
    act = reverse("winter_ask_car", args=[winter.season.pk, winter.invitation.car.ref])
    answer = desk.post(act, {"monday": "2026-05-18", "how": "telephone"})
    assert answer.status_code == 422
    assert "This car has been asked already. Write down the answer there." in answer.content.decode()


@pytest.mark.parametrize(
    "sent",
    [
        {"monday": "", "how": "telephone"},
        {"monday": "2026-09-07", "how": "telephone"},
        {"monday": "2026-05-18", "how": "letter"},
        {"monday": "2026-05-18", "how": ""},
    ],
)
def test_a_week_or_a_way_that_is_not_offered_is_refused(
    sent: dict[str, str], winter: Winter, desk: Client
) -> None:
    answer = desk.post(address("winter_ask_car", winter), sent)
    assert answer.status_code == 422
    assert "Choose one of these." in answer.content.decode()
    assert not WinterInvitation.objects.filter(car=winter.proposal.car).exists()


def test_where_no_week_has_room_the_page_says_what_to_do(winter: Winter, desk: Client) -> None:
    winter.season.weeks.update(room_hours=0, spoken_hours=26)
    act = reverse("winter_ask_car", args=[winter.season.pk, winter.season.set_aside.get().car.ref])
    assert "No week of this round has room left." in desk.get(act).content.decode()
