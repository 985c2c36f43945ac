"""The post: what waits, what has gone, what needs a person."""

from __future__ import annotations

from django.conf import settings
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from crm.post.claim import standing_still
from crm.selectors.post_list import PostWanted, Standing, lines, posted
from crm.services.rights import Right
from crm.web.access import StudioRequest, gate
from crm.web.studio.post_forms import PostFilterForm

ON_A_PAGE = 40
SHOWN_AT_ONCE = 50
"""Messages of a part of the page that has no pages of its own; its filter shows them all."""


@gate(Right.POST)
@require_safe
def post(request: StudioRequest) -> HttpResponse:
    """What needs a person first, then what waits, then what is over; or one of these, by the chips."""
    given = {name: request.GET.get(name, "") for name in PostFilterForm.base_fields}
    form = PostFilterForm(given)
    form.is_valid()
    standing, wanted = form.standing, form.wanted()
    page = Paginator(posted(standing, wanted, today=request.today), ON_A_PAGE).get_page(
        request.GET.get("page")
    )
    known: dict[str, object] = {
        "form": form,
        "standing": standing,
        "page": page,
        "lines": lines(page.object_list, today=request.today),
        "narrowed": bool(standing or wanted.kind or wanted.text),
        "still": standing_still(),
        "mail_folder": settings.EMAIL_FILE_PATH if request.may(Right.SETTINGS) else "",
    }
    if standing is None and page.number == 1:
        known["parts"] = [
            _part(request, Standing.NEEDS, "Needs a person", wanted),
            _part(request, Standing.WAITS, "Waits", wanted),
        ]
    template = "studio/_post_results.html" if request.htmx else "studio/post.html"
    return render(request, template, known)


def _part(request: StudioRequest, standing: Standing, title: str, wanted: PostWanted) -> dict[str, object]:
    rows = list(posted(standing, wanted, today=request.today)[: SHOWN_AT_ONCE + 1])
    return {
        "title": title,
        "standing": standing,
        "lines": lines(rows[:SHOWN_AT_ONCE], today=request.today),
        "more": len(rows) > SHOWN_AT_ONCE,
    }
