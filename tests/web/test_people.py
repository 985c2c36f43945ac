"""People and their part at a car, through the browser's own requests."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from crm.models import Consent, Contact, Pause, Rank, Role
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


@pytest.fixture
def desk() -> Client:
    return factories.signed_in(Rank.DESK)


def send(browser: Client, route: str, /, *args: object, **data: Any) -> tuple[int, str]:
    answer = browser.post(reverse(route, args=args), data)
    return answer.status_code, answer.content.decode()


def test_the_page_shows_cars_contacts_answers_and_pauses(desk: Client) -> None:
    ada = factories.person("Ada Quill", email="ada@example.com", phone="07700 900123", letters=True)
    factories.car("QA26 DEM", keeper=ada)
    html = desk.get(reverse("person", args=[ada.pk])).content.decode()
    for words in (
        "QA26 DEM",
        'href="tel:+447700900123"',
        "Reminders by e-mail are wanted.",
        factories.WORDING,
    ):
        assert words in html


def test_somebody_never_asked_is_said_to_get_no_reminders(desk: Client) -> None:
    html = desk.get(reverse("person", args=[factories.person().pk])).content.decode()
    assert "Never asked whether reminders are wanted: none are sent." in html


def test_a_number_is_added_in_its_normal_form_and_a_wrong_one_is_kept_in_the_form(desk: Client) -> None:
    ada = factories.person("Ada Quill", phone=None, email=None)
    assert send(desk, "contact_add", ada.pk, kind="phone", value="07700 900123")[0] == 302
    assert ada.contacts.get().value == "+447700900123"
    status, html = send(desk, "contact_add", ada.pk, kind="phone", value="ring me")
    assert (status, ada.contacts.count()) == (422, 1)
    assert 'value="ring me"' in html
    assert "not a telephone number" in html


def test_a_contact_is_marked_dead_with_a_reason_and_works_again(desk: Client) -> None:
    ada = factories.person("Ada Quill", phone=None)
    contact = ada.contacts.get()
    status, html = send(desk, "contact", ada.pk, contact.pk, because="")
    assert (status, "Say how you know that it does not work." in html) == (422, True)
    assert send(desk, "contact", ada.pk, contact.pk, because="came back")[0] == 302
    contact.refresh_from_db()
    assert (contact.dead_since, contact.dead_because) == (NOW, "came back")
    assert f'href="mailto:{contact.value}"' not in desk.get(reverse("person", args=[ada.pk])).content.decode()
    assert send(desk, "contact", ada.pk, contact.pk)[0] == 302
    assert Contact.objects.get(pk=contact.pk).dead_since is None


def test_a_contact_of_somebody_else_is_not_found(desk: Client) -> None:
    ada, bram = factories.person(), factories.person()
    contact = bram.contacts.first()
    assert contact is not None
    assert send(desk, "contact", ada.pk, contact.pk, because="x")[0] == 404


def test_an_answer_is_kept_with_the_words_that_were_shown(desk: Client) -> None:
    ada = factories.person("Ada Quill", letters=True)
    shown = desk.get(reverse("person", args=[ada.pk])).content.decode()
    assert send(desk, "consent", ada.pk, given="no", channel="email", how="on the telephone")[0] == 302
    newest = Consent.objects.filter(person=ada).first()
    assert newest is not None
    assert (newest.given, newest.how, newest.wording in shown) == (False, "on the telephone", True)
    assert Consent.objects.filter(person=ada).count() == 2


def test_letters_are_paused_and_the_pause_is_ended(desk: Client) -> None:
    ada = factories.person("Ada Quill")
    assert send(desk, "pause", ada.pk, why="complaint", since="2026-05-01")[0] == 302
    pause = Pause.objects.get(person=ada)
    assert "letters paused" in desk.get(reverse("person", args=[ada.pk])).content.decode()
    assert send(desk, "pause_end", ada.pk, pause.pk)[0] == 302
    pause.refresh_from_db()
    assert pause.until == date(2026, 5, 4)
    assert send(desk, "pause_end", ada.pk, pause.pk)[0] == 409


def test_a_pause_that_ends_before_it_begins_is_refused(desk: Client) -> None:
    ada = factories.person("Ada Quill")
    status, html = send(desk, "pause", ada.pk, why="asked", since="2026-05-03", until="2026-05-01")
    assert (status, Pause.objects.count()) == (422, 0)
    assert "A pause cannot end before it begins." in html


def test_a_bereavement_is_shown_without_words(desk: Client) -> None:
    ada = factories.person("Ada Quill")
    send(desk, "pause", ada.pk, why="bereavement", since="2026-05-01")
    html = desk.get(reverse("person", args=[ada.pk])).content.decode()
    assert "bereavement" not in html.split("<details")[0]
    assert "No letters from 1 May 2026" in html


def test_a_person_is_renamed_and_found_under_the_new_name(desk: Client) -> None:
    ada = factories.person("Ada Quill")
    factories.car("QA26 DEM", keeper=ada)
    assert send(desk, "person_change", ada.pk, name="Ada Thrift", sort="private")[0] == 302
    assert "QA26 DEM" in desk.get(reverse("find"), {"q": "thrift"}).content.decode()
    assert ada.history.count() == 2


def test_a_new_keeper_ends_the_one_before(desk: Client) -> None:
    ada = factories.person("Ada Quill")
    car = factories.car("QA26 DEM", keeper=ada)
    data = {"part": "keeper", "name": "Bram Harrow", "phone": "07700 900456", "since": "2026-05-01"}
    assert send(desk, "car_people", car.ref, **data)[0] == 302
    keepers = Role.objects.filter(car=car, part="keeper").order_by("pk")
    assert [(role.person.name, role.until) for role in keepers] == [
        ("Ada Quill", date(2026, 5, 1)),
        ("Bram Harrow", None),
    ]


def test_somebody_on_file_becomes_the_payer(desk: Client) -> None:
    ada = factories.person("Ada Quill")
    car = factories.car("QA26 DEM", keeper=ada)
    data = {"part": "payer", "name": "Ada Quill", "since": "2026-05-01"}
    status, html = send(desk, "car_people", car.ref, **data)
    assert (status, "Somebody of that name is on file" in html) == (422, True)
    assert send(desk, "car_people", car.ref, **data, person=str(ada.pk))[0] == 302
    assert Role.objects.get(car=car, part="payer").person == ada


def test_a_part_ends_today(desk: Client) -> None:
    car = factories.car("QA26 DEM")
    role = car.roles.get()
    for _ in range(2):
        assert send(desk, "role_end", car.ref, role.pk)[0] == 302
    role.refresh_from_db()
    assert role.until == date(2026, 5, 4)
