"""Structured logs: one line an event, as JSON for machines or in columns for people."""

from __future__ import annotations

import re
from enum import StrEnum
from typing import Any

import structlog
from structlog.tracebacks import ExceptionDictTransformer
from structlog.typing import Processor

# Where it broke, never with what: a frame's variables hold passwords, addresses and owners' links.
_TRACEBACK = ExceptionDictTransformer(show_locals=False)

_KEY = re.compile(r"((?:/|%2F)s(?:/|%2F)|stop_key\W{1,4})[-\w]+", re.IGNORECASE)
"""What ends letters to an owner without a sign-in: the rest of a stop link, or the column that holds it."""
HIDDEN = "(hidden)"


class LogForm(StrEnum):
    """How a log line is written."""

    JSON = "json"
    CONSOLE = "console"


def _shared() -> list[Processor]:
    return [
        structlog.contextvars.merge_contextvars,
        structlog.stdlib.add_logger_name,
        structlog.stdlib.add_log_level,
        structlog.processors.TimeStamper(fmt="iso", utc=True),
        structlog.stdlib.PositionalArgumentsFormatter(),
    ]


def logging_settings(*, form: LogForm, level: str) -> dict[str, Any]:
    """Set structlog up and answer Django's LOGGING dictionary: everything goes to standard error."""
    structlog.configure(
        processors=[*_shared(), structlog.stdlib.ProcessorFormatter.wrap_for_formatter],
        logger_factory=structlog.stdlib.LoggerFactory(),
        wrapper_class=structlog.stdlib.BoundLogger,
        cache_logger_on_first_use=True,
    )
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "structured": {
                "()": structlog.stdlib.ProcessorFormatter,
                "foreign_pre_chain": _shared(),
                "processors": [
                    structlog.stdlib.ProcessorFormatter.remove_processors_meta,
                    *_written_as(form),
                    _without_keys,
                ],
            },
        },
        "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "structured"}},
        "root": {"handlers": ["stderr"], "level": level},
        "loggers": {
            # Django's own handlers would print each line twice.
            "django": {"handlers": [], "level": level, "propagate": True},
            "django.server": {"handlers": [], "level": level, "propagate": True},
            # The web server's own words take the same way. Its line a request would only say again what ours says.
            "gunicorn.error": {"handlers": [], "level": level, "propagate": True},
            "gunicorn.access": {"handlers": [], "level": "CRITICAL", "propagate": False},
            # One line for each change of a file or font is more than a log can bear.
            "fontTools": {"level": "WARNING"},
            "weasyprint": {"level": "ERROR"},
        },
    }


def _without_keys(_logger: Any, _method: str, line: Any) -> str:
    """The finished line without the key of an owner's link, wherever in it one stands: path, field or traceback."""
    return _KEY.sub(rf"\1{HIDDEN}", str(line))


def _written_as(form: LogForm) -> list[Processor]:
    if form is LogForm.JSON:
        return [structlog.processors.ExceptionRenderer(_TRACEBACK), structlog.processors.JSONRenderer()]
    return [structlog.dev.ConsoleRenderer(colors=False, exception_formatter=structlog.dev.plain_traceback)]
