"""Addresses of the house itself: its settings, its people, its numbers, and one's own password."""

from __future__ import annotations

from django.urls import path

from crm.web.studio import numbers, settings, staff

urlpatterns = [
    path("settings/", settings.settings, name="settings"),
    path("staff/", staff.staff, name="staff"),
    path("staff/new/", staff.staff_new, name="staff_new"),
    path("staff/<number:pk>/", staff.staff_member, name="staff_member"),
    path("staff/<number:pk>/password/", staff.staff_password, name="staff_password"),
    path("staff/<number:pk>/end/", staff.staff_end, name="staff_end"),
    path("numbers/", numbers.numbers, name="numbers"),
    path("numbers/<str:path>/", numbers.number, name="number"),
    path("numbers/<str:path>/back/", numbers.number_back, name="number_back"),
    path("password/", staff.password, name="password"),
]
