"""What a log line about something broken tells, and what it must not."""

from __future__ import annotations

import logging

import pytest
import structlog

from crm.config.logs import LogForm, logging_settings

SECRET = "wet slate and salt"


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
