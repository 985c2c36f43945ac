"""Whether the person who looks at a page may do something, so that a link they may not follow is not shown."""

from __future__ import annotations

from django import template

from crm.models import User
from crm.services import rights

register = template.Library()


@register.filter
def may(user: object, right: str) -> bool:
    """Whether somebody who is signed in has a right; a stranger has none."""
    return isinstance(user, User) and rights.may(user, rights.Right(right))
