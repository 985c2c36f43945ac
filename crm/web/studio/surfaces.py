"""A chosen set of surfaces in words, for the picker while somebody taps."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils.html import escape
from django.views.decorators.http import require_POST

from crm.care.bodies import Body, surfaces_of_body
from crm.care.words import describe
from crm.services.rights import Right
from crm.web.access import StudioRequest, gate
from crm.web.studio.forms.bay_fields import chosen_surfaces

_NOT_TICKS = ("body", "csrfmiddlewaretoken")


@gate(Right.LOOK)
@require_POST
def describe_surfaces(request: StudioRequest) -> HttpResponse:
    """The words for the ticked surfaces. What is no surface or no shape of car is passed over."""
    shape = request.POST.get("body", "")
    body = Body(shape) if shape in set(Body) else Body.HATCHBACK
    ticked = [key for name in request.POST if name not in _NOT_TICKS for key in request.POST.getlist(name)]
    return HttpResponse(escape(describe(chosen_surfaces(ticked) & surfaces_of_body(body), body)))
