"""Addresses for owners. Each is a secret of its own, short enough to stand unbroken in a mail header."""

from __future__ import annotations

from django.urls import URLPattern, path

from crm.web.owner.stop import stop

urlpatterns: list[URLPattern] = [
    path("s/<slug:key>", stop, name="stop"),
]
