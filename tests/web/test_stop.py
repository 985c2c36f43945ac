"""The page behind "No more letters like this", as a person opens it and as a mail program posts to it."""

from __future__ import annotations

import pytest
from django.test import Client

from crm.models import Consent, Message, Person, Suppression
from crm.post.plan import plan_letters
from tests import factories
from tests.post.cast import OCTOBER, sealed_car

pytestmark = pytest.mark.django_db

# RFC 8058 section 8.1: the body of the example, 26 octets long.
ONE_CLICK = b"List-Unsubscribe=One-Click"
MULTIPART = (
    b'--sep\r\nContent-Disposition: form-data; name="List-Unsubscribe"\r\n\r\nOne-Click\r\n--sep--\r\n'
)


@pytest.fixture
def keeper() -> Person:
    """Somebody with a letter that waits."""
    car = sealed_car()
    plan_letters(now=OCTOBER)
    return car.roles.get().person


@pytest.fixture
def stranger() -> Client:
    """A client without cookies that checks forgery tokens as a real server does."""
    return Client(enforce_csrf_checks=True)


def _stopped(person: Person) -> bool:
    return Consent.objects.filter(person=person, given=False).exists()


@pytest.mark.parametrize("method", ["get", "head"])
def test_opening_the_link_asks_and_changes_nothing(keeper: Person, stranger: Client, method: str) -> None:
    answer = getattr(stranger, method)(f"/s/{keeper.stop_key}")
    assert answer.status_code == 200
    assert not _stopped(keeper)
    assert Suppression.objects.count() == 0
    assert Message.objects.get().state == Message.State.WAITING


def test_page_asks_with_one_button_and_no_token(keeper: Person, stranger: Client) -> None:
    page = stranger.get(f"/s/{keeper.stop_key}").content.decode()
    assert page.count("<form") == page.count("<button") == 1
    assert "csrf" not in page
    assert "<script" not in page
    assert keeper.name not in page


@pytest.mark.parametrize(
    ("body", "content_type"),
    [
        (ONE_CLICK, "application/x-www-form-urlencoded"),
        (MULTIPART, "multipart/form-data; boundary=sep"),
        (b"", "application/x-www-form-urlencoded"),
        (b"\xff\x00 not a form", "application/octet-stream"),
    ],
)
def test_posting_acts_at_once_whatever_the_body(
    keeper: Person, stranger: Client, body: bytes, content_type: str
) -> None:
    answer = stranger.post(f"/s/{keeper.stop_key}", data=body, content_type=content_type)
    # RFC 8058 section 3.1: no redirect.
    assert answer.status_code == 200
    assert _stopped(keeper)
    assert Suppression.objects.count() == 1
    letter = Message.objects.get()
    assert (letter.state, letter.because) == (
        Message.State.CANCELLED,
        "no more letters: the link in a letter",
    )


def test_one_click_body_is_26_octets() -> None:
    assert len(ONE_CLICK) == 26


def test_posting_twice_is_as_good_as_once(keeper: Person, stranger: Client) -> None:
    for _ in range(2):
        assert stranger.post(f"/s/{keeper.stop_key}").status_code == 200
    assert Consent.objects.filter(person=keeper, given=False).count() == 1


@pytest.mark.parametrize("method", ["get", "post"])
def test_page_is_private_and_sets_no_cookie(keeper: Person, stranger: Client, method: str) -> None:
    answer = getattr(stranger, method)(f"/s/{keeper.stop_key}")
    assert answer["Cache-Control"] == "no-store"
    assert answer["X-Robots-Tag"] == "noindex, nofollow"
    assert answer["Referrer-Policy"] == "no-referrer"
    assert answer.cookies == {}


@pytest.mark.parametrize("key", ["x" * 22, "x", "0", "a-b_c", "x" * 2000])
@pytest.mark.parametrize("method", ["get", "post"])
def test_unknown_key_is_answered_with_a_sentence(stranger: Client, key: str, method: str) -> None:
    factories.studio()
    answer = getattr(stranger, method)(f"/s/{key}")
    assert answer.status_code == 404
    assert "This link is not known" in answer.content.decode()
    assert answer["Cache-Control"] == "no-store"
    assert Consent.objects.count() == 0


@pytest.mark.parametrize("method", ["put", "delete", "patch"])
def test_other_methods_are_not_allowed(keeper: Person, stranger: Client, method: str) -> None:
    assert getattr(stranger, method)(f"/s/{keeper.stop_key}").status_code == 405
    assert not _stopped(keeper)


def test_without_a_studio_the_page_still_answers(stranger: Client) -> None:
    assert stranger.get(f"/s/{'x' * 22}").status_code == 404


def test_signed_in_or_not_the_page_is_the_same(keeper: Person, stranger: Client) -> None:
    inside = factories.signed_in()
    assert inside.get(f"/s/{keeper.stop_key}").content == stranger.get(f"/s/{keeper.stop_key}").content
