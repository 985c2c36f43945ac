"""One Chromium for all journeys, and pages in it that report what nobody looking would notice."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

import pytest
import time_machine
from django.test import Client
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    Request,
    WebError,
    expect,
    sync_playwright,
)

from crm.setting_up.system import chromium
from tests.factories import NOW

ARGUMENTS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 800}
PATIENCE = 20_000
"""Milliseconds that a screen is waited for; a busy machine is slow, and a test that fails for that is of no use."""


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium, started once. Without a window, and with nothing that calls home."""
    # The driver keeps an event loop in this thread, which Django takes for asynchronous code.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    expect.set_options(timeout=PATIENCE)
    try:
        with sync_playwright() as driver:
            started = driver.chromium.launch(executable_path=chromium(), args=ARGUMENTS)
            yield started
            started.close()
    finally:
        del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@dataclass
class Window:
    """A browser of somebody's own: its cookies, its pages, and everything that went wrong in them."""

    context: BrowserContext
    page: Page
    wrong: list[str] = field(default_factory=list)
    """Errors in the console (a breach of the content policy is one), uncaught errors, requests that failed or went
    to another origin."""
    expected: tuple[str, ...] = ()
    """Beginnings of console messages that a test provokes on purpose."""

    def watch(self) -> None:
        self.context.on("console", self._console)
        self.context.on("weberror", self._uncaught)
        self.context.on("request", self._request)

    def enter(self, at: str, client: Client) -> Page:
        """Its page, for somebody who is signed in already."""
        cookie = {"name": "sessionid", "value": client.cookies["sessionid"].value, "url": at}
        self.context.add_cookies([cookie])  # type: ignore[list-item]
        return self.page

    def _console(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning") and not message.text.startswith(self.expected or ("\0",)):
            self.wrong.append(f"{self.page.url}: {message.text}")

    def _uncaught(self, error: WebError) -> None:
        self.wrong.append(f"{self.page.url}: {error.error}")

    def _request(self, request: Request) -> None:
        # Every server of the tests is on this machine; anything else is another origin.
        if urlsplit(request.url).hostname not in ("localhost", "127.0.0.1"):
            self.wrong.append(f"{self.page.url} asked {request.url}")


class Windows:
    """Opens windows for a test and looks at its end that nothing went wrong in any of them."""

    def __init__(self, browser: Browser) -> None:
        self._browser = browser
        self.opened: list[Window] = []

    def _open(self, **options: Any) -> Window:
        context = self._browser.new_context(locale="en-GB", timezone_id="Europe/London", **options)
        context.set_default_timeout(PATIENCE)
        window = Window(context, context.new_page())
        window.watch()
        self.opened.append(window)
        return window

    def phone(self, **options: Any) -> Window:
        """A telephone: 390 pixels wide, touched."""
        return self._open(viewport=PHONE, has_touch=True, is_mobile=True, **options)

    def desk(self, **options: Any) -> Window:
        """A desk: 1280 pixels wide, with a keyboard."""
        return self._open(viewport=DESK, **options)


@pytest.fixture
def windows(browser: Browser) -> Iterator[Windows]:
    """Windows of the test's own; they are closed at its end, and what went wrong in them fails it."""
    opened = Windows(browser)
    yield opened
    for window in opened.opened:
        window.context.close()
    assert [wrong for window in opened.opened for wrong in window.wrong] == []


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    """The moment at which the factories live; it moves when a test moves it."""
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller
