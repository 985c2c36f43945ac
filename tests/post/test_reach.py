"""How an address that must not be written to again is kept."""

from __future__ import annotations

import hashlib

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from crm.models import Consent, Message, Suppression
from crm.post.plan import plan_letters
from crm.post.stop import stop_letters
from crm.selectors.reach import address_hash, letter_reach
from tests import factories
from tests.post.cast import MAY, OCTOBER, sealed_car, willing


def test_only_a_hash_of_an_address_is_kept() -> None:
    expected = hashlib.sha256(b"kezia@example.org").hexdigest()
    assert address_hash(" Kezia@Example.ORG ") == expected


@pytest.mark.django_db
def test_stopping_is_written_down_once_and_for_every_address() -> None:
    person = willing(email="kezia@example.org")
    person.contacts.create(kind="email", value="kezia@example.com")
    for _ in range(2):
        stop_letters(person=person, how="the link in a letter", now=MAY)
    answers = Consent.objects.filter(person=person, given=False)
    assert [(row.purpose, row.channel, row.how, row.at) for row in answers] == [
        ("letters", "email", "the link in a letter", MAY)
    ]
    assert set(Suppression.objects.values_list("address_hash", flat=True)) == {
        address_hash("kezia@example.org"),
        address_hash("kezia@example.com"),
    }


@pytest.mark.django_db
def test_reach_of_many_costs_what_the_reach_of_one_costs() -> None:
    studio = factories.studio()
    people = [willing() for _ in range(6)]
    counts = []
    for some in (people[:1], people):
        with CaptureQueriesContext(connection) as asked:
            letter_reach(some, now=MAY, studio=studio)
        counts.append(len(asked))
    assert counts == [5, 5]


@pytest.mark.django_db
def test_letters_that_are_left_out_count_towards_no_cap() -> None:
    person, studio = willing(), factories.studio()
    sealed_car(person)
    plan_letters(now=OCTOBER)
    Message.objects.update(state=Message.State.SENT, sent_at=OCTOBER)
    (letter,) = Message.objects.all()

    def against(without: tuple[int, ...] = ()) -> str:
        return letter_reach([person], now=OCTOBER, studio=studio, without=without)[person.pk].against

    assert against() == "the last letter went on 6 October 2026"
    assert against((letter.pk + 1,)) == "the last letter went on 6 October 2026"
    assert against((letter.pk,)) == ""
