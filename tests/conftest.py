"""What tests of every layer may ask for: private servers, a real SMTP server, a page for every process."""

from __future__ import annotations

import gc
import os
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage
from typing import Any, TypeVar

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session
from pytest_django import Settings

from crm.management.testing.runs import POSTGRES, REDIS
from crm.management.testing.servers import Servers, private_servers

SLOW = ("browser", "served", "stack")


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Slow files first, so that no worker is left with one at the end; within that the random order stands."""
    items.sort(key=lambda item: not any(item.get_closest_marker(mark) for mark in SLOW))


def pytest_collection_finish() -> None:
    """What is loaded by now stays until the end: the collector need not look through it again and again."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


@pytest.fixture(scope="session")
def servers() -> Iterator[Servers]:
    """A running PostgreSQL and Redis: those of `manage.py test`, or private ones where pytest runs alone."""
    if POSTGRES in os.environ:
        yield Servers(postgres=os.environ[POSTGRES], redis=os.environ[REDIS])
        return
    with private_servers() as started:
        yield started


@dataclass
class PostOffice:
    """A real SMTP server on this machine; what it was handed, and what it says to receivers."""

    port: int = 0
    taken: list[EmailMessage] = field(default_factory=list)
    answers: dict[str, str] = field(default_factory=dict)
    """Receiver to SMTP reply, such as {"gone@example.org": "550 5.1.1 no such mailbox"}; others get 250."""

    async def handle_RCPT(  # noqa: N802 - the name aiosmtpd calls
        self, _server: SMTP, _session: Session, envelope: Envelope, address: str, _options: list[str]
    ) -> str:
        answer = self.answers.get(address, "250 OK")
        if answer.startswith("2"):
            envelope.rcpt_tos.append(address)
        return answer

    async def handle_DATA(self, _server: SMTP, _session: Session, envelope: Envelope) -> str:  # noqa: N802
        content = envelope.content
        assert isinstance(content, bytes)
        self.taken.append(message_from_bytes(content, policy=policy.default))
        return "250 Taken"


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


Office = TypeVar("Office", bound=PostOffice)


@contextmanager
def open_office(office: Office, settings: Settings) -> Iterator[Office]:
    """A real SMTP server on a free port that Django's own backend sends to; what it answers is the office's."""
    # The controller speaks to its server once before it says that it is up, so the port must be known.
    office.port = free_port()
    controller: Any = Controller(office, hostname="127.0.0.1", port=office.port)
    controller.start()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", office.port
    settings.EMAIL_USE_TLS = settings.EMAIL_USE_SSL = False
    settings.EMAIL_HOST_USER = settings.EMAIL_HOST_PASSWORD = ""
    try:
        yield office
    finally:
        controller.stop()


@pytest.fixture
def post_office(settings: Settings) -> Iterator[PostOffice]:
    """A real SMTP server that takes whatever it is not told to refuse."""
    with open_office(PostOffice(), settings) as office:
        yield office
