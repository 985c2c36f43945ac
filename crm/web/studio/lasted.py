"""What a product lasted on the studio's own cars, and taking the figures that follow from it."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from crm.models import Product
from crm.selectors.lasted import Lasted, lasted
from crm.selectors.shelf import resting_on, shelved
from crm.services import shelf as changes
from crm.services.rights import Right
from crm.services.stale import AT_ONCE, AT_ONCE_FOR, follow_stale
from crm.web.access import StudioRequest, found, gate
from crm.web.studio.doing import done, sent
from crm.web.studio.shelf_forms import LearnedForm

MORE_WAS_SEEN = (
    "More was written down since you opened this page: the figures have moved. Look again, then take them."
)


@gate(Right.LOOK, to_change=Right.SHELF)
@require_http_methods(["GET", "HEAD", "POST"])
def product_lasted(request: StudioRequest, pk: int) -> HttpResponse:
    """Shelf and learned figures side by side, with what they rest on; nothing changes until a person takes them."""
    row = found(Product.objects.all(), pk=pk)
    known = lasted(row, request.studio, today=request.today)
    form = LearnedForm(sent(request), initial=_proposed(request, known))
    if form.is_bound and form.is_valid() and _taken(request, form, row, known):
        follow_stale(limit=AT_ONCE, longest=AT_ONCE_FOR)
        messages.success(
            request, "The learned figures are in force. Forecasts follow, and say where they come from."
        )
        return redirect("product", pk=row.pk)
    page = {
        "item": shelved([row], request.studio, cars={})[0],
        "lasted": known,
        "form": form,
        "resting": resting_on(row),
        "may_change": request.may(Right.SHELF),
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return render(request, "studio/product_lasted.html", page, status=status)


def _proposed(request: StudioRequest, known: Lasted) -> dict[str, Any]:
    """What the form starts with: the learned figures in round numbers, from today, and why."""
    proposal, evidence = known.proposal, known.evidence
    if proposal is None or evidence is None:
        return {}
    return {
        "low": proposal.low,
        "likely": proposal.likely,
        "high": proposal.high,
        "since": request.today,
        "because": evidence.words,
    }


def _taken(request: StudioRequest, form: LearnedForm, row: Product, known: Lasted) -> bool:
    """Whether the figures were written down, now or when the same form was sent before."""
    evidence = known.evidence
    if evidence is None:
        form.add_error(None, "Nothing was learned of this product yet, so there are no figures to take.")
        return False
    if form.cleaned_data["seen"] != evidence.key:
        form.add_error(None, MORE_WAS_SEEN)
        return False

    def work() -> None:
        changes.take_learned_life(
            product=row,
            figures=form.figures(),
            evidence=evidence,
            since=form.cleaned_data["since"],
            today=request.today,
            by=request.user,
        )

    return done(request, form, work)
