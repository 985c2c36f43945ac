"""A mail server that the tests of the post can set against them."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from pytest_django import Settings

from tests.conftest import open_office
from tests.post.cast import FussyOffice


@pytest.fixture
def office(settings: Settings) -> Iterator[FussyOffice]:
    """A real SMTP server; what it says at each step is the test's to choose."""
    with open_office(FussyOffice(), settings) as office:
        yield office
