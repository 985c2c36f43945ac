"""People who sign in: taken on, changed, and ended at once without losing what they wrote."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from crm.models import Rank, User
from crm.selectors.staff import staff
from crm.services.errors import Refused
from crm.services.staff import (
    StaffFacts,
    change_own_password,
    change_staff,
    end_access,
    set_password,
    take_on_staff,
)
from tests import factories

pytestmark = pytest.mark.django_db

PASSWORD = "gulls over the slipway"


def _newcomer(sign_in: str = "ada", name: str = "Ada Quill", rank: Rank = Rank.BENCH) -> User:
    factories.studio()
    return take_on_staff(sign_in=sign_in, facts=StaffFacts(name=name, rank=rank), password=PASSWORD, by=None)


def test_somebody_taken_on_signs_in_with_the_first_password() -> None:
    row = _newcomer(" ada.q ")
    assert (row.username, row.first_name, row.last_name, row.initials, row.rank) == (
        "ada.q",
        "Ada",
        "Quill",
        "AQ",
        Rank.BENCH,
    )
    assert row.check_password(PASSWORD)
    assert not row.check_password("another")


@pytest.mark.parametrize(
    ("sign_in", "name", "password", "field"),
    [
        ("", "Ada", PASSWORD, "username"),
        ("a", "Ada", PASSWORD, "username"),
        ("ada quill", "Ada", PASSWORD, "username"),
        ("ada\x00", "Ada", PASSWORD, "username"),
        ("🦜ada", "Ada", PASSWORD, "username"),
        ("x" * 41, "Ada", PASSWORD, "username"),
        ("'; DROP TABLE crm_user; --", "Ada", PASSWORD, "username"),
        ("TAKEN", "Ada", PASSWORD, "username"),
        ("ada", "  ", PASSWORD, "name"),
        ("ada", "Ada", "", "password"),
        ("ada", "Ada", "short", "password"),
        ("ada", "Ada", "1234567890123", "password"),
        ("ada", "Ada", "password123", "password"),
        ("gullsoverskerrin", "Ada", "gullsoverskerrin1", "password"),
    ],
)
def test_what_will_not_do_is_refused_beside_its_field(
    sign_in: str, name: str, password: str, field: str
) -> None:
    _newcomer("taken")
    with pytest.raises(Refused) as refused:
        take_on_staff(
            sign_in=sign_in, facts=StaffFacts(name=name, rank=Rank.BENCH), password=password, by=None
        )
    assert refused.value.field == field
    assert User.objects.count() == 1


def test_letters_of_any_alphabet_make_a_name() -> None:
    row = _newcomer("אדה", "אדה קוויל")
    assert (row.username, row.get_full_name(), row.initials) == ("אדה", "אדה קוויל", "אק")


def test_ending_access_ends_every_running_sign_in_at_once() -> None:
    factories.user(Rank.MANAGER)
    leaver = factories.user(Rank.DESK)
    browsers = [factories.signed_in(by=leaver), factories.signed_in(by=leaver)]
    assert [browser.get(reverse("today")).status_code for browser in browsers] == [200, 200]
    end_access(row=leaver, by=None)
    answers = [browser.get(reverse("today")) for browser in browsers]
    assert [answer.headers.get("Location") for answer in answers] == ["/sign-in/?next=/"] * 2


def test_a_sign_in_from_before_stays_dead_when_access_comes_back() -> None:
    factories.user(Rank.MANAGER)
    leaver = factories.user(Rank.DESK)
    old = factories.signed_in(by=leaver)
    end_access(row=leaver, by=None)
    set_password(row=leaver, password=PASSWORD, by=None)
    assert old.get(reverse("today")).status_code == 302
    leaver.refresh_from_db()
    assert (leaver.is_active, leaver.check_password(PASSWORD)) == (True, True)
    assert not leaver.check_password(factories.PASSWORD)


def test_what_somebody_wrote_stays_under_their_name() -> None:
    factories.user(Rank.MANAGER)
    leaver = factories.user(Rank.DESK, first_name="Ada", last_name="Quill")
    row = factories.visit()
    row.handed_over_by = leaver
    row.save()
    end_access(row=leaver, by=None)
    row.refresh_from_db()
    assert str(row.handed_over_by) == "Ada Quill"


def test_the_only_owner_manager_can_neither_be_ended_nor_lowered() -> None:
    boss = factories.user(Rank.MANAGER, first_name="Ada")
    factories.user(Rank.MANAGER, is_active=False)
    sentence = "Ada is the only owner-manager who can sign in. Make somebody else one first."
    with pytest.raises(Refused) as ended:
        end_access(row=boss, by=boss)
    with pytest.raises(Refused) as lowered:
        change_staff(row=boss, facts=StaffFacts(name="Ada", rank=Rank.LEAD), by=boss)
    assert (ended.value.sentence, lowered.value.sentence, lowered.value.field) == (sentence, sentence, "rank")
    boss.refresh_from_db()
    assert (boss.is_active, boss.rank) == (True, Rank.MANAGER)


def test_one_of_two_owner_managers_can_go() -> None:
    boss, other = factories.user(Rank.MANAGER), factories.user(Rank.MANAGER)
    change_staff(row=boss, facts=StaffFacts(name="Ada", rank=Rank.LEAD), by=other)
    boss.refresh_from_db()
    assert boss.rank == Rank.LEAD
    with pytest.raises(Refused):
        end_access(row=other, by=other)


def test_ending_twice_changes_nothing() -> None:
    factories.user(Rank.MANAGER)
    leaver = end_access(row=factories.user(Rank.BENCH), by=None)
    before = leaver.password
    assert end_access(row=leaver, by=None).password == before


def test_a_new_password_opens_a_name_that_was_tried_too_often() -> None:
    who = factories.user(Rank.BENCH)
    browser = Client()
    for _ in range(6):
        browser.post("/sign-in/", {"username": who.username, "password": "no"})
    set_password(row=who, password=PASSWORD, by=None)
    assert browser.post("/sign-in/", {"username": who.username, "password": PASSWORD}).status_code == 302


def test_ones_own_password_needs_the_present_one() -> None:
    who = factories.user(Rank.BENCH)
    with pytest.raises(Refused) as wrong:
        change_own_password(user=who, old="no", new=PASSWORD)
    with pytest.raises(Refused) as same:
        change_own_password(user=who, old=factories.PASSWORD, new=factories.PASSWORD)
    assert (wrong.value.field, same.value.field) == ("old", "new")
    change_own_password(user=who, old=factories.PASSWORD, new=PASSWORD)
    assert User.objects.get(pk=who.pk).check_password(PASSWORD)


@pytest.mark.parametrize("rank", [Rank.BENCH, Rank.LEAD, Rank.DESK])
def test_only_the_owner_manager_keeps_the_list(rank: Rank) -> None:
    who, facts = factories.user(rank), StaffFacts(name="Ada", rank=Rank.MANAGER)
    works: list[Callable[[], object]] = [
        lambda: take_on_staff(sign_in="ada", facts=facts, password=PASSWORD, by=who),
        lambda: change_staff(row=who, facts=facts, by=who),
        lambda: end_access(row=who, by=who),
        lambda: set_password(row=who, password=PASSWORD, by=who),
    ]
    for work in works:
        with pytest.raises(Refused, match="Ask the owner-manager"):
            work()
    who.refresh_from_db()
    assert who.rank == rank


def test_those_who_can_sign_in_stand_first() -> None:
    gone = factories.user(Rank.BENCH, first_name="Ada", is_active=False)
    here = factories.user(Rank.BENCH, first_name="Zed")
    assert list(staff()) == [here, gone]
