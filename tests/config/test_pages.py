"""What every answer carries, whichever page it is."""

from __future__ import annotations

import json
import logging
import logging.config
from typing import Any

import pytest
from django.conf import settings
from django.test import Client

from crm.config.logs import LogForm, logging_settings

pytestmark = pytest.mark.django_db


def test_answer_forbids_everything_that_is_not_the_studios_own() -> None:
    policy = Client().get("/nowhere-at-all/")["Content-Security-Policy"]
    directives = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    assert directives == {
        "default-src": "'none'",
        "script-src": "'self'",
        "style-src": "'self'",
        "img-src": "'self'",
        "font-src": "'self'",
        "connect-src": "'self'",
        "manifest-src": "'self'",
        "frame-src": "'self'",
        "form-action": "'self'",
        "base-uri": "'none'",
        "object-src": "'none'",
        "frame-ancestors": "'none'",
    }


def test_answer_is_named_after_the_request() -> None:
    given = Client().get("/nowhere-at-all/", headers={"X-Request-ID": "a-proxy-named-this"})
    assert given["X-Request-ID"] == "a-proxy-named-this"
    made = Client().get("/nowhere-at-all/")["X-Request-ID"]
    assert len(made) == 32


@pytest.mark.parametrize(
    "name", ["short", "x" * 65, "two words here", "line\r\nbreak-in-it", "<script>alert"]
)
def test_answer_does_not_repeat_a_name_that_is_none(name: str) -> None:
    answer = Client().get("/nowhere-at-all/", headers={"X-Request-ID": name})
    assert answer["X-Request-ID"] != name
    assert len(answer["X-Request-ID"]) == 32


def test_log_line_of_a_request_holds_no_address(caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.INFO, logger="crm.request"):
        Client().get("/o/a-secret-link-of-an-owner/?q=somebody")
    lines = [record for record in caplog.records if record.name == "crm.request"]
    assert len(lines) == 1
    assert "secret" not in str(lines[0].msg)
    assert "somebody" not in str(lines[0].msg)


def test_log_lines_are_json_that_a_machine_reads(capsys: pytest.CaptureFixture[str]) -> None:
    before: dict[str, Any] = settings.LOGGING
    logging.config.dictConfig(logging_settings(form=LogForm.JSON, level="INFO"))
    try:
        logging.getLogger("somewhere").warning("a car was %s", "found", extra={})
    finally:
        logging.config.dictConfig(before)
    line = json.loads(capsys.readouterr().err)
    assert (line["event"], line["level"], line["logger"]) == ("a car was found", "warning", "somewhere")
