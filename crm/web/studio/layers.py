"""A person says that a layer has ended, or that an ending was a mistake."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render

from crm.care.bodies import Body
from crm.care.words import describe
from crm.models import Ending, Layer
from crm.selectors.coats import live_surfaces
from crm.services.bench import end_layer, take_back_ending
from crm.services.rights import Right
from crm.web.access import StudioRequest, found, gate
from crm.web.studio.doing import done, sent
from crm.web.studio.forms.event_forms import EndLayerForm
from crm.web.studio.forms.visit_forms import BecauseForm


@gate(Right.LOOK, to_change=Right.RECORD)
def end(request: StudioRequest, ref: str, pk: int) -> HttpResponse:
    """End a layer on chosen surfaces. The surfaces it is still on are chosen to begin with."""
    layer = found(
        Layer.objects.select_related("car", "product").prefetch_related("endings"), pk=pk, car__ref=ref
    )
    live = live_surfaces(layer)
    form = EndLayerForm(sent(request), car=layer.car, initial={"on": request.today, "surfaces": live})
    if form.is_bound and form.is_valid():
        local = request.now.astimezone(request.studio.zone)
        at = form.moment(layer=layer, now=local, today=request.today)
        if done(
            request,
            form,
            lambda: end_layer(
                layer=layer,
                surfaces=form.cleaned_data["surfaces"],
                at=at,
                why=form.reason(),
                note=form.cleaned_data["note"],
                by=request.user,
                now=request.now,
            ),
        ):
            messages.success(request, f"{layer.product.name} has ended there. It can be taken back.")
            return redirect("car", ref)
    where = describe(live, Body(layer.car.body))
    status = 422 if form.is_bound else 200
    context = {"car": layer.car, "layer": layer, "where": where, "live": live, "form": form}
    return render(request, "studio/layer_end.html", context, status=status)


@gate(Right.LOOK, to_change=Right.RECORD)
def take_back(request: StudioRequest, ref: str, pk: int) -> HttpResponse:
    """The ending was a mistake: it stays on record as taken back, and the layer counts again."""
    ending = found(
        Ending.objects.select_related("layer__car", "layer__product"),
        pk=pk,
        layer__car__ref=ref,
        taken_back_at__isnull=True,
    )
    form = BecauseForm(sent(request))
    if (
        form.is_bound
        and form.is_valid()
        and done(
            request,
            form,
            lambda: take_back_ending(
                ending=ending, because=form.cleaned_data["because"], by=request.user, now=request.now
            ),
        )
    ):
        messages.success(request, "Taken back. The layer counts again.")
        return redirect("car", ref)
    car = ending.layer.car
    context = {"car": car, "ending": ending, "where": describe(ending.surfaces, Body(car.body)), "form": form}
    return render(request, "studio/ending_take_back.html", context, status=422 if form.is_bound else 200)
