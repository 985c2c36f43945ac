"""What a log line about something broken tells, and what it must not."""

from __future__ import annotations

import logging
import logging.config
from collections.abc import Callable, Iterator
from contextlib import redirect_stderr, redirect_stdout
from io import StringIO

import pytest
import structlog
from django.conf import settings
from django.test import Client
from gunicorn.config import Config
from gunicorn.glogging import Logger

from crm.config import gunicorn
from crm.config.logs import HIDDEN, LogForm, logging_settings
from crm.web.owner import stop

SECRET = "wet slate and salt"
Lines = Callable[[], str]


def _broken(password: str) -> None:
    raise ValueError(f"{len(password)} letters")


@pytest.mark.parametrize("form", list(LogForm))
def test_traceback_in_the_log_names_the_place_and_no_variable(form: LogForm) -> None:
    settings = logging_settings(form=form, level="INFO")["formatters"]["structured"]
    formatter = structlog.stdlib.ProcessorFormatter(
        processors=settings["processors"], foreign_pre_chain=settings["foreign_pre_chain"]
    )
    with pytest.raises(ValueError, match="18 letters") as broken:
        _broken(SECRET)
    happened = (broken.type, broken.value, broken.tb)
    record = logging.LogRecord("crm", logging.ERROR, __file__, 1, "it broke", (), happened)
    line = formatter.format(record)
    assert "_broken" in line
    assert "18 letters" in line
    assert SECRET not in line


KEY = "k7Qd-x_4ZpWm0aVbN3rT9s"
"""As long as the key of an owner's link, and of the same letters."""


@pytest.fixture(params=list(LogForm))
def lines(request: pytest.FixtureRequest) -> Iterator[Lines]:
    """The logs as the settings make them, in each form; called, all that was written to standard error."""
    written = StringIO()
    with redirect_stderr(written):
        made = logging_settings(form=request.param, level="INFO")
        logging.config.dictConfig(made)
    try:
        yield written.getvalue
    finally:
        logging.config.dictConfig(settings.LOGGING)


@pytest.mark.django_db
@pytest.mark.parametrize("address", [f"/s/{KEY}", f"/s/{KEY}/", f"/s/{KEY}/more", f"/S/{KEY}?a=/s/{KEY}"])
def test_key_of_a_link_that_is_not_known_is_not_in_the_log(lines: Lines, address: str) -> None:
    assert Client().get(address).status_code == 404
    written = lines()
    assert (KEY in written, "Not Found" in written, HIDDEN in written) == (False, True, True)


@pytest.mark.django_db
def test_key_of_a_link_whose_page_breaks_is_not_in_the_log(
    lines: Lines, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(key: str) -> None:
        raise RuntimeError(f"Key (stop_key)=({key}) at https://studio.example.org/s/{key} cannot be read")

    monkeypatch.setattr(stop, "person_of", broken)
    assert Client(raise_request_exception=False).post(f"/s/{KEY}").status_code == 500
    written = lines()
    assert (KEY in written, "cannot be read" in written) == (False, True)


def test_key_is_in_no_field_of_a_line(lines: Lines) -> None:
    structlog.get_logger("crm.somewhere").warning(
        "something_happened",
        url=f"https://studio.example.org/s/{KEY}",
        headers={"List-Unsubscribe": f"<https://studio.example.org/s/{KEY}>"},
        stop_key=KEY,
        again=[f"/sign-in/?next=%2Fs%2F{KEY}"],
    )
    written = lines()
    assert (KEY in written, "something_happened" in written) == (False, True)
    assert written.count(HIDDEN) == 4


@pytest.mark.parametrize("form", list(LogForm))
def test_words_of_the_web_server_go_the_same_way(form: LogForm) -> None:
    server = Config()
    server.set("accesslog", gunicorn.accesslog)
    server.set("errorlog", gunicorn.errorlog)
    server.set("logconfig_dict", logging_settings(form=form, level="INFO"))
    written = StringIO()
    try:
        with redirect_stderr(written), redirect_stdout(written):
            told = Logger(server)
            told.error("Error handling request %s", f"/s/{KEY}")
            told.access_log.info('"GET /s/%s HTTP/1.1" 404', KEY)
    finally:
        logging.config.dictConfig(settings.LOGGING)
    line = written.getvalue()
    assert (KEY in line, line.count("Error handling request")) == (False, 1)
    assert "HTTP/1.1" not in line


def test_what_is_no_key_stays_as_it_is(lines: Lines) -> None:
    logging.getLogger("crm.somewhere").warning("opened %s and /static/s.css", "/post/s/")
    written = lines()
    assert ("/post/s/" in written, "/static/s.css" in written, HIDDEN in written) == (True, True, False)
