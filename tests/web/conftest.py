"""The clock of the web tests stands still on a dry Monday in May; the desk is signed in, a winter round is going."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import time_machine
from django.test import Client

from crm.models import Rank
from tests import factories
from tests.factories import NOW
from tests.web.world import Winter, a_winter


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    """The moment at which the factories live."""
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def winter() -> Winter:
    """A round with a car to ask, one that is left out and one that was asked."""
    return a_winter(factories.car("QL44 OUT"))


@pytest.fixture
def desk() -> Client:
    """Front of house, signed in."""
    return factories.signed_in(Rank.DESK)
