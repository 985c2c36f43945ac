"""Changing the shelf: a product put on it, corrected, given new figures, taken off."""

from __future__ import annotations

from dataclasses import dataclass
from http import HTTPStatus

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from crm.care.life import Life as LifeMonths
from crm.care.terms import ProductClass
from crm.models import Product
from crm.selectors.coats import OwnLife
from crm.selectors.shelf import Expected, Resting, cars_of, expected_of, resting_on, shelved
from crm.selectors.studio import tables_of
from crm.services import shelf as changes
from crm.services.rights import Right
from crm.services.stale import AT_ONCE, AT_ONCE_FOR, follow_stale
from crm.web.access import StudioRequest, found, gate
from crm.web.studio.doing import done
from crm.web.studio.forms.entry import OnceForm
from crm.web.studio.shelf_forms import LifeForm, ProductForm, as_it_stands

LIFE_NAMES = (
    "low",
    "likely",
    "high",
    "dry_hours",
    "wash_hours",
    "topper_hours",
    "cure_hours",
    "cold_lengthens",
)


@gate(Right.SHELF)
@require_http_methods(["GET", "HEAD", "POST"])
def product_new(request: StudioRequest) -> HttpResponse:
    """Put a product on the shelf."""
    form = ProductForm(request.POST or None, tables=tables_of(request.studio))
    made: list[Product] = []

    def work() -> None:
        made.append(changes.put_on_shelf(product=form.product(), by=request.user))

    if form.is_bound and form.is_valid() and done(request, form, work):
        messages.success(request, f"{form.cleaned_data['name']} is on the shelf.")
        return redirect("product", pk=made[0].pk) if made else redirect("shelf")
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return render(request, "studio/product_form.html", {"form": form}, status=status)


@gate(Right.SHELF)
@require_http_methods(["GET", "HEAD", "POST"])
def product_edit(request: StudioRequest, pk: int) -> HttpResponse:
    """Correct what a product is; what it is held to do is changed by new figures."""
    row = found(Product.objects.all(), pk=pk)
    names = ("name", "product_class", "family", "data_sheet", "cautions", "scent_free")
    form = ProductForm(
        request.POST or None,
        tables=tables_of(request.studio),
        initial={name: getattr(row, name) for name in names},
    )

    def work() -> None:
        changes.change_product(row=row, product=form.product(on_shelf=row.on_shelf), by=request.user)

    if form.is_bound and form.is_valid() and done(request, form, work):
        messages.success(request, "The product is corrected.")
        return redirect("product", pk=row.pk)
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    stored = found(Product.objects.all(), pk=pk)
    known = {"form": form, "product": stored, "laid": cars_of(stored)}
    return render(request, "studio/product_form.html", known, status=status)


@dataclass(frozen=True)
class Move:
    """What new figures would do to the forecasts that stand."""

    before: Expected
    after: Expected
    resting: Resting

    @property
    def moves(self) -> bool:
        return self.before.months != self.after.months

    @property
    def later(self) -> bool:
        """Whether the likely day comes later than now."""
        before, after = self.before.months, self.after.months
        return bool(before and after and after.likely > before.likely)

    @property
    def earlier(self) -> bool:
        """Whether the likely day comes sooner than now."""
        before, after = self.before.months, self.after.months
        return bool(before and after and after.likely < before.likely)


@gate(Right.SHELF)
@require_http_methods(["GET", "HEAD", "POST"])
def life_new(request: StudioRequest, pk: int) -> HttpResponse:
    """New figures from today: looked at first, with the forecasts that would move, then written down."""
    row = found(Product.objects.all(), pk=pk)
    newest = row.lives.order_by("-since").first()
    initial = {name: getattr(newest, name) for name in LIFE_NAMES} if newest else {}
    form = LifeForm(request.POST or None, initial=initial)

    def work() -> None:
        changes.write_down_life(product=row, figures=form.figures(), since=request.today, by=request.user)

    move: Move | None = None
    if form.is_bound and form.is_valid():
        if request.POST.get("do") != "write":
            move = _move(request, row, form)
        elif done(request, form, work):
            follow_stale(limit=AT_ONCE, longest=AT_ONCE_FOR)
            messages.success(request, "The new figures stand from today.")
            return redirect("product", pk=row.pk)
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    known = {
        "form": form,
        "item": shelved([row], request.studio, cars={})[0],
        "move": move,
        "today_again": newest is not None and newest.since == request.today,
    }
    return render(request, "studio/product_life.html", known, status=status)


@gate(Right.SHELF)
@require_POST
def product_place(request: StudioRequest, pk: int) -> HttpResponse:
    """Take a product off the shelf, or put it back. Layers that were laid with it stay as they are."""
    row = found(Product.objects.all(), pk=pk)
    on_shelf = request.POST.get("do") == "back"
    form = OnceForm(request.POST)

    def work() -> None:
        changes.change_product(row=row, product=as_it_stands(row, on_shelf=on_shelf), by=request.user)

    if form.is_valid() and done(request, form, work):
        words = "is on the shelf again" if on_shelf else "is off the shelf: nothing new is laid with it"
        messages.success(request, f"{row.name} {words}.")
    for error in form.non_field_errors():
        messages.error(request, str(error))
    return redirect("product", pk=row.pk)


def _move(request: StudioRequest, row: Product, form: LifeForm) -> Move:
    figures = form.figures()
    months = (
        LifeMonths(float(figures.low), float(figures.likely), float(figures.high))
        if figures.low is not None and figures.likely is not None and figures.high is not None
        else None
    )
    before = shelved([row], request.studio, cars={})[0].expected
    own = OwnLife(months, learned=before.learned and before.months == months) if months else None
    after = expected_of(ProductClass(row.product_class), own, tables_of(request.studio))
    return Move(before, after, resting_on(row))
