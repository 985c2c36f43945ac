"""How often somebody may try to sign in: by name at one address, and by address over all names.

A name is only ever locked for the address that tried it, so a stranger elsewhere locks nobody out.
"""

from __future__ import annotations

from ipaddress import IPv6Address, ip_address, ip_network
from typing import Any

from axes.attempts import get_cool_off_threshold
from axes.handlers.database import AxesDatabaseHandler
from axes.models import AccessAttempt
from django.conf import settings
from django.db.models import Sum
from django.http import HttpRequest

NAMES_AT_ONE_ADDRESS = 5
"""So many names' worth of wrong passwords lock an address: a whole studio behind one address mistypes less
(own choice)."""
ONE_SUBSCRIBER = 64
"""Bits of an IPv6 address that are one subscriber's; the rest they choose as they like (RFC 4291 section 2.5.1,
from memory)."""


def caller(request: HttpRequest) -> str | None:
    """The address that a request came from; None where it cannot be told.

    Behind a proxy that is the last entry of X-Forwarded-For: the proxy wrote it, whatever the caller had written
    before it.
    """
    if settings.BEHIND_PROXY:
        forwarded = request.headers.get("X-Forwarded-For", "").rpartition(",")[2]
        if found := _subscriber(forwarded):
            return found
    return _subscriber(request.META.get("REMOTE_ADDR", ""))


def _subscriber(written: str) -> str | None:
    try:
        address = ip_address(written.strip())
    except ValueError:
        return None
    if not isinstance(address, IPv6Address):
        return str(address)
    if address.ipv4_mapped is not None:
        return str(address.ipv4_mapped)
    return str(ip_network((address.packed, ONE_SUBSCRIBER), strict=False).network_address)


class SignInLimit(AxesDatabaseHandler):  # type: ignore[misc] # the package is not typed
    """Counts what went wrong for a name at an address, and for an address over all names."""

    def get_failures(self, request: Any, credentials: dict[str, Any] | None = None) -> int:
        """The failures that count against AXES_FAILURE_LIMIT."""
        of_the_name: int = super().get_failures(request, credentials)
        most: int = settings.AXES_FAILURE_LIMIT
        if request.axes_ip_address is None:
            return of_the_name
        tries = AccessAttempt.objects.filter(
            ip_address=request.axes_ip_address, attempt_time__gte=get_cool_off_threshold(request)
        )
        by_name = tries.order_by().values("username").annotate(failures=Sum("failures_since_start"))
        # A name counts up to its own limit: somebody who goes on with one that is locked locks no other.
        of_the_address = sum(min(most, row["failures"]) for row in by_name)
        return max(of_the_name, most) if of_the_address >= NAMES_AT_ONE_ADDRESS * most else of_the_name
