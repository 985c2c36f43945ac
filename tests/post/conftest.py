"""A mail server that the tests of the post can set against them."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from pytest_django import Settings

from tests.post.cast import FussyOffice


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def office(settings: Settings) -> Iterator[FussyOffice]:
    """A real SMTP server on a free port; what it says at each step is the test's to choose."""
    handler = FussyOffice(port=free_port())
    controller: Any = Controller(handler, hostname="127.0.0.1", port=handler.port)
    controller.start()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", handler.port
    settings.EMAIL_USE_TLS = settings.EMAIL_USE_SSL = False
    settings.EMAIL_HOST_USER = settings.EMAIL_HOST_PASSWORD = ""
    try:
        yield handler
    finally:
        controller.stop()
