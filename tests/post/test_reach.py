"""How an address that must not be written to again is kept."""

from __future__ import annotations

import hashlib

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from crm.models import Consent, Suppression
from crm.post.stop import stop_letters
from crm.selectors.reach import address_hash, letter_reach
from tests import factories
from tests.post.cast import MAY, willing


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
