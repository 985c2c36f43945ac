"""People and their part at a car, through the browser's own requests."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from crm.models import Consent, Contact, Pause, Rank, Role, Suppression
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


def test_a_no_at_the_desk_shuts_the_address_and_a_yes_opens_it_again(desk: Client) -> None:
    ada = factories.person("Ada Quill", email="ada@example.com", letters=True)
    assert send(desk, "consent", ada.pk, given="no", channel="email", how="on the telephone")[0] == 302
    row = Suppression.objects.get()
    assert (row.because, row.by, row.lifted_at) == ("on the telephone", desk.user, None)  # type: ignore[attr-defined]
    html = desk.get(reverse("person", args=[ada.pk])).content.decode()
    assert "Reminders are not wanted." in html
    assert "No, told on the telephone on 4 May 2026" in html
    assert send(desk, "consent", ada.pk, given="yes", channel="email", how="at the desk")[0] == 302
    row.refresh_from_db()
    assert (row.lifted_because, row.lifted_by) == ("at the desk", desk.user)  # type: ignore[attr-defined]
    html = desk.get(reverse("person", args=[ada.pk])).content.decode()
    assert "Reminders by e-mail are wanted." in html
    assert "yes again, told at the desk on 4 May 2026" in html
    assert "ada@example.com: no letters since 4 May 2026, on the telephone" in html


def test_the_stop_link_stands_on_the_page_until_the_person_says_yes_again(desk: Client) -> None:
    ada = factories.person("Ada Quill", email="ada@example.com", letters=True)
    assert Client().post(f"/s/{ada.stop_key}").status_code == 200
    html = desk.get(reverse("person", args=[ada.pk])).content.decode()
    assert "Stopped by the link in a letter on 4 May 2026." in html
    assert send(desk, "consent", ada.pk, given="yes", channel="email", how="at the desk")[0] == 302
    html = desk.get(reverse("person", args=[ada.pk])).content.decode()
    assert "Stopped by the link in a letter on 4 May 2026; yes again, told at the desk on 4 May 2026" in html


def later_keeper(desk: Client, ref: str) -> Role:
    data = {"part": "keeper", "name": "Bram Harrow", "phone": "07700 900456", "since": "2026-06-01"}
    assert send(desk, "car_people", ref, **data)[0] == 302
    return Role.objects.get(person__name="Bram Harrow")


def test_a_keeper_dated_ahead_stands_in_a_group_of_their_own(desk: Client) -> None:
    car = factories.car("QA26 DEM", keeper=factories.person("Ada Quill"))
    bram = later_keeper(desk, car.ref)
    html = desk.get(reverse("car_people", args=[car.ref])).content.decode()
    now, later = html.split("From a day to come")
    assert ("Ada Quill" in now, "until 1 Jun 2026" in now, "Bram Harrow" in now) == (True, True, False)
    assert ("From 1 Jun 2026" in later, "Bram Harrow" in later, "<h2>Former</h2>" in later) == (
        True,
        True,
        False,
    )
    html = desk.get(reverse("person", args=[bram.person_id])).content.decode()
    assert ("No car now." in html, "keeper from 1 Jun 2026" in html) == (True, True)


def test_a_keeper_dated_ahead_is_called_off_and_the_other_stays(desk: Client) -> None:
    car = factories.car("QA26 DEM", keeper=factories.person("Ada Quill"))
    role = later_keeper(desk, car.ref)
    answer = desk.post(reverse("role_end", args=[car.ref, role.pk]), follow=True).content.decode()
    assert "Bram Harrow does not become keeper." in answer
    assert "keeper from 1 Jun 2026: called off" in answer
    assert "From a day to come" not in answer
    assert [held.until for held in car.roles.order_by("pk")] == [None, date(2026, 6, 1)]


def test_a_part_that_was_to_end_later_ends_today(desk: Client) -> None:
    car = factories.car("QA26 DEM", keeper=factories.person("Ada Quill"))
    car.roles.update(until=date(2026, 6, 1))
    answer = desk.post(reverse("role_end", args=[car.ref, car.roles.get().pk]), follow=True).content.decode()
    assert "Ada Quill is no longer keeper." in answer
    assert car.roles.get().until == date(2026, 5, 4)


def test_namesakes_that_are_not_shown_are_counted_with_the_way_to_them(desk: Client) -> None:
    for _ in range(9):
        factories.person("Ada Quill", phone=None)
    right = factories.person("Ada Quill", phone="07700 900123")
    car = factories.car("QA26 DEM")
    data = {"part": "payer", "name": "Ada Quill", "since": "2026-05-01"}
    status, html = send(desk, "car_people", car.ref, **data)
    assert (status, "and 4 more of that name." in html, f'value="{right.pk}"' in html) == (422, True, False)
    assert f'href="{reverse("find")}?q=Ada%20Quill"' in html
    status, html = send(desk, "car_people", car.ref, **data, phone="07700 900123")
    assert (status, f'value="{right.pk}"' in html) == (422, True)
    assert send(desk, "car_people", car.ref, **data, phone="07700 900123", person=str(right.pk))[0] == 302
    assert Role.objects.get(car=car, part="payer").person == right


def test_six_namesakes_are_all_there_are(desk: Client) -> None:
    for _ in range(6):
        factories.person("Ada Quill")
    manager = factories.signed_in(Rank.MANAGER)
    html = send(manager, "car_new", **{"mark": "QA26 NEW", "body": "estate", "keeper-name": "Ada Quill"})[1]
    assert ("Somebody of that name is on file" in html, "more of that name" in html) == (True, False)
