"""A name for every request, in each of its log lines and in the answer's X-Request-ID header."""

from __future__ import annotations

import re
import time
import uuid
from collections.abc import Callable

import structlog
from django.http import HttpRequest, HttpResponse

log = structlog.get_logger("crm.request")

# A proxy in front may have named the request already; anything else in the header is not believed.
NAME = re.compile(r"[A-Za-z0-9._-]{8,64}")


class RequestIdMiddleware:
    """Bind the request's name to the log, and log one line when the answer is ready."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        given = request.headers.get("X-Request-ID", "")
        name = given if NAME.fullmatch(given) else uuid.uuid4().hex
        started = time.monotonic()
        structlog.contextvars.clear_contextvars()
        structlog.contextvars.bind_contextvars(request_id=name)
        response = self.get_response(request)
        response["X-Request-ID"] = name
        # The path alone: a query string may hold what somebody typed about a person.
        log.info(
            "answered",
            method=request.method,
            route=_route(request),
            status=response.status_code,
            milliseconds=round((time.monotonic() - started) * 1000, 1),
        )
        return response


def _route(request: HttpRequest) -> str:
    """The pattern that matched, not the address: an owner's link is a secret and must not be in a log."""
    match = request.resolver_match
    return match.route if match is not None else "(no route)"
