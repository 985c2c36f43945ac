"""The shelf: what the studio puts on cars, and what it holds each product to do."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from crm.models import Product
from crm.selectors.shelf import cars_of, lives_with_authors, resting_on, shelf_bays, shelved
from crm.services.rights import Right
from crm.web.access import StudioRequest, found, gate


@gate(Right.LOOK)
@require_safe
def shelf(request: StudioRequest) -> HttpResponse:
    """Every product by the part of the car that it is for; what was taken off stands below."""
    bays, off = shelf_bays(request.studio)
    known = {"bays": bays, "off": off, "may_change": request.may(Right.SHELF)}
    return render(request, "studio/shelf.html", known)


@gate(Right.LOOK)
@require_safe
def product(request: StudioRequest, pk: int) -> HttpResponse:
    """One product: figures and waits in force, cautions, and every dated set of figures."""
    row = found(Product.objects.all(), pk=pk)
    cars = cars_of(row)
    known = {
        "item": shelved([row], request.studio, cars={row.pk: cars})[0],
        "lives": lives_with_authors(row),
        "resting": resting_on(row),
        "may_change": request.may(Right.SHELF),
    }
    return render(request, "studio/product.html", known)
