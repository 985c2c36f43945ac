"""The page behind "No more letters like this" (RFC 8058): opening it asks, posting to it acts.

No sign-in, no cookie and no token beyond the link itself: a mail program posts to it on its own.
"""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from crm.models import Consent, Studio
from crm.post.stop import person_of, stop_letters
from crm.selectors.sheet import phone_words

PRIVATE = {
    "Cache-Control": "no-store",
    "X-Robots-Tag": "noindex, nofollow",
    "Referrer-Policy": "no-referrer",
}


@csrf_exempt
@require_http_methods(["GET", "HEAD", "POST"])
def stop(request: HttpRequest, key: str) -> HttpResponse:
    """GET asks whether letters should end; POST ends them at once. The body is not read: the link says it all."""
    person = person_of(key)
    if person is None:
        return _page(request, "owner/stop_unknown.html", status=404)
    if request.method == "POST":
        stop_letters(person=person, how=Consent.BY_LINK, now=timezone.now())
        return _page(request, "owner/stop_done.html")
    return _page(request, "owner/stop.html")


def _page(request: HttpRequest, template: str, status: int = 200) -> HttpResponse:
    studio = Studio.objects.first()
    phone = phone_words(studio.phone, studio.phone_region) if studio else ""
    page = render(request, template, {"studio": studio, "phone": phone}, status=status)
    for name, value in PRIVATE.items():
        page[name] = value
    return page
