"""The page for what broke: it stands on nothing that may have broken as well."""

from __future__ import annotations

import re

import pytest
from django.contrib.staticfiles import finders
from django.templatetags.static import static
from django.test import Client

from crm.web import errors

ADDRESSES = ("/", "/post/", "/s/some-link-of-an-owner", "/sign-in/")


@pytest.mark.parametrize("address", ADDRESSES)
def test_page_for_what_broke_is_served_without_a_database(address: str) -> None:
    # This test has no database: every question to it is an error, as while it is down.
    browser = Client(raise_request_exception=False)
    browser.cookies["sessionid"] = "of-somebody-who-is-signed-in"
    answer = browser.post(address) if address == "/sign-in/" else browser.get(address)
    page = answer.content.decode()
    assert answer.status_code == 500
    assert "Something broke on our side" in page
    assert "style-src 'self'" in answer["Content-Security-Policy"]


def test_page_for_what_broke_has_the_icon_and_style_sheets_of_the_others() -> None:
    browser = Client(raise_request_exception=False)
    page = browser.get("/s/x").content.decode()
    named = [
        "crm/mark.svg",
        "crm/css/tokens.css",
        "crm/css/frame.css",
        "crm/css/parts.css",
        "crm/js/scheme.js",
    ]
    assert [static(name) in page for name in named] == [True] * len(named)
    assert [finders.find(name) is not None for name in named] == [True] * len(named)
    # The policy lets neither through.
    assert re.findall(r"<style|\sstyle=|<script(?![^>]*\ssrc=)|\son\w+=", page) == []


def test_page_for_what_broke_is_served_where_style_sheets_were_not_collected(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def missing(_template: str) -> str:
        raise ValueError("Missing staticfiles manifest entry")

    monkeypatch.setattr(errors, "render_to_string", missing)
    answer = Client(raise_request_exception=False).get("/s/x")
    assert (answer.status_code, "Something broke on our side" in answer.content.decode()) == (500, True)
