"""The studio's settings: checked, kept with their history, and followed by the forecasts where they rest on them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from datetime import time
from typing import Any

import pytest

from crm.care.numbers import numbers_by_path
from crm.models import Rank, Studio, WinterRound
from crm.selectors.own_numbers import changes_of
from crm.selectors.stale import stale_count
from crm.selectors.studio import tables_of
from crm.selectors.studio_changes import studio_changes
from crm.services.errors import Refused
from crm.services.own_numbers import put_back, set_number
from crm.services.studio_settings import StudioSettings, change_settings
from crm.services.winter_round import close_round
from tests import factories
from tests.winter_scene import SEPTEMBER, opened

pytestmark = pytest.mark.django_db


def _as_they_are() -> StudioSettings:
    row = factories.studio()
    row.refresh_from_db()
    return StudioSettings(**{column.name: getattr(row, column.name) for column in fields(StudioSettings)})


def _changed(**settings: Any) -> Studio:
    change_settings(settings=replace(_as_they_are(), **settings), by=None)
    return Studio.objects.get()


def test_settings_that_are_as_they_were_leave_no_trace() -> None:
    factories.studio(phone="07700 900100")
    settings = _as_they_are()
    before = Studio.history.count()
    assert change_settings(settings=settings, by=None) == 0
    assert Studio.history.count() == before


def test_a_change_is_kept_with_who_made_it() -> None:
    who = factories.user(Rank.MANAGER, first_name="Ada", last_name="Quill")
    change_settings(settings=replace(_as_they_are(), letters_a_year=2, phone=""), by=who)
    newest = studio_changes(Studio.objects.get())[0]
    assert newest.by == "Ada Quill"
    assert newest.what == ("phone: “+447700900100” to nothing", "letters a year: “4” to “2”")


@pytest.mark.parametrize(
    ("settings", "moves"),
    [
        ({"salt_from": "10-15"}, True),
        ({"hot_until": "09-15"}, True),
        ({"time_zone": "Europe/Oslo"}, True),
        ({"winter_prompt_from": "08-15"}, False),
        ({"letters_a_year": 3}, False),
        ({"name": "Greywater Yard and Daughters"}, False),
    ],
)
def test_only_what_forecasts_rest_on_marks_the_cars(settings: dict[str, Any], moves: bool) -> None:
    factories.car()
    marked = change_settings(settings=replace(_as_they_are(), **settings), by=None)
    assert (marked, stale_count()) == ((1, 1) if moves else (0, 0))


def test_southern_and_wrapping_seasons_are_allowed() -> None:
    row = _changed(salt_from="06-01", salt_until="09-15", hot_from="12-01", hot_until="02-29")
    assert (row.salt_from, row.salt_until, row.hot_from, row.hot_until) == (
        "06-01",
        "09-15",
        "12-01",
        "02-29",
    )


def test_a_telephone_number_is_kept_as_it_is_read_out() -> None:
    # 07700 900000 to 900999 is the block that Ofcom keeps for drama.
    assert _changed(phone="+44 7700-900 123").phone == "07700 900123"


def test_a_number_is_read_in_the_country_that_comes_with_it() -> None:
    # 020 91x xxxx is kept for drama in Ireland (from memory).
    row = _changed(phone="020 913 1234", phone_region="ie")
    assert (row.phone_region, row.phone) == ("IE", "(020) 913 1234")


def test_lines_are_made_one_because_they_go_into_headers() -> None:
    row = _changed(
        name="Greywater\r\nBcc: x@example.org",
        signature=" Ada  at the Yard ",
        postal_address="2 Lane\nSkerrin",
    )
    assert row.name == "Greywater Bcc: x@example.org"
    assert (row.signature, row.postal_address) == ("Ada at the Yard", "2 Lane Skerrin")


@pytest.mark.parametrize(
    ("settings", "field", "sentence"),
    [
        ({"name": "  "}, "name", "Give the studio's name: letters begin and end with it."),
        (
            {"name": "x" * 81},
            "name",
            "Name: That is too long: it has 81 characters, and 80 are the most. Shorten it.",
        ),
        ({"phone": "12"}, "phone", "That number is too short."),
        (
            {"phone": "ring me"},
            "phone",
            "That is not a telephone number: type its digits with the area code.",
        ),
        ({"reply_to": "yard"}, "reply_to", "That is not an e-mail address: it looks like name@example.org."),
        (
            {"phone_region": "UK"},
            "phone_region",
            "Write the country as two letters: GB, IE, NO or DE, for example.",
        ),
        (
            {"phone_region": "\x00"},
            "phone_region",
            "Write the country as two letters: GB, IE, NO or DE, for example.",
        ),
        (
            {"time_zone": "Skerrin"},
            "time_zone",
            "Time zone: “Skerrin” is not a time zone. An example of one is Europe/London.",
        ),
        ({"salt_from": "31-12"}, "salt_from", "There is no month 31: give a month from 1 to 12."),
        ({"salt_until": "02-30"}, "salt_until", "Month 2 has no day 30."),
        ({"hot_from": "soon"}, "hot_from", "“soon” is not a month and a day: write 1 November as 11-01."),
        (
            {"hot_from": "02-29", "hot_until": "02-29"},
            "hot_until",
            "A season cannot be 29 February alone: most years do not have that day.",
        ),
        (
            {"letters_a_year": 13},
            "letters_a_year",
            "Letters a year: That cannot be right: 12 is the most.",
        ),
        (
            {"letter_gap_days": 367},
            "letter_gap_days",
            "Letter gap days: That cannot be right: 366 is the most.",
        ),
        ({"units": "leagues"}, "units", "Units: Choose one of those that are offered."),
        (
            {"weekday_until": time(9, 30)},
            "weekday_until",
            "Leave at least an hour, and the later time second: post that may never leave is lost.",
        ),
        (
            {"saturday_until": time(8)},
            "saturday_until",
            "Put the later time second. The same time twice keeps Saturdays free of post.",
        ),
        (
            {"saturday_until": time(9, 30), "post_on_sundays": True},
            "post_on_sundays",
            "Sundays have Saturday's hours: give Saturday some, or leave Sundays out.",
        ),
    ],
)
def test_what_cannot_be_meant_is_refused_with_a_sentence(
    settings: dict[str, Any], field: str, sentence: str
) -> None:
    before = _as_they_are()
    with pytest.raises(Refused) as refused:
        change_settings(settings=replace(before, **settings), by=None)
    assert (refused.value.field, refused.value.sentence) == (field, sentence)
    assert _as_they_are() == before


@pytest.mark.parametrize("rank", [Rank.BENCH, Rank.LEAD, Rank.DESK])
def test_only_the_owner_manager_changes_the_house(rank: Rank) -> None:
    who = factories.user(rank)
    works: list[Callable[[], object]] = [
        lambda: change_settings(settings=_as_they_are(), by=who),
        lambda: set_number(path="wear.parking.garage", values=[0.85], because="x", by=who),
        lambda: put_back(path="wear.parking.garage", by=who),
    ]
    for work in works:
        with pytest.raises(Refused, match="Ask the owner-manager"):
            work()


def test_an_own_figure_is_kept_with_its_reason_and_can_be_put_back() -> None:
    factories.studio()
    number = numbers_by_path()["lives.natural_wax.life"]
    who = factories.user(Rank.MANAGER, first_name="Ada")
    set_number(path=number.path, values=[1.5, 2.5, 4], because="Ours  hold longer", by=who)
    studio = Studio.objects.get()
    assert studio.engine_overrides == {"lives": {"natural_wax": {"life": [1.5, 2.5, 4]}}}
    put_back(path=number.path, by=who)
    assert Studio.objects.get().engine_overrides == {}
    told = [(change.by, change.values, change.because) for change in changes_of(number, studio)]
    assert told == [
        ("Ada", "the default", "back to the default"),
        ("Ada", "low 1.5, likely 2.5, high 4", "Ours hold longer"),
    ]
    assert changes_of(numbers_by_path()["lives.durable_wax.life"], studio) == ()


def test_an_own_winter_figure_marks_no_car_and_the_plan_of_a_round_that_is_going_follows() -> None:
    car = factories.car()
    factories.layer(car)
    season = opened()
    made = WinterRound.objects.get(pk=season.pk).changes
    assert set_number(path="winter.week.reserve", values=[0.1], because="dry halls", by=None) == 0
    assert (stale_count(), tables_of(Studio.objects.get()).winter.reserve) == (0, 0.1)
    assert WinterRound.objects.get(pk=season.pk).changes == made + 1
    assert put_back(path="winter.week.reserve", by=None) == 0
    assert (stale_count(), WinterRound.objects.get(pk=season.pk).changes) == (0, made + 2)
    set_number(path="thickness.gauge.change.noise", values=[6], because="new gauge", by=None)
    assert WinterRound.objects.get(pk=season.pk).changes == made + 2


def test_a_closed_round_follows_no_figure() -> None:
    season = opened()
    close_round(season=season, by=None, now=SEPTEMBER)
    made = WinterRound.objects.get(pk=season.pk).changes
    set_number(path="winter.week.reserve", values=[0.1], because="dry halls", by=None)
    assert WinterRound.objects.get(pk=season.pk).changes == made


@pytest.mark.parametrize(
    ("path", "values", "because", "field", "sentence"),
    [
        ("wear.parking.garage", [9.0], "why", "values", "This is 9; it has to be between 0.1 and 5."),
        (
            "wear.parking.garage",
            [0.85],
            "  ",
            "because",
            "Say why: whoever looks at this figure next year wants to know.",
        ),
        ("wear.parking.garage", [0.85], "x" * 101, "because", "Say it in 100 characters or fewer."),
        ("winter.week.reserve", [2.0], "why", "values", "This is 2; it has to be between 0 and 0.9."),
        ("winter.answers.lapse_days", [7.5], "why", "values", "This has to be a whole number."),
        (
            "winter.round.ask_ahead_days",
            [6.0],
            "why",
            "values",
            (
                "This has to be at least “winter round: its weeks: a week is asked for at least so many days ahead”, or"
                " no week could be asked for."
            ),
        ),
        ("winter.bare.counts", [1.0], "why", None, "There is no such figure."),
        ("wear.parking.garage", [0.85, 1.0], "why", "values", "This figure has 1 number."),
        ("wear.parking.cellar", [0.85], "why", None, "There is no such figure."),
        (
            "lives.natural_wax.life",
            [3.0, 2.0, 1.0],
            "why",
            "values",
            "A life runs from low over likely to high: put the three figures in that order.",
        ),
        ("lives.natural_wax.life", [float("nan")] * 3, "why", "values", "This has to be a number."),
        (
            "wear.distance.limits",
            [4999.0, 15.0, 30000.0],
            "why",
            "values",
            "This has to rise from one number to the next.",
        ),
    ],
)
def test_a_figure_that_cannot_be_is_refused_with_the_sentence_of_the_tables(
    path: str, values: list[float], because: str, field: str | None, sentence: str
) -> None:
    factories.studio()
    factories.car()
    with pytest.raises(Refused) as refused:
        set_number(path=path, values=values, because=because, by=None)
    assert (refused.value.field, refused.value.sentence) == (field, sentence)
    assert Studio.objects.get().engine_overrides == {}
    assert stale_count() == 0
