"""The shelf: what the studio uses, and what it holds each product to do from a day on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db import transaction

from crm.care.terms import ProductClass
from crm.models import Car, Life, Product, User
from crm.services.errors import Refused
from crm.services.rights import Right, require
from crm.services.stale import mark_stale
from crm.services.storing import store


@dataclass(frozen=True, kw_only=True)
class OnTheShelf:
    """What a product is."""

    name: str
    product_class: ProductClass
    family: str = ""
    data_sheet: str = ""
    cautions: str = ""
    scent_free: bool = False
    on_shelf: bool = True


@dataclass(frozen=True, kw_only=True)
class Figures:
    """What the studio holds a product to do: months of life, hours of cure. None leaves the class's own figure."""

    low: Decimal | None = None
    likely: Decimal | None = None
    high: Decimal | None = None
    dry_hours: int | None = None
    wash_hours: int | None = None
    topper_hours: int | None = None
    cure_hours: int | None = None
    cold_lengthens: bool = True
    because: str = ""


@transaction.atomic
def put_on_shelf(*, product: OnTheShelf, by: User | None) -> Product:
    """Add a product. Raises Refused where the name is taken."""
    require(by, Right.SHELF)
    name = " ".join(product.name.split())
    if Product.objects.filter(name__iexact=name).exists():
        raise Refused(f"“{name}” is on the shelf already.", field="name")
    row = Product(name=name)
    return _fill(row, product)


@transaction.atomic
def change_product(*, row: Product, product: OnTheShelf, by: User | None) -> Product:
    """Correct what a product is. Its class can only change while nothing was laid with it."""
    require(by, Right.SHELF)
    name = " ".join(product.name.split())
    if Product.objects.filter(name__iexact=name).exclude(pk=row.pk).exists():
        raise Refused(f"“{name}” is on the shelf already.", field="name")
    if row.product_class != product.product_class and row.layers.exists():
        raise Refused(
            "Layers were laid with this product, so its class stays. Put a new product on the shelf instead.",
            field="product_class",
        )
    row.name = name
    return _fill(row, product)


def _fill(row: Product, product: OnTheShelf) -> Product:
    row.product_class = product.product_class
    row.family = product.family.strip()
    row.data_sheet = product.data_sheet.strip()
    row.cautions = product.cautions.strip()
    row.scent_free, row.on_shelf = product.scent_free, product.on_shelf
    store(row)
    return row


@transaction.atomic
def write_down_life(*, product: Product, figures: Figures, since: date, by: User | None) -> Life:
    """Write down what the product is held to do from a day on; every forecast that rests on it is marked.

    Earlier figures stay on record. Figures written twice on one day: the later ones count. The marked cars are
    worked out by `follow_stale`, outside this transaction: by whoever calls this, or bit by bit by the scheduler.
    """
    require(by, Right.SHELF)
    months = (figures.low, figures.likely, figures.high)
    if any(month is None for month in months) and any(month is not None for month in months):
        raise Refused("Give all three: low, likely and high, or none for the class's own.", field="likely")
    if figures.low is not None and not (0 < figures.low <= (figures.likely or 0) <= (figures.high or 0)):
        raise Refused("Low, likely and high must rise: for example 4, 6 and 9 months.", field="likely")
    newest = product.lives.order_by("-since").first()
    if newest is not None and newest.since > since:
        raise Refused(f"Newer figures stand since {newest.since:%-d %B %Y}.", field="since")
    row = Life.objects.filter(product=product, since=since).first() or Life(product=product, since=since)
    row.low, row.likely, row.high = months
    row.dry_hours, row.wash_hours = figures.dry_hours, figures.wash_hours
    row.topper_hours, row.cure_hours = figures.topper_hours, figures.cure_hours
    row.cold_lengthens, row.because, row.by = figures.cold_lengthens, figures.because.strip(), by
    store(row)
    mark_stale(Car.objects.filter(layers__product=product))
    return row
