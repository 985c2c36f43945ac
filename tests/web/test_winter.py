"""The page of a winter round: opening it, its weeks, its hours, planning again, closing it."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from crm.models import Rank, WinterRound
from crm.services.winter_round import close_round, plan_again
from tests import factories
from tests.factories import NOW
from tests.web.world import FIRST_WEEK, Winter, a_message, a_proposal, an_invitation

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
OPENING = {"first_monday": "2026-09-07", "weeks": "11", "hours": "26", "nights": "4"}
ASKS_AGAIN = 'hx-trigger="every 3s"'


def page(client: Client, **query: str | int) -> str:
    return client.get(reverse("winter"), query).content.decode()


def test_a_yard_without_a_round_is_told_what_one_is_and_offered_to_open_it(desk: Client) -> None:
    html = page(desk)
    assert "No winter round is open" in html
    assert "Nothing is sent before somebody here has looked at the cars" in html
    assert reverse("winter_open") in html
    seen_by_bench = page(factories.signed_in(Rank.BENCH))
    assert "No winter round is open" in seen_by_bench
    assert reverse("winter_open") not in seen_by_bench


def test_the_form_suggests_the_usual_weeks_and_says_what_is_kept_back(desk: Client) -> None:
    """Eight weeks before the week in which salting starts, eleven weeks long: common practice, no source."""
    html = desk.get(reverse("winter_open")).content.decode()
    for value in ("2026-08-31", "11", "26", "4"):
        assert f'value="{value}"' in html
    assert "15 % of each week is kept back" in html


def test_a_round_is_opened_and_waits_for_its_plan(desk: Client) -> None:
    answer = desk.post(reverse("winter_open"), OPENING, follow=True)
    season = WinterRound.objects.get()
    assert (season.weeks.count(), season.opened_by) == (11, desk.user)  # type: ignore[attr-defined]
    html = answer.content.decode()
    assert "The round is open. Its plan is being made." in html
    assert "It is being planned." in html
    assert ASKS_AGAIN in html
    assert "not planned yet" in html


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("first_monday", "2026-09-08", "The first week begins on a Monday."),
        ("first_monday", "", "Write the day like 4/5/2026."),
        ("weeks", "31", "it has to be from 1 to 30"),
        ("weeks", "", "Write a whole number, in digits only."),
        ("hours", "much", "Write a plain number"),
        ("hours", "", "Write a plain number"),
        ("nights", "100", "it has to be from 0 to 99"),
    ],
)
def test_an_opening_that_makes_no_sense_is_refused_beside_its_field(
    field: str, value: str, sentence: str, desk: Client
) -> None:
    answer = desk.post(reverse("winter_open"), {**OPENING, field: value})
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not WinterRound.objects.exists()


def test_the_same_form_sent_twice_opens_one_round(desk: Client) -> None:
    sent = {**OPENING, "once": "a-key-of-sixteen-letters"}
    answers = [desk.post(reverse("winter_open"), sent).status_code for _ in range(2)]
    assert answers == [302, 302]
    assert WinterRound.objects.count() == 1


def test_a_second_round_is_refused_while_one_is_going(winter: Winter, desk: Client) -> None:
    assert "Close it before another one is opened." in desk.get(reverse("winter_open")).content.decode()
    answer = desk.post(reverse("winter_open"), OPENING)
    assert answer.status_code == 422
    assert "A winter round is going at Greywater Yard already. Close it first." in answer.content.decode()


def test_the_page_says_how_the_plan_stands_and_what_to_do_now(winter: Winter, desk: Client) -> None:
    html = page(desk)
    assert "Winter round 2026/27" in html
    assert "Planned on Monday 4 May for 3 weeks." in html
    assert ASKS_AGAIN not in html
    assert "1 car for the week of 18 May" in html
    assert "1 invitation waits for an answer" in html
    assert "the oldest since 2 May; without an answer one lapses after 14 days" in html
    assert (
        "spares 3 unprotected salted days in all; no plan within these hours could spare more than 3." in html
    )
    assert reverse("winter_week", args=[winter.season.pk, FIRST_WEEK]) in html


def test_every_week_is_drawn_and_said_in_words_and_in_a_table(winter: Winter, desk: Client) -> None:
    html = page(desk)
    assert html.count('class="winter-week"') == 3
    assert html.count('<svg class="winter-bar') == 6
    assert html.count('<th scope="row" data-label="Week of">') == 3
    assert html.count("1 to ask") == 2
    # Fifteen hundredths of 26 hours (common practice, no source).
    assert '<td class="number" data-label="Kept back">3.9</td>' in html
    assert '<td class="number" data-label="Spoken for">0</td>' in html


def test_numbers_in_drawings_have_points_whatever_the_language(winter: Winter, desk: Client) -> None:
    html = page(desk)
    sizes = [part.split('"')[0] for part in html.split(' height="')[1:]]
    assert sizes
    assert [size for size in sizes if "," in size] == []


def test_weeks_that_are_over_stand_apart(winter: Winter, desk: Client) -> None:
    winter.season.weeks.filter(monday=FIRST_WEEK).update(monday=date(2026, 4, 20))
    html = page(desk)
    assert "The 1 week that is over" in html
    assert html.index("25 May") < html.index("20 Apr")


def test_a_round_whose_weeks_are_over_is_to_be_closed(clock: time_machine.Traveller, winter: Winter) -> None:
    clock.shift(timedelta(days=60))
    assert "Every week of this round is over. Close it" in page(factories.signed_in(Rank.DESK))


def test_while_it_is_planned_the_page_asks_again_and_gets_nothing_until_it_is_done(
    winter: Winter, desk: Client
) -> None:
    plan_again(season=winter.season, by=None)
    html = page(desk)
    assert ASKS_AGAIN in html
    assert f'<a href="{reverse("winter")}">Look again</a>' in html
    asking = {"HX-Request": "true"}
    assert desk.get(reverse("winter"), headers=asking).status_code == 204
    week = reverse("winter_week", args=[winter.season.pk, FIRST_WEEK])
    assert desk.get(week, headers=asking).status_code == 204
    season = WinterRound.objects.get()
    WinterRound.objects.update(planned_changes=season.changes)
    answer = desk.get(reverse("winter"), headers=asking)
    assert answer.status_code == 200
    assert 'id="winter"' in answer.content.decode()


def test_a_plan_of_yesterday_is_no_plan_of_today(winter: Winter, desk: Client) -> None:
    WinterRound.objects.update(planned_for=NOW.date() - timedelta(days=1))
    assert "it is being planned again" in page(desk)


def test_a_letter_that_did_not_leave_wants_a_person(winter: Winter, desk: Client) -> None:
    row = an_invitation(winter.season, how="letter")
    row.message = a_message(row.person, state="cancelled", because="the car was sold")
    row.save()
    html = page(desk)
    assert "1 letter did not leave" in html


def test_where_nobody_is_left_the_page_says_so(winter: Winter, desk: Client) -> None:
    winter.proposal.delete()
    assert "Nobody is left to be asked" in page(desk)
    ahead = date(2026, 6, 22)
    a_proposal(winter.season, monday=ahead)
    winter.season.weeks.filter(monday=FIRST_WEEK).update(monday=ahead)
    # Four weeks ahead is the earliest (common practice, no source).
    assert "The next are 1 car for the week of 22 June, from 25 May on." in page(desk)


def test_hours_of_a_week_are_changed_and_the_plan_follows(winter: Winter, desk: Client) -> None:
    address = reverse("winter_weeks", args=[winter.season.pk])
    html = desk.get(address).content.decode()
    assert html.count('value="26"') == 3
    sent = {f"hours-{week.monday}": "26" for week in winter.season.weeks.all()}
    sent |= {f"nights-{week.monday}": "4" for week in winter.season.weeks.all()}
    sent |= {"hours-2026-05-25": "12,5", "nights-2026-05-25": "0"}
    assert desk.post(address, sent).status_code == 302
    changed = winter.season.weeks.get(monday=date(2026, 5, 25))
    assert (changed.hours, changed.nights) == (Decimal("12.5"), Decimal(0))
    assert WinterRound.objects.get().changes > winter.season.changes


def test_hours_that_cannot_be_are_refused_and_weeks_that_are_over_not_asked_for(
    winter: Winter, desk: Client
) -> None:
    winter.season.weeks.filter(monday=FIRST_WEEK).update(monday=date(2026, 4, 20))
    address = reverse("winter_weeks", args=[winter.season.pk])
    assert "hours-2026-04-20" not in desk.get(address).content.decode()
    answer = desk.post(address, {"hours-2026-05-25": "-1"})
    assert answer.status_code == 422
    html = answer.content.decode()
    assert "it has to be from 0 to 999" in html
    assert "“Nights, week of 1 June” is empty." in html


def test_planning_again_is_one_button(winter: Winter, desk: Client) -> None:
    answer = desk.post(reverse("winter_again", args=[winter.season.pk]), follow=True)
    assert "The plan is being made again." in answer.content.decode()
    assert WinterRound.objects.get().changes == winter.season.changes + 1


def test_closing_asks_first_and_can_be_undone(winter: Winter, desk: Client) -> None:
    address = reverse("winter_close", args=[winter.season.pk])
    assert "Nobody is asked any more" in desk.get(address).content.decode()
    assert WinterRound.objects.get().is_going
    html = desk.post(address, follow=True).content.decode()
    assert not WinterRound.objects.get().is_going
    assert "on 4 May 2026. Nobody is asked any more; what is booked stands." in html
    assert reverse("winter_again", args=[winter.season.pk]) not in html
    assert "1 to ask" not in html
    assert ASKS_AGAIN not in html
    assert desk.get(address).status_code == 302
    again = desk.post(reverse("winter_reopen", args=[winter.season.pk]), follow=True)
    assert "The round is going again." in again.content.decode()
    assert WinterRound.objects.get().is_going


def test_a_refused_button_says_why_at_the_top(winter: Winter, desk: Client) -> None:
    close_round(season=winter.season, by=None, now=NOW)
    answer = desk.post(reverse("winter_again", args=[winter.season.pk]), follow=True)
    assert "This winter round is closed." in answer.content.decode()


def test_the_bench_sees_the_round_and_changes_nothing(winter: Winter) -> None:
    html = page(factories.signed_in(Rank.BENCH))
    assert "1 car for the week of 18 May" in html
    for name in ("winter_weeks", "winter_close", "winter_again"):
        assert reverse(name, args=[winter.season.pk]) not in html


def test_another_branch_is_a_chip_away(winter: Winter, desk: Client) -> None:
    other = factories.branch("Saltmarsh Lane")
    assert f'href="{reverse("winter")}?branch={other.pk}"' in page(desk)
    assert "No winter round is open" in page(desk, branch=other.pk)
    desk.post(f"{reverse('winter_open')}?branch={other.pk}", OPENING)
    assert WinterRound.objects.filter(branch=other).count() == 1
    assert "Saltmarsh Lane, salted roads from 1 November" in page(desk, branch=other.pk)


def test_a_branch_among_many_is_found_by_its_name(winter: Winter, desk: Client) -> None:
    for number in range(8):
        factories.branch(f"Quay {number}")
    html = page(desk)
    assert "Name of the branch, in full" in html
    assert "Winter round 2026/27" in html
    assert "Quay 3" in page(desk, name="quay 3")
    assert "No open branch has that name." in page(desk, name="Quay 77")


@pytest.mark.parametrize("branch", ["x", "-1", "99999999999999999999", "999999", "٣"])
def test_a_branch_that_is_not_there_is_no_page(branch: str, desk: Client) -> None:
    factories.branch()
    assert desk.get(reverse("winter"), {"branch": branch}).status_code == 404


@pytest.mark.parametrize(
    "nowhere",
    ["winter/999999/asked/", "winter/0/asked/", "winter/invitation/999999/", "winter/1/week/2026-13-01/"],
)
def test_what_is_not_there_is_no_page(nowhere: str, winter: Winter, desk: Client) -> None:
    assert desk.get(f"/{nowhere}").status_code == 404
    assert desk.get(reverse("winter_week", args=[winter.season.pk, date(2026, 9, 7)])).status_code == 404
