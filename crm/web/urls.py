"""Every address of the web, behind one gate."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, include, path

import crm.web.converters  # noqa: F401 - gives addresses <ref:...>, <number:...> and <day:...>
from crm.web.sign_in import SignIn, SignOut

urlpatterns: list[URLPattern | URLResolver] = [
    path("sign-in/", SignIn.as_view(), name="sign_in"),
    path("sign-out/", SignOut.as_view(), name="sign_out"),
    path("", include("crm.web.studio.urls")),
    path("", include("crm.web.studio.visit_urls")),
    path("", include("crm.web.studio.desk_urls")),
    path("", include("crm.web.studio.winter_urls")),
    path("", include("crm.web.studio.house_urls")),
    path("", include("crm.web.owner.urls")),
]
