"""The clock of the web tests stands still on a dry Monday in May."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import time_machine

from tests.factories import NOW


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    """The moment at which the factories live."""
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller
