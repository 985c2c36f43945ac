"""A layer goes on: what the rules and the air say while it is being written down, and the record of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import floor
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from crm.care.air import dew_point
from crm.care.cure import Clocks, clocks, coldest_known
from crm.models import Layer, Product, Visit
from crm.selectors.products import last_batch, products_like, used_lately
from crm.selectors.visit_page import last_surfaces
from crm.services.bench import NewLayer, Weighed, cure_for, record_layer, weigh_layer
from crm.services.errors import Refused
from crm.services.rights import Right
from crm.web.access import StudioRequest, gate
from crm.web.studio.entries import Entry, back_to_sheet, recorded_once, show_entry, the_visit
from crm.web.studio.forms.bay_forms import LayerForm

LAYER = Entry("A layer goes on", "studio/_bay_layer_form.html", "layer", "Lay it")
SAME_AIR = timedelta(hours=3)
"""Readings that are older are not offered again."""


@gate(Right.RECORD)
@require_http_methods(["GET", "HEAD", "POST"])
def bay_layer(request: StudioRequest, pk: int) -> HttpResponse:
    """Lay a product on surfaces. Without script the product search comes back here as well."""
    visit = the_visit(pk)
    form = _form(request, visit)
    if form.is_bound and "look" in request.POST:
        return _ask(request, visit, LayerForm(visit=visit, last=form.last, initial=_as_typed(form)))

    def record() -> str:
        wanted = form.layer(request.now)
        if wanted is None:
            raise Refused("Choose the product and the surfaces.")
        row = record_layer(visit=visit, layer=wanted, by=request.user, now=request.now)
        return (
            f"{row.product} is on. Keep dry until {_clock(row.dry_until)}, wash from {_clock(row.wash_from)}."
        )

    if form.is_bound and form.is_valid() and recorded_once(request, form, record):
        return back_to_sheet(request, visit, "layers")
    return _ask(request, visit, form)


@gate(Right.RECORD)
@require_POST
def bay_layer_check(request: StudioRequest, pk: int) -> HttpResponse:
    """What the rules and the air say to the form as it stands. Writes nothing, complains about nothing typed."""
    visit = the_visit(pk)
    form = _form(request, visit)
    product = form.product_chosen()
    known = {
        "form": form,
        "weighed": weighed(visit, form, request.now),
        "product": product,
        "last_batch": last_batch(product) if product else "",
    }
    return render(request, "studio/_bay_weighed.html", known)


@gate(Right.RECORD)
@require_safe
def bay_products(request: StudioRequest, pk: int) -> HttpResponse:
    """The products that the letters typed so far find, the chosen one among them."""
    form = LayerForm(request.GET, visit=the_visit(pk))
    chosen = form.product_chosen()
    wanted = str(request.GET.get("product_q", ""))
    known = {"products": products_to_offer(wanted, chosen), "chosen_product": chosen, "product_q": wanted}
    return render(request, "studio/_bay_products.html", known)


@dataclass(frozen=True)
class LayerWeighed:
    """What can be said of a layer that is being written down: the rules, the dew point, the clocks.

    The margin is rounded down, as the rules round it: 2.96 K never reads as 3.
    """

    rules: Weighed | None
    dew_point_c: float | None
    margin_k: float | None
    running: Clocks | None


def weighed(visit: Visit, form: LayerForm, now: datetime) -> LayerWeighed:
    """Hold a form against the rules as far as it is filled in."""
    form.is_valid()
    data = form.cleaned_data
    air, humidity, surface = data.get("air_c"), data.get("humidity"), data.get("surface_c")
    dew = dew_point(float(air), float(humidity) / 100) if air is not None and humidity is not None else None
    above = float(surface) - dew if dew is not None and surface is not None else None
    margin = None if above is None else floor(round(above * 10, 6)) / 10
    layer = form.layer(now)
    if layer is None:
        return LayerWeighed(None, dew, margin, None)
    return LayerWeighed(weigh_layer(visit=visit, layer=layer), dew, margin, _clocks(layer))


def _clocks(layer: NewLayer) -> Clocks:
    cure, cold_lengthens = cure_for(layer.product)
    air, night = (None if reading is None else float(reading) for reading in (layer.air_c, layer.bay_min_c))
    coldest = coldest_known(air_c=air, bay_min_c=night)
    return clocks(cure, applied_at=layer.at, coldest_c=coldest, cold_lengthens=cold_lengthens)


def products_to_offer(wanted: str, chosen: Product | None) -> list[Product]:
    """A short list: what the letters find or what was used lately, and always the one that is chosen."""
    offered = products_like(wanted) if wanted.strip() else used_lately()
    if chosen is not None and chosen not in offered:
        offered = [chosen, *offered[:-1]] if len(offered) > 1 else [chosen, *offered]
    return offered


def _form(request: StudioRequest, visit: Visit) -> LayerForm:
    layers = list(visit.layers.select_related("product"))
    last = last_surfaces(visit.steps.all(), layers)
    if request.method == "POST":
        return LayerForm(request.POST, visit=visit, last=last)
    return LayerForm(visit=visit, last=last, initial=_readings(visit, layers, request.now))


def _readings(visit: Visit, layers: list[Layer], now: datetime) -> dict[str, Any]:
    """The readings of this visit's newest layer, while they are fresh; the rest is asked for."""
    found: dict[str, Any] = {"bay_min_c": visit.bay_min_c} if visit.bay_min_c is not None else {}
    newest = max(layers, key=lambda layer: layer.laid_at, default=None)
    if newest is not None:
        found["prep"] = newest.prep
        found["panel_wiped"] = {True: "yes", False: "no", None: None}[newest.panel_wiped]
        if now - newest.laid_at <= SAME_AIR:
            found |= {"air_c": newest.air_c, "surface_c": newest.surface_c, "humidity": newest.humidity}
            found["readings_from"] = newest.laid_at
    return found


def _ask(request: StudioRequest, visit: Visit, form: LayerForm) -> HttpResponse:
    chosen = form.product_chosen()
    wanted = str(form["product_q"].value() or "")
    return show_entry(
        request,
        visit,
        LAYER,
        form,
        products=products_to_offer(wanted, chosen),
        chosen_product=chosen,
        product_q=wanted,
        weighed=weighed(visit, form, request.now) if form.is_bound else None,
        readings_from=form.initial.get("readings_from"),
    )


def _as_typed(form: LayerForm) -> dict[str, Any]:
    """Everything that was typed, to be shown again without finding fault with it."""
    typed = {name: form[name].value() for name in form.fields if name != "surfaces"}
    return {**typed, "surfaces": form.chosen}


def _clock(moment: datetime) -> str:
    return f"{timezone.localtime(moment):%A %-d %B %H:%M}"
