"""The people who sign in, on the screen."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from crm.models import Branch, Rank, User
from tests import factories
from tests.web.strange import STRANGE

pytestmark = pytest.mark.django_db

PASSWORD = "gulls over the slipway"
NEW: dict[str, Any] = {
    "name": "Ada Quill",
    "initials": "",
    "rank": "bench",
    "branch": "",
    "username": "ada",
    "password": PASSWORD,
}


def _member(row: User, **typed: str) -> dict[str, str]:
    return {"name": "Ada Quill", "initials": "AQ", "rank": row.rank, "branch": "", **typed}


def test_the_list_says_who_signs_in_and_when_they_last_did() -> None:
    browser = factories.signed_in()
    factories.user(Rank.LEAD, first_name="Bram", username="bram")
    factories.user(Rank.DESK, first_name="Cerys", is_active=False)
    html = browser.get(reverse("staff")).content.decode()
    assert [word in html for word in ("Bram", "bram", "front of house", "access ended", "not yet")] == [
        True
    ] * 5


def test_the_list_asks_as_often_for_one_as_for_many(
    django_assert_max_num_queries: DjangoAssertNumQueries,
) -> None:
    browser = factories.signed_in()
    for _ in range(30):
        factories.user(Rank.BENCH)
    with django_assert_max_num_queries(6):
        browser.get(reverse("staff"))


def test_somebody_added_can_sign_in() -> None:
    answer = factories.signed_in().post(reverse("staff_new"), NEW)
    assert (answer.status_code, answer.headers["Location"]) == (302, reverse("staff"))
    answer = Client().post("/sign-in/", {"username": "ada", "password": PASSWORD})
    assert answer.headers["Location"] == reverse("today")
    assert User.objects.get(username="ada").get_full_name() == "Ada Quill"


def test_a_first_password_is_offered_and_never_stored_in_a_message() -> None:
    browser = factories.signed_in()
    form = browser.get(reverse("staff_new")).context["form"]
    offered = form["password"].value()
    assert len(offered) == 14
    page = browser.post(reverse("staff_new"), {**NEW, "password": offered}, follow=True).content.decode()
    assert "Ada Quill can sign in as ada. Tell them the password." in page
    assert offered not in page


@pytest.mark.parametrize("field", list(NEW))
def test_no_field_of_somebody_new_breaks_on_anything(field: str) -> None:
    browser = factories.signed_in()
    for kind, text in STRANGE.items():
        answer = browser.post(reverse("staff_new"), {**NEW, field: text})
        assert answer.status_code in (302, 422), kind
        html = answer.content.decode()
        assert "<script>alert(1)</script>" not in html
        if answer.status_code == 422:
            assert "errorlist" in html, kind
            assert not User.objects.filter(username="ada").exists()
            assert field == "name" or 'value="Ada Quill"' in html, kind
        User.objects.filter(first_name__in=("Ada", text[:80].replace("\0", ""))).delete()


def test_a_weak_password_is_refused_with_the_reason_and_the_rest_is_kept() -> None:
    answer = factories.signed_in().post(reverse("staff_new"), {**NEW, "password": "1234567890"})
    assert answer.status_code == 422
    html = answer.content.decode()
    assert "This password is too common." in html
    assert 'value="Ada Quill"' in html


def test_rank_and_branch_are_changed() -> None:
    browser = factories.signed_in()
    row = factories.user(Rank.BENCH)
    pier = Branch.objects.create(name="Pier Shed")
    answer = browser.post(
        reverse("staff_member", args=[row.pk]), _member(row, rank="lead", branch=str(pier.pk), initials="ADQ")
    )
    assert answer.status_code == 302
    row.refresh_from_db()
    assert (row.rank, row.branch, row.initials, row.first_name) == (Rank.LEAD, pier, "ADQ", "Ada")


def test_a_chain_names_its_branch_instead_of_choosing_among_many() -> None:
    browser = factories.signed_in()
    for number in range(8):
        Branch.objects.create(name=f"Quay {number}")
    row = factories.user(Rank.BENCH)
    url = reverse("staff_member", args=[row.pk])
    assert "<select" not in browser.get(url).content.decode()
    assert browser.post(url, _member(row, branch="quay 3")).status_code == 302
    row.refresh_from_db()
    assert row.branch is not None
    assert row.branch.name == "Quay 3"
    several = browser.post(url, _member(row, branch="quay"))
    assert several.context["form"].errors == {
        "branch": ["Several branches begin like that: write a little more."]
    }
    none = browser.post(url, _member(row, branch="\u202e%_\\"))
    assert none.context["form"].errors == {"branch": ["No open branch is called that."]}


def test_ending_access_signs_them_out_and_can_be_taken_back() -> None:
    browser = factories.signed_in()
    row = factories.user(Rank.DESK, username="cerys")
    theirs = factories.signed_in(by=row)
    assert browser.post(reverse("staff_end", args=[row.pk])).status_code == 302
    assert theirs.get(reverse("today")).headers["Location"] == "/sign-in/?next=/"
    page = browser.get(reverse("staff_member", args=[row.pk])).content.decode()
    assert "Give access back" in page
    assert browser.post(reverse("staff_password", args=[row.pk]), {"password": PASSWORD}).status_code == 302
    assert Client().post("/sign-in/", {"username": "cerys", "password": PASSWORD}).status_code == 302


def test_the_last_owner_manager_is_told_why_they_stay() -> None:
    boss = factories.user(Rank.MANAGER, first_name="Ada")
    browser = factories.signed_in(by=boss)
    sentence = "Ada is the only owner-manager who can sign in. Make somebody else one first."
    ended = browser.post(reverse("staff_end", args=[boss.pk]))
    lowered = browser.post(reverse("staff_member", args=[boss.pk]), _member(boss, rank="bench"))
    assert (ended.status_code, lowered.status_code) == (422, 422)
    assert ended.context["end_form"].non_field_errors() == [sentence]
    assert lowered.context["form"].errors == {"rank": [sentence]}
    assert browser.get(reverse("today")).status_code == 200


def test_an_owner_manager_who_steps_down_lands_where_they_may_be() -> None:
    boss = factories.user(Rank.MANAGER)
    factories.user(Rank.MANAGER)
    answer = factories.signed_in(by=boss).post(
        reverse("staff_member", args=[boss.pk]), _member(boss, rank="bench")
    )
    assert answer.headers["Location"] == reverse("today")


def test_a_new_password_of_any_kind_is_taken_or_refused() -> None:
    browser = factories.signed_in()
    row = factories.user(Rank.BENCH)
    for kind, text in STRANGE.items():
        answer = browser.post(reverse("staff_password", args=[row.pk]), {"password": text})
        assert answer.status_code in (302, 422), kind
        row.refresh_from_db()
        assert row.check_password(text) == (answer.status_code == 302), kind


@pytest.mark.parametrize("rank", [Rank.BENCH, Rank.LEAD, Rank.DESK])
def test_other_ranks_do_not_get_at_the_staff(rank: Rank) -> None:
    browser = factories.signed_in(rank)
    row = factories.user(Rank.BENCH)
    assert [browser.get(reverse(name)).status_code for name in ("staff", "staff_new")] == [403, 403]
    pages = [reverse(name, args=[row.pk]) for name in ("staff_member", "staff_password", "staff_end")]
    assert [browser.post(page, {"password": PASSWORD}).status_code for page in pages] == [403, 403, 403]
    row.refresh_from_db()
    assert row.is_active


def test_nobody_of_that_number_is_a_page_that_does_not_exist() -> None:
    assert factories.signed_in().get(reverse("staff_member", args=[999_999])).status_code == 404


@pytest.mark.parametrize("rank", list(Rank))
def test_everybody_changes_their_own_password_and_stays_signed_in_here_only(rank: Rank) -> None:
    who = factories.user(rank)
    here, elsewhere = factories.signed_in(by=who), factories.signed_in(by=who)
    answer = here.post(reverse("password"), {"old": factories.PASSWORD, "new": PASSWORD, "again": PASSWORD})
    assert answer.status_code == 302
    assert [browser.get(reverse("today")).status_code for browser in (here, elsewhere)] == [200, 302]


@pytest.mark.parametrize(
    ("typed", "field", "sentence"),
    [
        ({"old": "no"}, "old", "That is not your present password."),
        ({"again": "something else"}, "again", "The two are not the same. Type both again."),
        (
            {"new": "short", "again": "short"},
            "new",
            "This password is too short. It must contain at least 10 characters.",
        ),
        (
            {"new": "a\x00b", "again": "a\x00b"},
            "new",
            "It holds a character that cannot be kept. Type it again.",
        ),
        ({"old": ""}, "old", "“Your present password” is empty. Write it down."),
        ({"new": factories.PASSWORD, "again": factories.PASSWORD}, "new", "That is the password you have."),
    ],
)
def test_an_own_password_that_will_not_do_is_refused(
    typed: dict[str, str], field: str, sentence: str
) -> None:
    browser = factories.signed_in(Rank.BENCH)
    good = {"old": factories.PASSWORD, "new": PASSWORD, "again": PASSWORD}
    answer = browser.post(reverse("password"), {**good, **typed})
    assert answer.status_code == 422
    assert answer.context["form"].errors[field] == [sentence]
    assert PASSWORD not in answer.content.decode()
