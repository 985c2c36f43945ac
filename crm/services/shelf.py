"""The shelf: what the studio uses, and what it holds each product to do from a day on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db import transaction

from crm.care.terms import ProductClass
from crm.models import Car, Life, Product, User
from crm.selectors.coats import newest_life
from crm.selectors.lasted import Evidence
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

    Earlier figures stay on record. Figures written twice on one day: the later ones count. Months that were learned
    and stay as they were are still learned ones; any other months are stated. The marked cars are worked out by
    `follow_stale`, outside this transaction: by whoever calls this, or bit by bit by the scheduler.
    """
    require(by, Right.SHELF)
    newest = _checked(product, figures, since)
    row = _new_life(product, figures, since, by)
    if newest is not None and newest.source == Life.Source.LEARNED and _same_months(newest, row):
        row.source = Life.Source.LEARNED
        for column in _EVIDENCE:
            setattr(row, column, getattr(newest, column))
    return _put_down(row)


@transaction.atomic
def take_learned_life(
    *, product: Product, figures: Figures, evidence: Evidence, since: date, today: date, by: User | None
) -> Life:
    """Accept months that were learned from the studio's own layers; every forecast that rests on them is marked.

    The waits stay as they are, whatever `figures` say of them. Raises Refused where nothing was seen, or where the
    day is still to come.
    """
    require(by, Right.SHELF)
    if figures.likely is None:
        raise Refused("Give all three: low, likely and high.", field="likely")
    if not (evidence.layers and evidence.cars):
        raise Refused("Nothing was learned of this product yet.")
    if since > today:
        raise Refused(
            "That day is still to come: take the figures from today, or write them down then.", field="since"
        )
    newest = _checked(product, figures, since)
    row = _new_life(product, figures, since, by)
    row.source = Life.Source.LEARNED
    row.from_layers, row.from_cars = evidence.layers, evidence.cars
    row.seen_whole, row.seen_finished, row.seen_between = evidence.whole, evidence.finished, evidence.between
    row.graded_until = evidence.until
    for column in _WAITS if newest is not None else ():
        setattr(row, column, getattr(newest, column))
    return _put_down(row)


_EVIDENCE = ("from_layers", "from_cars", "seen_whole", "seen_finished", "seen_between", "graded_until")
_WAITS = ("dry_hours", "wash_hours", "topper_hours", "cure_hours", "cold_lengthens")


def _checked(product: Product, figures: Figures, since: date) -> Life | None:
    """The figures that stood until now. Raises Refused where new ones cannot be, or not from that day."""
    months = (figures.low, figures.likely, figures.high)
    if any(month is None for month in months) and any(month is not None for month in months):
        raise Refused("Give all three: low, likely and high, or none for the class's own.", field="likely")
    if figures.low is not None and not (0 < figures.low <= (figures.likely or 0) <= (figures.high or 0)):
        raise Refused("Low, likely and high must rise: for example 4, 6 and 9 months.", field="likely")
    newest = newest_life(product)
    if newest is not None and newest.since > since:
        raise Refused(f"Newer figures stand since {newest.since:%-d %B %Y}.", field="since")
    return newest


def _new_life(product: Product, figures: Figures, since: date, by: User | None) -> Life:
    return Life(
        product=product,
        since=since,
        low=figures.low,
        likely=figures.likely,
        high=figures.high,
        dry_hours=figures.dry_hours,
        wash_hours=figures.wash_hours,
        topper_hours=figures.topper_hours,
        cure_hours=figures.cure_hours,
        cold_lengthens=figures.cold_lengthens,
        because=figures.because.strip(),
        by=by,
    )


def _same_months(one: Life, other: Life) -> bool:
    return (one.low, one.likely, one.high) == (other.low, other.likely, other.high)


def _put_down(row: Life) -> Life:
    """Store the row as the newest of its day, and mark the cars. One of that day and kind makes way for it."""
    Life.objects.filter(product=row.product, since=row.since, source=row.source).delete()
    store(row)
    mark_stale(Car.objects.filter(layers__product=row.product))
    return row
