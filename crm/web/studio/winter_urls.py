"""Addresses of the winter round."""

from __future__ import annotations

from django.urls import path

from crm.web.studio import winter, winter_cars, winter_invitation, winter_lists, winter_week

urlpatterns = [
    path("winter/", winter.winter, name="winter"),
    path("winter/open/", winter.winter_open, name="winter_open"),
    path("winter/<number:pk>/weeks/", winter.winter_weeks, name="winter_weeks"),
    path("winter/<number:pk>/again/", winter.winter_again, name="winter_again"),
    path("winter/<number:pk>/close/", winter.winter_close, name="winter_close"),
    path("winter/<number:pk>/reopen/", winter.winter_reopen, name="winter_reopen"),
    path("winter/<number:pk>/week/<day:monday>/", winter_week.winter_week, name="winter_week"),
    path("winter/<number:pk>/week/<day:monday>/ask/", winter_week.winter_ask, name="winter_ask"),
    path("winter/<number:pk>/not-asked/", winter_lists.winter_not_asked, name="winter_not_asked"),
    path("winter/<number:pk>/asked/", winter_lists.winter_asked, name="winter_asked"),
    path(
        "winter/<number:pk>/car/<ref:ref>/leave-out/", winter_cars.winter_leave_out, name="winter_leave_out"
    ),
    path("winter/<number:pk>/car/<ref:ref>/take-up/", winter_cars.winter_take_up, name="winter_take_up"),
    path("winter/<number:pk>/car/<ref:ref>/ask/", winter_cars.winter_ask_car, name="winter_ask_car"),
    path("winter/invitation/<number:pk>/", winter_invitation.winter_invitation, name="winter_invitation"),
    path(
        "winter/invitation/<number:pk>/take-back/",
        winter_invitation.winter_take_back,
        name="winter_take_back",
    ),
]
