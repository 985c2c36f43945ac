"""Numbers as the pages write them."""

from __future__ import annotations

from django import template

register = template.Library()


@register.filter
def percent(share: float) -> str:
    """A share from 0 to 1 in whole hundredths."""
    return f"{share * 100:.0f}"


@register.filter
def about(number: float) -> str:
    """Hours or nights as one says them: one place under ten, whole ones above."""
    text = f"{number:.1f}" if number < 9.95 else f"{number:.0f}"
    return text.removesuffix(".0")
