"""The car file and everything that is changed from it, through the browser's own requests."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from crm.care.surfaces import PANELS, Surface, Surfaces
from crm.models import Car, CarEvent, Ending, Keeping, Plate, Rank, Role, Visit
from crm.selectors.coats import layers_of, live_surfaces
from tests import factories
from tests.factories import NOW
from tests.web.world import World, a_world

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
WING = ["left_rear_wing", "left_rear_wing_lower"]


@pytest.fixture
def manager() -> Client:
    return factories.signed_in(Rank.MANAGER)


def send(browser: Client, name: str, *args: object, **data: Any) -> tuple[int, str]:
    answer = browser.post(reverse(name, args=args), data)
    return answer.status_code, answer.content.decode()


def test_the_file_shows_identity_answer_chart_and_history_on_one_page(manager: Client) -> None:
    world = a_world()
    html = manager.get(reverse("car", args=[world.car.ref])).content.decode()
    order = [
        "QA26 DEM",
        "Blue Halden Estate",
        "Ada Quill",
        "<dt>On it</dt>",
        "Coat chart",
        "Left for next time",
    ]
    order += ["On it now", ">Visits</h2>", ">Ended</h2>", "How it is kept</h2>"]
    places = [html.index(words) for words in order]
    assert places == sorted(places)
    assert "1M8GDM9AXKP042788" in html


def test_every_reason_of_a_forecast_is_on_the_page_in_words(manager: Client) -> None:
    world = a_world()
    html = manager.get(reverse("car", args=[world.car.ref])).content.decode()
    reasons = world.layer.forecasts.get(zone="tops").reasons
    assert reasons
    for reason in reasons:
        assert reason["words"].split("“")[0].split("'")[0] in html


@pytest.mark.parametrize(("rank", "sees"), [(Rank.MANAGER, True), (Rank.DESK, True), (Rank.BENCH, False)])
def test_numbers_and_addresses_are_for_those_who_need_them(rank: Rank, sees: bool) -> None:
    world = a_world()
    html = factories.signed_in(rank).get(reverse("car", args=[world.car.ref])).content.decode()
    assert "Ada Quill" in html
    assert ('href="tel:+447700900123"' in html) is sees
    assert ('href="mailto:ada@example.com"' in html) is sees


def test_the_page_takes_twelve_queries_at_one_visit_and_at_a_hundred(manager: Client) -> None:
    small, large = factories.car(), factories.car()
    factories.visit(small, state=Visit.State.HANDED_OVER, at=NOW - timedelta(days=9))
    for number in range(100):
        factories.visit(large, state=Visit.State.HANDED_OVER, at=NOW - timedelta(days=1000 - number * 9))
    counts = []
    for car in (small, large):
        with CaptureQueriesContext(connection) as queries:
            manager.get(reverse("car", args=[car.ref]))
        counts.append(len(queries))
    assert counts == [12, 12]


def test_more_visits_come_by_a_plain_link(manager: Client) -> None:
    car = factories.car()
    for number in range(23):
        factories.visit(car, state=Visit.State.HANDED_OVER, at=NOW - timedelta(days=400 - number * 10))
    address = reverse("car", args=[car.ref])
    page = manager.get(address).content.decode()
    assert "Earlier visits, 3 more" in page
    assert 'href="?span=two&amp;visits=40#history"' in page
    assert "Earlier visits" not in manager.get(address, {"visits": "40"}).content.decode()


@pytest.mark.parametrize(
    "query", ["?span=none", "?visits=-1", "?visits=" + "9" * 400, "?visits=%00", "?span[]=all"]
)
def test_odd_questions_in_the_address_are_answered_with_the_plain_page(query: str, manager: Client) -> None:
    assert manager.get(reverse("car", args=[factories.car().ref]) + query).status_code == 200


def test_a_reference_in_lower_case_is_understood(manager: Client) -> None:
    car = factories.car()
    assert manager.get(f"/car/{car.ref.lower()}/").status_code == 200


def test_a_car_is_taken_on_with_nothing_but_a_colour(manager: Client) -> None:
    status, _ = send(manager, "car_new", colour="Blue", body="estate")
    assert status == 302
    assert [str(car) for car in Car.objects.all()] == ["blue"]


def test_a_car_is_taken_on_with_its_keeper_and_the_answer_with_its_words(manager: Client) -> None:
    data = {
        "mark": "qa26dem",
        "body": "estate",
        "keeper-name": "Ada  Quill",
        "keeper-phone": "07700 900123",
        "keeper-email": "ada@EXAMPLE.com",
        "keeper-letters": "yes",
    }
    status, _ = send(manager, "car_new", **data)
    assert status == 302
    role = Role.objects.get(part=Role.Part.KEEPER)
    assert (role.person.name, Plate.objects.get(car=role.car).mark) == ("Ada Quill", "QA26 DEM")
    assert {contact.value for contact in role.person.contacts.all()} == {"+447700900123", "ada@example.com"}
    consent = role.person.consents.get()
    assert consent.given is True
    assert consent.wording.startswith(
        "May Greywater Yard write to you when a layer on your car is likely to be thin"
    )
    shown = manager.get(reverse("car_new")).content.decode()
    assert consent.wording in shown


def test_nothing_is_stored_where_one_part_is_refused(manager: Client) -> None:
    data = {"mark": "QA26 DEM", "body": "estate", "keeper-name": "Ada Quill", "keeper-email": "nowhere"}
    status, html = send(manager, "car_new", **data)
    assert (status, Car.objects.count(), Role.objects.count()) == (422, 0, 0)
    assert "is not an e-mail address: it needs a name, an @ and a domain." in html
    assert 'value="QA26 DEM"' in html
    assert 'value="nowhere"' in html


def test_a_plate_on_another_file_is_refused_beside_the_field(manager: Client) -> None:
    factories.car("QA26 DEM")
    status, html = send(manager, "car_new", mark="qa26 dem", body="estate")
    assert status == 422
    assert "QA26 DEM is on the file of a blue Halden Estate." in html


def test_an_empty_form_asks_for_one_word(manager: Client) -> None:
    status, html = send(manager, "car_new", body="hatchback")
    assert status == 422
    assert "Write down at least one of plate, make, model, colour or chassis number." in html


def test_a_keeper_of_the_same_name_is_asked_about(manager: Client) -> None:
    ada = factories.person("Ada Quill")
    factories.car("QA26 DEM", keeper=ada)
    data = {"colour": "Red", "body": "estate", "keeper-name": "ada quill"}
    status, html = send(manager, "car_new", **data)
    assert status == 422
    assert "Ada Quill, blue Halden Estate QA26 DEM" in html
    assert send(manager, "car_new", **data, **{"keeper-person": str(ada.pk)})[0] == 302
    assert Role.objects.filter(person=ada).count() == 2
    assert send(manager, "car_new", **{**data, "colour": "Green"}, **{"keeper-person": "new"})[0] == 302
    assert Role.objects.filter(person=ada).count() == 2


def test_the_bench_takes_on_a_car_but_no_people() -> None:
    bench = factories.signed_in(Rank.BENCH)
    assert "keeper-name" not in bench.get(reverse("car_new")).content.decode()
    assert send(bench, "car_new", colour="Red", body="van", **{"keeper-name": "Ada Quill"})[0] == 302
    assert Role.objects.count() == 0


def test_the_same_form_sent_twice_makes_one_car(manager: Client) -> None:
    data = {"colour": "Red", "body": "van", "once": "a-key-of-a-form-sent-twice"}
    assert [send(manager, "car_new", **data)[0] for _ in range(2)] == [302, 302]
    assert Car.objects.count() == 1


def facts(**changed: Any) -> dict[str, Any]:
    return {
        "body": "estate", "paint": "unknown", "paint_past": "unknown", "wash_plan": "none", **changed
    }  # fmt: skip


def test_facts_are_corrected_and_the_former_ones_stay_in_the_history(manager: Client) -> None:
    car = factories.car("QA26 DEM", colour="Blue")
    data = facts(
        colour="Navy",
        make="Halden",
        year="2021",
        circumstances=["dogs", "trees"],
        paint_past="used",
        do_nots="No compound",
        aluminium=["bonnet"],
        plastic=["front_bumper"],
    )
    assert send(manager, "car_facts", car.ref, **data)[0] == 302
    car.refresh_from_db()
    assert (car.colour, car.circumstances, car.do_nots) == ("Navy", ["dogs", "trees"], "No compound")
    assert car.aluminium == Surfaces.of([Surface.BONNET])
    assert car.paint_past == "used"
    assert [row.colour for row in car.history.order_by("history_id")] == ["Blue", "Navy"]


def test_a_chassis_number_of_another_file_is_refused_and_what_was_typed_is_kept(manager: Client) -> None:
    factories.car(chassis="1M8GDM9AXKP042788")
    car = factories.car()
    status, html = send(manager, "car_facts", car.ref, **facts(chassis="1m8gdm9axkp042788", colour="Plum"))
    assert status == 422
    assert "That chassis number is in the file of a blue Halden Estate." in html
    assert 'value="Plum"' in html


def test_a_chassis_number_that_may_be_misread_is_kept_with_a_note(manager: Client) -> None:
    car = factories.car()
    answer = manager.post(
        reverse("car_facts", args=[car.ref]), facts(chassis="1M8GDM9A1KP042788"), follow=True
    )
    assert "The ninth character is 1 and should work out as X." in answer.content.decode()
    car.refresh_from_db()
    assert car.chassis == "1M8GDM9A1KP042788"


def test_a_new_plate_ends_the_old_one(manager: Client) -> None:
    car = factories.car("QA26 DEM")
    assert send(manager, "car_plate", car.ref, mark="QP11 VAT", since="2026-05-01")[0] == 302
    assert list(Plate.objects.filter(car=car).order_by("pk").values_list("mark", "until")) == [
        ("QA26 DEM", date(2026, 5, 1)),
        ("QP11 VAT", None),
    ]


def test_a_plate_comes_off(manager: Client) -> None:
    car = factories.car("QA26 DEM")
    assert send(manager, "car_plate", car.ref, do="off", until="2026-05-02")[0] == 302
    assert Plate.objects.get(car=car).until == date(2026, 5, 2)


def test_what_cannot_be_a_plate_is_refused_with_what_to_type(manager: Client) -> None:
    car = factories.car("QA26 DEM")
    status, html = send(manager, "car_plate", car.ref, mark="QA26/DEM?", since="2026-05-01")
    assert status == 422
    assert "A plate has letters and digits only" in html


def test_how_it_is_kept_is_written_in_the_studios_unit_and_not_known_is_an_answer(manager: Client) -> None:
    car = factories.car()
    data = {
        "since": "2026-01-01",
        "parking": "garage",
        "distance": "10,000",
        "salted_roads": "yes",
        "wash_winter": "",
    }
    assert send(manager, "car_kept", car.ref, **data)[0] == 302
    kept = Keeping.objects.get(car=car)
    # 10,000 miles of 1.609344 km, the international mile of 1959.
    assert (kept.parking, kept.km_a_year, kept.salted_roads, kept.wash_winter) == (
        "garage",
        16093,
        True,
        None,
    )
    assert 'value="10000"' in manager.get(reverse("car_kept", args=[car.ref])).content.decode()


def test_an_event_elsewhere_ends_what_it_took_off(manager: Client) -> None:
    car = factories.car()
    layer = factories.layer(car, at=NOW - timedelta(days=30))
    data = {"kind": "respray", "on": "2026-05-01", "certainty": "told", "baked": "yes", "surfaces": WING}
    assert send(manager, "car_elsewhere", car.ref, **data)[0] == 302
    assert CarEvent.objects.get(car=car).baked is True
    assert live_surfaces(layers_of(car)[0]) == layer.surfaces - Surfaces.from_keys(WING)
    page = manager.get(reverse("car", args=[car.ref])).content.decode()
    assert "gone with the respray" in page


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        ({"on": "2027-01-01"}, "That day has not come yet."),
        ({"surfaces": []}, "Choose the surfaces that it happened to."),
        ({"on": ""}, "“On” is empty. Write the day like 4/5/2026."),
        ({"surfaces": ["left_rudder"]}, "There is no surface called “left_rudder”."),
        ({"surfaces": ["soft_top"]}, "This car has no soft top."),
        ({"kind": "levitated"}, "Choose one of these."),
    ],
)
def test_an_event_that_cannot_be_is_refused_with_its_sentence(
    data: Mapping[str, Any], sentence: str, manager: Client
) -> None:
    car = factories.car()
    known = {
        "kind": "respray",
        "on": "2026-05-01",
        "certainty": "told",
        "note": "so she says",
        "surfaces": WING,
    }
    status, html = send(manager, "car_elsewhere", car.ref, **{**known, **data})
    assert (status, CarEvent.objects.count()) == (422, 0)
    assert sentence in html
    assert 'value="so she says"' in html


def test_a_layer_is_ended_on_chosen_surfaces_and_taken_back(manager: Client) -> None:
    car = factories.car()
    layer = factories.layer(car, at=NOW - timedelta(days=30))
    data = {"surfaces": WING, "why": "failed", "on": "2026-05-02", "note": "bare after the jet"}
    assert send(manager, "layer_end", car.ref, layer.pk, **data)[0] == 302
    ending = Ending.objects.get(layer=layer)
    assert (ending.surfaces, ending.at.date()) == (Surfaces.from_keys(WING), date(2026, 5, 2))
    status, html = send(manager, "ending_take_back", car.ref, ending.pk, because="  ")
    assert (status, "“Why it is taken back” is empty. Write it down." in html) == (422, True)
    assert send(manager, "ending_take_back", car.ref, ending.pk, because="the other wing")[0] == 302
    assert live_surfaces(layers_of(car)[0]) == PANELS & car.surfaces
    assert send(manager, "ending_take_back", car.ref, ending.pk, because="again")[0] == 404


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        ({"on": "2026-01-01"}, "A layer cannot end before it was laid."),
        ({"surfaces": ["windscreen"]}, "That layer has already ended on those surfaces."),
        ({"why": ""}, "Choose one of these."),
    ],
)
def test_an_ending_that_cannot_be_is_refused_with_its_sentence(
    data: Mapping[str, Any], sentence: str, manager: Client
) -> None:
    car = factories.car()
    layer = factories.layer(car, at=NOW - timedelta(days=30))
    known = {"surfaces": WING, "why": "failed", "on": "2026-05-02"}
    status, html = send(manager, "layer_end", car.ref, layer.pk, **{**known, **data})
    assert (status, Ending.objects.count()) == (422, 0)
    assert sentence in html


def test_a_layer_may_end_on_the_day_it_was_laid(manager: Client) -> None:
    car = factories.car()
    layer = factories.layer(car, at=NOW - timedelta(days=3))
    data = {"surfaces": WING, "why": "failed", "on": (NOW - timedelta(days=3)).date().isoformat()}
    assert send(manager, "layer_end", car.ref, layer.pk, **data)[0] == 302
    assert Ending.objects.get().at >= layer.laid_at


def test_what_was_left_is_done_at_last_once(manager: Client) -> None:
    world: World = a_world()
    for _ in range(2):
        assert send(manager, "left_done", world.car.ref, world.left.pk)[0] == 302
    world.left.refresh_from_db()
    assert world.left.done_at == NOW


def test_surfaces_are_told_in_words_while_they_are_tapped(manager: Client) -> None:
    assert send(manager, "describe_surfaces", surfaces=WING, body="estate") == (200, "left rear wing")
    assert send(manager, "describe_surfaces", surfaces=["nonsense"], body="boat") == (200, "nothing")
