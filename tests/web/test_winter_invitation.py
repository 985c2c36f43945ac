"""One invitation: what it says, the answer that is written down, and what was asked by mistake."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from crm.models import Rank, Visit, WinterInvitation
from tests import factories
from tests.factories import NOW
from tests.web.world import Winter, a_message, a_winter, an_invitation

pytestmark = pytest.mark.django_db
YES = {"answer": "yes", "comes_at": "20/5/2026 08:40", "note": "brings both keys"}


@pytest.fixture
def winter(clock: time_machine.Traveller) -> Winter:
    return a_winter(factories.car("QL44 OUT"))


@pytest.fixture
def desk(winter: Winter) -> Client:
    return factories.signed_in(Rank.DESK)


def address(row: WinterInvitation) -> str:
    return reverse("winter_invitation", args=[row.pk])


def page(client: Client, row: WinterInvitation) -> str:
    return client.get(address(row)).content.decode()


def test_the_page_says_why_and_until_when_and_offers_the_morning_of_its_monday(
    winter: Winter, desk: Client
) -> None:
    html = page(desk, winter.invitation)
    for words in ("Asked for the week of 18 May", "open until 16 May", "by telephone, 2 May 2026", "2 in 5"):
        assert words in html
    assert "Its coating still works." in html
    assert 'value="2026-05-18T08:40"' in html


def test_after_its_monday_the_next_day_is_offered(
    clock: time_machine.Traveller, winter: Winter, desk: Client
) -> None:
    clock.move_to(datetime(2026, 5, 19, 10, 0, tzinfo=UTC))
    assert 'value="2026-05-20T08:40"' in page(factories.signed_in(Rank.DESK), winter.invitation)


def test_yes_books_the_visit(winter: Winter, desk: Client) -> None:
    html = desk.post(address(winter.invitation), YES, follow=True).content.decode()
    visit = Visit.objects.get(purpose=Visit.Purpose.WINTER)
    # 08:40 in Skerrin in May is 07:40 in UTC.
    assert visit.planned_in == datetime(2026, 5, 20, 7, 40, tzinfo=UTC)
    assert (visit.scope, visit.branch) == ("top-up", winter.season.branch)
    for words in ("Yes. The visit is booked.", "yes, comes on Wed 20 May, 08:40", "brings both keys"):
        assert words in html
    assert reverse("visit", args=[visit.pk]) in html
    assert 'value="2026-05-20T08:40"' in html


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({"answer": "yes", "comes_at": ""}, "Say on which day it comes."),
        ({"answer": "yes", "comes_at": "3/5/2026 08:40"}, "That day is over."),
        ({"answer": "yes", "comes_at": "soon"}, "Write the day and the time like 4/5/2026 15:10"),
        ({"answer": ""}, "Choose one of these."),
        ({"answer": "perhaps"}, "Choose one of these."),
        ({"answer": "later", "note": "x" * 301}, "300 are the most"),
    ],
)
def test_an_answer_that_cannot_be_is_refused_beside_its_field(
    sent: dict[str, str], sentence: str, winter: Winter, desk: Client
) -> None:
    answer = desk.post(address(winter.invitation), sent)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    winter.invitation.refresh_from_db()
    assert winter.invitation.answer == ""


@pytest.mark.parametrize(
    ("given", "said", "stands"),
    [
        ("later", "Later. It is asked once more", "said later on 4 May"),
        ("no_thanks", "No thanks. It is not asked again this season.", "said no thanks on 4 May"),
    ],
)
def test_later_and_no_thanks_need_no_day(
    given: str, said: str, stands: str, winter: Winter, desk: Client
) -> None:
    html = desk.post(address(winter.invitation), {"answer": given}, follow=True).content.decode()
    assert said in html
    assert stands in html
    assert not Visit.objects.filter(purpose=Visit.Purpose.WINTER).exists()


def test_another_answer_after_a_yes_calls_the_visit_off(winter: Winter, desk: Client) -> None:
    desk.post(address(winter.invitation), YES)
    assert "Another answer" in page(desk, winter.invitation)
    desk.post(address(winter.invitation), {"answer": "no_thanks"})
    assert Visit.objects.get(purpose=Visit.Purpose.WINTER).state == Visit.State.CANCELLED
    assert "said no thanks on 4 May" in page(desk, winter.invitation)


def test_the_same_answer_sent_twice_books_once(winter: Winter, desk: Client) -> None:
    for _ in range(2):
        assert (
            desk.post(address(winter.invitation), {**YES, "once": "a-key-of-sixteen-letters"}).status_code
            == 302
        )
    assert Visit.objects.filter(purpose=Visit.Purpose.WINTER).count() == 1


def test_where_the_car_has_come_the_answer_stands(winter: Winter, desk: Client) -> None:
    visit = factories.visit(factories.car(), at=NOW - timedelta(hours=3), purpose="winter")
    row = an_invitation(winter.season, car=visit.car, answer="yes", answered_at=NOW, visit=visit)
    html = page(desk, row)
    assert "The car has been here for it. The answer stands." in html
    assert 'name="answer"' not in html
    assert desk.post(address(row), {"answer": "later"}).status_code == 422


def test_a_letter_that_did_not_leave_says_why_and_leads_to_the_post(winter: Winter, desk: Client) -> None:
    row = an_invitation(winter.season, how="letter")
    row.message = a_message(row.person, state="cancelled", because="the car was sold")
    row.save()
    html = page(desk, row)
    assert "its letter did not leave" in html
    assert "The car was sold." in html
    assert reverse("message", args=[row.message.pk]) in html
    assert reverse("message", args=[row.message.pk]) not in page(factories.signed_in(Rank.BENCH), row)


def test_what_was_asked_by_mistake_is_taken_back(winter: Winter, desk: Client) -> None:
    act = reverse("winter_take_back", args=[winter.invitation.pk])
    assert act in page(desk, winter.invitation)
    html = desk.post(act, follow=True).content.decode()
    assert "Taken back. The plan looks at the car again." in html
    assert not WinterInvitation.objects.exists()
    assert desk.get(address(winter.invitation)).status_code == 404


def test_what_was_answered_is_not_taken_back(winter: Winter, desk: Client) -> None:
    desk.post(address(winter.invitation), {"answer": "later"})
    act = reverse("winter_take_back", args=[winter.invitation.pk])
    assert act not in page(desk, winter.invitation)
    assert "An answer came to it. Change that instead." in desk.post(act, follow=True).content.decode()


def test_the_bench_reads_and_writes_nothing(winter: Winter, desk: Client) -> None:
    html = page(factories.signed_in(Rank.BENCH), winter.invitation)
    assert "open until 16 May" in html
    assert 'name="answer"' not in html
    assert reverse("person", args=[winter.invitation.person.pk]) not in html
    assert reverse("person", args=[winter.invitation.person.pk]) in page(desk, winter.invitation)


def test_who_was_asked_is_named_where_somebody_else_keeps_the_car_now(winter: Winter, desk: Client) -> None:
    row = an_invitation(winter.season, person=factories.person("Ada Quill"))
    html = page(desk, row)
    assert "Ada Quill</a>, no longer its keeper" in html
