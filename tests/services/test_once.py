"""A form sent twice counts once."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import transaction

from crm.models import Once
from crm.services.once import KEPT, first_time
from tests import factories as made

pytestmark = pytest.mark.django_db
NOW = made.NOW


def test_a_key_counts_once_and_no_key_always() -> None:
    assert first_time(key="a" * 22, by=None, now=NOW)
    assert not first_time(key="a" * 22, by=None, now=NOW)
    assert first_time(key="b" * 22, by=None, now=NOW)
    assert first_time(key="", by=None, now=NOW)
    assert first_time(key="", by=None, now=NOW)


def test_a_key_is_forgotten_with_the_transaction_that_failed() -> None:
    class Fails(Exception):
        """Something went wrong while recording."""

    def fails() -> None:
        with transaction.atomic():
            assert first_time(key="a" * 22, by=None, now=NOW)
            raise Fails

    with pytest.raises(Fails):
        fails()
    assert first_time(key="a" * 22, by=None, now=NOW)


def test_old_keys_are_cleared_away() -> None:
    first_time(key="a" * 22, by=None, now=NOW)
    first_time(key="b" * 22, by=None, now=NOW + KEPT + timedelta(seconds=1))
    assert list(Once.objects.values_list("key", flat=True)) == ["b" * 22]
