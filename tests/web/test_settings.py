"""The studio's settings on the screen: every field takes what people type, and refuses the rest in a sentence."""

from __future__ import annotations

from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from crm.models import Car, Rank, Studio
from crm.web.studio import settings as page
from crm.web.studio.forms.house_fields import zones_like
from tests import factories
from tests.web.strange import STRANGE

pytestmark = pytest.mark.django_db

GOOD: dict[str, Any] = {
    "name": "Greywater Yard",
    "postal_address": "2 Slipway Lane, Skerrin",
    "phone": "07700 900100",
    "reply_to": "yard@example.com",
    "signature": "Ada at Greywater Yard",
    "time_zone": "Europe/London",
    "place": "",
    "phone_region": "GB",
    "units": "miles",
    "paper": "A4",
    "salt_from": "1 November",
    "salt_until": "31 March",
    "hot_from": "1 June",
    "hot_until": "31 August",
    "winter_prompt_from": "1 September",
    "winter_prompt_until": "15 November",
    "letters_a_year": "4",
    "letter_gap_days": "45",
    "top_up_lead_days": "21",
    "weekday_from": "09:00",
    "weekday_until": "19:00",
    "saturday_from": "09:30",
    "saturday_until": "13:00",
    "home_washing": "on",
}


def _save(browser: Client | None = None, **typed: Any) -> Any:
    factories.studio()
    return (browser or factories.signed_in()).post(reverse("settings"), {**GOOD, **typed})


def _errors(answer: Any) -> dict[str, list[str]]:
    return dict(answer.context["form"].errors)


def test_page_shows_what_is_set(clock: time_machine.Traveller) -> None:
    factories.studio(salt_from="10-15", letters_a_year=3)
    html = factories.signed_in().get(reverse("settings")).content.decode()
    assert 'value="15 October"' in html
    assert 'name="letters_a_year" value="3"' in html
    assert "Another time zone can move the day a layer was laid" in html


def test_saving_says_so_and_keeps_everything() -> None:
    answer = _save(salt_from="15 Oct", letters_a_year="3", post_on_sundays="on", paper="Letter")
    assert (answer.status_code, answer.headers["Location"]) == (302, reverse("settings"))
    row = Studio.objects.get()
    assert (row.salt_from, row.letters_a_year, row.post_on_sundays, row.paper) == ("10-15", 3, True, "Letter")
    assert (row.signature, row.home_washing) == ("Ada at Greywater Yard", True)


def test_a_box_that_is_not_ticked_is_no() -> None:
    typed = {name: value for name, value in GOOD.items() if name != "home_washing"}
    factories.studio()
    factories.signed_in().post(reverse("settings"), typed)
    assert Studio.objects.get().home_washing is False


def test_a_small_studio_sees_its_forecasts_follow_at_once() -> None:
    factories.layer(factories.car())
    browser = factories.signed_in()
    answer = browser.post(reverse("settings"), {**GOOD, "salt_until": "30 April"}, follow=True)
    assert "Saved. The forecasts of every car are worked out anew." in answer.content.decode()
    assert Car.objects.filter(forecast_stale=True).count() == 0


def test_what_is_left_is_said_and_stands_on_today(monkeypatch: pytest.MonkeyPatch) -> None:
    for _ in range(3):
        factories.car()
    monkeypatch.setattr(page, "AT_ONCE", 1)
    browser = factories.signed_in()
    answer = browser.post(reverse("settings"), {**GOOD, "salt_until": "30 April"}, follow=True)
    assert "2 cars are still to be worked out" in answer.content.decode()
    today = browser.get(reverse("today")).content.decode()
    assert "Forecasts are being worked out again after a change of dates or numbers: 2 cars left." in today
    Car.objects.update(forecast_stale=False)
    assert "worked out again" not in browser.get(reverse("today")).content.decode()


def test_the_same_form_twice_is_one_change() -> None:
    factories.studio()
    browser = factories.signed_in()
    before = Studio.history.count()
    for _ in range(2):
        browser.post(reverse("settings"), {**GOOD, "name": "Harbour Yard", "once": "k" * 22})
    assert Studio.history.count() == before + 1


@pytest.mark.parametrize(
    ("typed", "stored"),
    [
        ("1 November", "11-01"),
        ("1 nov", "11-01"),
        ("Nov 1", "11-01"),
        ("1. November", "11-01"),
        ("1/11", "11-01"),
        ("1.11.", "11-01"),
        ("11-01", "11-01"),
        ("29 Feb", "02-29"),
    ],
)
def test_a_day_of_the_year_is_understood_as_people_write_it(typed: str, stored: str) -> None:
    assert _save(salt_from=typed).status_code == 302
    assert Studio.objects.get().salt_from == stored


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("31 June", "Month 6 has no day 31."),
        ("soon", "Write a day and a month, like 1 November."),
        ("11/13", "There is no month 13: give a month from 1 to 12."),
        ("1 Smarch", "Write a day and a month, like 1 November."),
        ("2026-11-01", "Write a day and a month, like 1 November."),
    ],
)
def test_a_day_that_is_none_is_refused_beside_its_field(typed: str, sentence: str) -> None:
    answer = _save(salt_from=typed)
    assert answer.status_code == 422
    assert _errors(answer) == {"salt_from": [sentence]}
    assert f'value="{typed}"' in answer.content.decode()


