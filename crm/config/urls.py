"""Every address the application answers to."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [path("", include("crm.web.urls"))]

handler400 = "crm.web.errors.bad_request"
handler403 = "crm.web.errors.forbidden"
handler404 = "crm.web.errors.not_found"
handler500 = "crm.web.errors.broken"
