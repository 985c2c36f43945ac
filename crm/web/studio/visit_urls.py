"""Addresses of a stay: booking, bay sheet, hand-over, aftercare sheet."""

from __future__ import annotations

from django.urls import path

from crm.web.studio import bay, bay_gauge, bay_layer, hand_over, taking_back, visit

urlpatterns = [
    path("car/<ref:ref>/visit/new/", visit.visit_new, name="visit_new"),
    path("visit/<number:pk>/", visit.visit, name="visit"),
    path("visit/<number:pk>/arrive/", visit.visit_arrive, name="visit_arrive"),
    path("visit/<number:pk>/agreed/", visit.visit_agree, name="visit_agree"),
    path("visit/<number:pk>/ready/", visit.visit_ready, name="visit_ready"),
    path("visit/<number:pk>/back/", visit.visit_back, name="visit_back"),
    path("visit/<number:pk>/cancel/", visit.visit_cancel, name="visit_cancel"),
    path("visit/<number:pk>/left/", visit.left_new, name="left_new"),
    path("visit/<number:pk>/left/<number:left>/done/", visit.visit_left_done, name="visit_left_done"),
    path("visit/<number:pk>/bay/", bay.bay, name="bay"),
    path("visit/<number:pk>/bay/done/", bay.bay_step, name="bay_step"),
    path("visit/<number:pk>/bay/water/", bay.bay_grade, name="bay_grade"),
    path("visit/<number:pk>/bay/layer/", bay_layer.bay_layer, name="bay_layer"),
    path("visit/<number:pk>/bay/layer/check/", bay_layer.bay_layer_check, name="bay_layer_check"),
    path("visit/<number:pk>/bay/layer/products/", bay_layer.bay_products, name="bay_products"),
    path("visit/<number:pk>/bay/gauge/", bay_gauge.bay_gauge, name="bay_gauge"),
    path("visit/<number:pk>/bay/correction/", bay_gauge.bay_correction, name="bay_correction"),
    path(
        "visit/<number:pk>/bay/<str:kind>/<number:row>/take-back/",
        taking_back.bay_take_back,
        name="bay_take_back",
    ),
    path("visit/<number:pk>/hand-over/", hand_over.hand_over, name="hand_over"),
    path("visit/<number:pk>/sheet/", hand_over.sheet, name="sheet"),
    path("visit/<number:pk>/sheet.pdf", hand_over.sheet_pdf, name="sheet_pdf"),
    path("visit/<number:pk>/sheet.ics", hand_over.sheet_ics, name="sheet_ics"),
]