@pytest.mark.parametrize(
    ("typed", "stored"), [("9", "09:00"), ("9.30", "09:30"), ("0930", "09:30"), ("9:30:00", "09:30")]
)
def test_a_time_is_understood_as_people_write_it(typed: str, stored: str) -> None:
    assert _save(saturday_from=typed).status_code == 302
    assert Studio.objects.get().saturday_from.isoformat("minutes") == stored


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("dublin", ["Europe/Dublin"]),
        ("Europe/Oslo", ["Europe/Oslo"]),
        ("new york", ["America/New_York"]),
        ("azores", ["Atlantic/Azores"]),
        ("nowhere at all", []),
        ("\x00", []),
        ("", []),
    ],
)
def test_a_zone_is_found_by_its_town(typed: str, found: list[str]) -> None:
    assert zones_like(typed) == found


def test_a_town_that_is_typed_counts() -> None:
    assert _save(place="reykjavik").status_code == 302
    assert Studio.objects.get().time_zone == "Atlantic/Reykjavik"


def test_several_zones_are_offered_to_tap_and_the_one_that_is_tapped_counts() -> None:
    answer = _save(place="indiana")
    assert answer.status_code == 422
    html = answer.content.decode()
    assert "Several are called that: tap the one you mean." in html
    assert 'value="America/Indiana/Knox"' in html
    assert html.count('name="time_zone"') <= 7
    assert _save(place="indiana", time_zone="America/Indiana/Knox").status_code == 302
    assert Studio.objects.get().time_zone == "America/Indiana/Knox"


def test_a_town_that_no_zone_is_called_after_is_refused() -> None:
    answer = _save(place="Skerrin")
    assert _errors(answer) == {
        "place": ["No time zone is called that. Try the nearest large town, such as London."]
    }


@pytest.mark.parametrize("field", [name for name in GOOD if name != "home_washing"])
def test_no_field_breaks_on_anything(field: str) -> None:
    factories.studio()
    browser = factories.signed_in()
    for kind, text in STRANGE.items():
        before = Studio.objects.values().get()
        answer = browser.post(reverse("settings"), {**GOOD, field: text})
        assert answer.status_code in (302, 422), kind
        if answer.status_code == 422:
            assert Studio.objects.values().get() == before, kind
            html = answer.content.decode()
            assert "errorlist" in html, kind
            assert "<script>alert(1)</script>" not in html


def test_a_nul_is_refused_in_a_sentence() -> None:
    assert _errors(_save(signature="a\x00b")) == {
        "signature": ["It holds a character that cannot be kept. Type it again."]
    }


def test_what_was_typed_is_kept_beside_what_was_wrong() -> None:
    html = _save(name="Harbour Yard", phone="12", signature="<b>Ada</b>").content.decode()
    assert 'value="Harbour Yard"' in html
    assert 'value="&lt;b&gt;Ada&lt;/b&gt;"' in html
    assert "That number is too short." in html


def test_a_form_with_nothing_in_it_is_refused_field_by_field() -> None:
    factories.studio()
    answer = factories.signed_in().post(reverse("settings"), {"once": ""})
    assert answer.status_code == 422
    may_be_empty = {"postal_address", "phone", "reply_to", "signature", "place", "home_washing"}
    assert set(_errors(answer)) == set(GOOD) - may_be_empty


@pytest.mark.parametrize("rank", [Rank.BENCH, Rank.LEAD, Rank.DESK])
def test_other_ranks_neither_see_nor_save(rank: Rank) -> None:
    browser = factories.signed_in(rank)
    assert browser.get(reverse("settings")).status_code == 403
    assert _save(browser, name="Mine now").status_code == 403
    assert Studio.objects.get().name == "Greywater Yard"
    menu = browser.get(reverse("today")).content.decode()
    assert reverse("settings") not in menu
    assert reverse("password") in menu


def test_the_menu_leads_the_owner_manager_here() -> None:
    menu = factories.signed_in().get(reverse("today")).content.decode()
    assert all(f'href="{reverse(name)}"' in menu for name in ("settings", "staff", "numbers", "password"))


def test_the_page_says_where_mail_goes_while_no_server_is_set(settings: Settings) -> None:
    factories.studio()
    html = factories.signed_in().get(reverse("settings")).content.decode()
    assert "No mail server is set" in html
    assert str(settings.EMAIL_FILE_PATH) in html
    assert "settings.env" in html


def test_the_page_names_the_mail_server_and_never_its_password(settings: Settings) -> None:
    factories.studio()
    settings.MAIL_GOES_TO_FOLDER = False
    settings.EMAIL_HOST, settings.EMAIL_PORT = "smtp.example.org", 2525
    settings.EMAIL_HOST_USER, settings.EMAIL_HOST_PASSWORD = "yard-post", "very secret indeed"
    html = factories.signed_in().get(reverse("settings")).content.decode()
    assert "Through the mail server smtp.example.org, port 2525" in html
    assert "very secret indeed" not in html
