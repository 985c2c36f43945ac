"""Today, Find, the car file and the people."""

from __future__ import annotations

from django.urls import path

from crm.web.studio import car, car_changes, find, layers, people, roles, surfaces, take_on, today

urlpatterns = [
    path("", today.today, name="today"),
    path("find/", find.find, name="find"),
    path("surfaces/", surfaces.describe_surfaces, name="describe_surfaces"),
    path("car/new/", take_on.car_new, name="car_new"),
    path("car/<ref:ref>/", car.car, name="car"),
    path("car/<ref:ref>/facts/", car_changes.facts, name="car_facts"),
    path("car/<ref:ref>/plate/", car_changes.plate, name="car_plate"),
    path("car/<ref:ref>/plate/<number:pk>/not/", car_changes.plate_called_off, name="plate_called_off"),
    path("car/<ref:ref>/kept/", car_changes.kept, name="car_kept"),
    path("car/<ref:ref>/elsewhere/", car_changes.elsewhere, name="car_elsewhere"),
    path(
        "car/<ref:ref>/elsewhere/<number:pk>/take-back/", car_changes.event_take_back, name="event_take_back"
    ),
    path("car/<ref:ref>/left/<number:pk>/done/", car_changes.left_done, name="left_done"),
    path("car/<ref:ref>/people/", roles.roles, name="car_people"),
    path("car/<ref:ref>/people/<number:pk>/end/", roles.role_end, name="role_end"),
    path("car/<ref:ref>/layer/<number:pk>/end/", layers.end, name="layer_end"),
    path("car/<ref:ref>/ending/<number:pk>/take-back/", layers.take_back, name="ending_take_back"),
    path("person/<number:pk>/", people.person, name="person"),
    path("person/<number:pk>/change/", people.change, name="person_change"),
    path("person/<number:pk>/contact/", people.add_a_contact, name="contact_add"),
    path("person/<number:pk>/contact/<number:contact>/", people.contact, name="contact"),
    path("person/<number:pk>/consent/", people.consent, name="consent"),
    path("person/<number:pk>/pause/", people.pause, name="pause"),
    path("person/<number:pk>/pause/<number:row>/end/", people.pause_end, name="pause_end"),
]
