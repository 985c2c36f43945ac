"""The only gate: who may open which address.

Every view is either marked with the right it needs, or public and named in `PUBLIC`. A test walks over all routes
and fails where a view is neither.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from functools import wraps
from typing import Any, TypeVar

from django.contrib.auth.views import redirect_to_login
from django.db.models import Model, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django_htmx.http import HttpResponseClientRedirect
from django_htmx.middleware import HtmxDetails

from crm.models import Studio, User
from crm.selectors.studio import StudioMissing, local_day, the_studio
from crm.services.errors import Refused
from crm.services.rights import Right, may
from crm.web.errors import refusal

PUBLIC = frozenset({"sign_in", "sign_out", "stop"})
"""Names of the routes that are open to people who are not signed in. `sign_out` only ever signs out."""

Row = TypeVar("Row", bound=Model)


class StudioRequest(HttpRequest):
    """A request that came through the gate: somebody of the studio, at a moment in the studio's own time."""

    user: User
    htmx: HtmxDetails
    studio: Studio
    now: datetime
    today: date

    def may(self, right: Right) -> bool:
        """Whether the person who asks has a right."""
        return may(self.user, right)


View = Callable[..., HttpResponseBase]


def gate(right: Right, *, to_change: Right | None = None) -> Callable[[View], View]:
    """Open a view to everybody with a right; a POST may need another one.

    The request gains the studio's settings, the moment and the day. Somebody who is not signed in is asked to; a
    rank without the right gets a page with a sentence. A service that refuses in the end does so with its sentence.
    """

    def guarded(view: View) -> View:
        @wraps(view)
        def through_the_gate(request: Any, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if not request.user.is_authenticated:
                return _to_sign_in(request)
            needed = to_change if to_change and request.method not in ("GET", "HEAD") else right
            if not may(request.user, needed):
                return refusal(request, not_for(request.user), status=403)
            try:
                request.studio = the_studio()
            except StudioMissing as missing:
                return refusal(request, str(missing), status=409)
            request.now = timezone.now()
            request.today = local_day(request.studio, request.now)
            request.may = lambda wanted: may(request.user, wanted)
            with timezone.override(request.studio.zone):
                try:
                    answer = view(request, *args, **kwargs)
                except Refused as refused:
                    answer = refusal(request, refused.sentence, status=409)
            # People's names and addresses stay out of every cache.
            answer.headers.setdefault("Cache-Control", "private, no-store")
            return answer

        through_the_gate.right = right  # type: ignore[attr-defined]
        through_the_gate.to_change = to_change or right  # type: ignore[attr-defined]
        return through_the_gate

    return guarded


def not_for(user: User) -> str:
    """Why a rank may not do something, and who can help."""
    return f"Your rank ({user.get_rank_display()}) may not do this. Ask the owner-manager."


def found(rows: QuerySet[Row], **which: object) -> Row:
    """The one row that an address names; anything else is a page that does not exist."""
    try:
        return get_object_or_404(rows, **which)
    except (ValueError, OverflowError) as error:
        raise Http404 from error


def _to_sign_in(request: Any) -> HttpResponse:
    if request.htmx:
        here = request.htmx.current_url_abs_path or "/"
        return HttpResponseClientRedirect(redirect_to_login(here).url)
    return redirect_to_login(request.get_full_path() if request.method in ("GET", "HEAD") else "/")
