"""Finding a product with wet gloves: what was used lately, and what a few letters find."""

from __future__ import annotations

from django.db.models import Q

from crm.care.names import CLASS_NAMES
from crm.models import Layer, Product

SHORT = 7
"""No list to choose from is longer."""
LOOKED_BACK = 200


def used_lately() -> list[Product]:
    """The products laid last, newest first; where there are fewer than a list, others from the shelf."""
    recent = Layer.objects.order_by("-pk").values_list("product_id", flat=True)[:LOOKED_BACK]
    order = list(dict.fromkeys(recent))
    products = Product.objects.filter(on_shelf=True).in_bulk(order)
    found = [products[pk] for pk in order if pk in products][:SHORT]
    missing = SHORT - len(found)
    if missing:
        found += Product.objects.filter(on_shelf=True).exclude(pk__in=[row.pk for row in found])[:missing]
    return found


def products_like(text: str) -> list[Product]:
    """At most a short list of products whose name, maker's system or class has these letters."""
    wanted = " ".join(text.split()).lower()[:80]
    if not wanted or "\0" in wanted:
        return used_lately()
    classes = [kind.value for kind, name in CLASS_NAMES.items() if wanted in name]
    matches = Q(name__icontains=wanted) | Q(family__icontains=wanted) | Q(product_class__in=classes)
    return list(Product.objects.filter(matches, on_shelf=True)[:SHORT])


def last_batch(product: Product) -> str:
    """The batch that was on the bottle when this product was used last."""
    newest = Layer.objects.filter(product=product).exclude(batch="").order_by("-pk").first()
    return newest.batch if newest else ""
