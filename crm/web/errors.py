"""Pages for what went wrong: each says in a sentence what it was and what to do next."""

from __future__ import annotations

from http import HTTPStatus

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string

BARE = """<!doctype html>
<html lang="en-GB">
<meta charset="utf-8">
<title>Something broke</title>
<h1>Something broke on our side</h1>
<p>It is written in the log. What was stored before is untouched. Go back and try once more.</p>
</html>
"""
"""What is left to say where the page's own style sheets cannot be named: they were not collected."""


def refusal(request: HttpRequest, sentence: str, *, status: int) -> HttpResponse:
    """A page that says why something was not done."""
    template = "errors/403.html" if status == HTTPStatus.FORBIDDEN else "errors/refused.html"
    return render(request, template, {"sentence": sentence}, status=status)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001
    """What was sent cannot be read: too large, too many fields, or not what a form sends."""
    return render(request, "errors/400.html", status=400)


def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001
    """Not for this account."""
    return render(request, "errors/403.html", status=403)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001
    """Nothing stands here, or nothing for this person."""
    return render(request, "errors/404.html", status=404)


def broken(request: HttpRequest) -> HttpResponse:  # noqa: ARG001
    """Our own mistake. The page needs nothing that could break as well: no database, no account, no studio."""
    try:
        page: str = render_to_string("errors/500.html")
    except (OSError, ValueError):
        page = BARE
    return HttpResponse(page, status=500)


def page_too_old(request: HttpRequest, reason: str = "") -> HttpResponse:  # noqa: ARG001
    """The form was opened before a sign-in or sign-out; nothing was done with it."""
    sentence = "This page was open too long, or in two tabs. Go back, load it again and send it once more."
    return render(request, "errors/403.html", {"sentence": sentence}, status=403)
