"""How often somebody may try to sign in, and who is locked out by it."""

from __future__ import annotations

import pytest
from django.test import Client, RequestFactory
from pytest_django import Settings

from crm.models import Rank, User
from crm.web.sign_in_limit import caller
from tests import factories

# Addresses for examples: RFC 5737 and RFC 3849.
STRANGER, STUDIO = "203.0.113.9", "198.51.100.7"


def _try(name: str, password: str, at: str, *, before: str = "") -> int:
    """Sign in through a proxy on this machine that adds the caller to what was forwarded before."""
    answer = Client().post(
        "/sign-in/",
        {"username": name, "password": password},
        headers={"X-Forwarded-For": f"{before}{at}"},
        REMOTE_ADDR="127.0.0.1",
    )
    return answer.status_code


@pytest.fixture
def manager(db: None, settings: Settings) -> User:
    """Somebody to be locked out, or not, behind a proxy."""
    settings.BEHIND_PROXY = True
    factories.studio()
    return factories.user(Rank.MANAGER)


def test_a_stranger_behind_the_same_proxy_does_not_lock_the_manager_out(manager: User) -> None:
    wrong = [_try(manager.username, "no", STRANGER) for _ in range(6)]
    assert wrong[-1] == 429
    assert _try(manager.username, factories.PASSWORD, STUDIO) == 302


def test_what_the_caller_writes_before_the_proxys_entry_buys_no_more_tries(manager: User) -> None:
    wrong = [_try(manager.username, "no", STRANGER, before=f"192.0.2.{number}, ") for number in range(6)]
    assert wrong == [200] * 5 + [429]


def test_many_names_from_one_address_lock_that_address_only(manager: User) -> None:
    tried = [_try(f"name{number}", "no", STRANGER) for number in range(30)]
    assert tried == [200] * 29 + [429]
    assert _try(manager.username, factories.PASSWORD, STRANGER) == 429
    assert _try(manager.username, factories.PASSWORD, STUDIO) == 302


def test_one_name_tried_on_and_on_does_not_lock_the_others_at_its_address(manager: User) -> None:
    assert [_try("somebody", "no", STUDIO) for _ in range(40)][-1] == 429
    assert _try(manager.username, factories.PASSWORD, STUDIO) == 302


@pytest.mark.parametrize(
    ("proxy", "forwarded", "expected"),
    [
        (False, STRANGER, "127.0.0.1"),
        (True, STRANGER, STRANGER),
        (True, f"{STUDIO}, {STRANGER}", STRANGER),
        (True, "not an address", "127.0.0.1"),
        (True, "", "127.0.0.1"),
        (True, "2001:db8:1:2:3:4:5:6", "2001:db8:1:2::"),
        (True, "::ffff:203.0.113.9", STRANGER),
    ],
)
def test_caller_is_who_the_proxy_says_and_else_who_connected(
    settings: Settings, proxy: bool, forwarded: str, expected: str
) -> None:
    settings.BEHIND_PROXY = proxy
    request = RequestFactory().get("/", headers={"X-Forwarded-For": forwarded}, REMOTE_ADDR="127.0.0.1")
    assert caller(request) == expected
