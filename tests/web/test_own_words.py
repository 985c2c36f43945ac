"""Every form says in its own words what is missing or cannot be read: none answers in the library's."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from html import escape, unescape
from html.parser import HTMLParser
from importlib import import_module
from itertools import product
from pkgutil import walk_packages

import pytest
from django import forms
from django.core import validators
from django.db import transaction
from django.db.models import fields as columns
from django.forms import fields as form_fields
from django.forms import models as form_models
from django.test import Client
from django.urls import resolve

import crm.web
from crm.models import Rank
from crm.web.studio.forms.bay_fields import MomentField, ReadingField, WholeField
from crm.web.studio.forms.desk_fields import DayField, chips
from crm.web.studio.forms.house_fields import ClockField, FigureField, MonthDayField
from crm.web.studio.forms.own_words import InOwnWords
from tests import factories
from tests.web.addresses import address
from tests.web.test_access import MATRIX, OK
from tests.web.world import World, a_world

RUBBISH = {
    "nothing": "",
    "spaces": "   ",
    "a word": "x",
    "a negative": "-1",
    "a huge number": "9" * 40,
    "no day": "2026-02-30",
    "long": "y" * 3_000,
    "nul": "a\x00b",
}
HARD_TO_STORE = ("a huge number", "long", "nul")
"""Where the databases differ; the rest never comes to one, or is the same to both."""
PLURAL = (
    "Ensure this value has at most %(limit_value)d characters (it has %(show_value)d).",
    "Ensure this value has at least %(limit_value)d character (it has %(show_value)d).",
)
"""Two of the library's sentences that it only makes when it knows the number (Django 5.2, `core/validators.py`)."""


@cache
def _stock() -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Every sentence that the library has for a form, a column or a check, with its places left open.

    Before each stands its longest piece: where that is not in a text, the whole need not be sought.
    """
    found = {*PLURAL}
    for module in (form_fields, form_models, validators, columns):
        for _, kind in inspect.getmembers(module, inspect.isclass):
            found |= {str(words) for words in vars(kind).get("default_error_messages", {}).values()}
            found.add(str(getattr(kind, "message", "")))
    parts = (re.split(r"%\(\w+\)[a-z]|\{\w+\}", sentence) for sentence in found if " " in sentence)
    return tuple(
        (max(pieces, key=len), re.compile(".{0,200}?".join(map(re.escape, pieces)))) for pieces in parts
    )


def _in_the_librarys_words(html: str) -> list[str]:
    text = unescape(html)
    return [
        match[0] for longest, sentence in _stock() if longest in text and (match := sentence.search(text))
    ]


@dataclass
class _Forms(HTMLParser):
    """The forms of a page: where each is posted to, and the names of its fields."""

    found: list[tuple[str, set[str]]] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__()
        self._open = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        known = dict(attrs)
        if tag == "form":
            self._open = (known.get("method") or "get").lower() == "post"
            if self._open:
                self.found.append((known.get("action") or "", set()))
        elif self._open and tag in ("input", "textarea", "select") and known.get("name"):
            self.found[-1][1].add(str(known["name"]))

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._open = False


def _forms_of(browser: Client, world: World) -> Iterator[tuple[str, set[str]]]:
    """Every form that is posted on any page, once each."""
    found: dict[str, set[str]] = {}
    for name in (name for name, (_, _, answer) in MATRIX.items() if answer == OK):
        here = address(name, world)
        page = browser.get(here)
        if not page.headers["Content-Type"].startswith("text/html"):
            continue
        parser = _Forms()
        parser.feed(page.content.decode())
        for act, names in parser.found:
            found.setdefault(act or here, set()).update(names)
    yield from sorted((act, names - {"csrfmiddlewaretoken", "once"}) for act, names in found.items())


def _is_swept_elsewhere(act: str) -> bool:
    """Signing out has no fields, and wrong passwords end the sweep's own sign-in."""
    return resolve(act.partition("?")[0]).url_name in ("sign_out", "password")


def _every_form_class() -> list[type[forms.BaseForm]]:
    for module in walk_packages(crm.web.__path__, "crm.web."):
        import_module(module.name)
    found: list[type[forms.BaseForm]] = []
    kinds: list[type[forms.BaseForm]] = [forms.BaseForm]
    while kinds:
        below = kinds.pop().__subclasses__()
        found += [kind for kind in below if kind.__module__.startswith("crm.web")]
        kinds += below
    return found


def test_every_form_of_the_web_speaks_plainly() -> None:
    every = _every_form_class()
    assert len(every) > 30
    assert [kind for kind in every if not issubclass(kind, InOwnWords)] == []


def test_the_sweep_would_see_a_sentence_of_the_library() -> None:
    class Plain(forms.Form):
        name = forms.CharField(max_length=3)
        on = forms.DateField()

    for sent in ({}, {"name": "long", "on": "never"}):
        assert _in_the_librarys_words(str(Plain(sent))) != []


@pytest.mark.django_db
@pytest.mark.usefixtures("clock")
@pytest.mark.unmeasured
@pytest.mark.parametrize(
    "kinds",
    [
        pytest.param(HARD_TO_STORE, id="hard to store"),
        pytest.param(
            tuple(sorted(set(RUBBISH) - set(HARD_TO_STORE))), id="the rest", marks=pytest.mark.alike
        ),
    ],
)
def test_no_form_answers_in_the_words_of_the_library(kinds: tuple[str, ...]) -> None:
    world = a_world()
    browser = factories.signed_in(Rank.MANAGER)
    browser.raise_request_exception = False
    asked = [form for form in _forms_of(browser, world) if not _is_swept_elsewhere(form[0])]
    assert len(asked) > 25
    wrong = []
    for kind, (act, names) in product(kinds, asked):
        with transaction.atomic():
            answer = browser.post(act, dict.fromkeys(names, RUBBISH[kind]))
            transaction.set_rollback(True)
        said = _in_the_librarys_words(answer.content.decode())
        if answer.status_code >= 500 or said:
            wrong.append((kind, act, answer.status_code, said))
    assert wrong == [], "\n".join(map(str, wrong))


@pytest.mark.django_db
@pytest.mark.usefixtures("clock")
@pytest.mark.parametrize("kind", list(RUBBISH))
def test_neither_does_the_sign_in_nor_ones_own_password(kind: str) -> None:
    factories.studio()
    typed = RUBBISH[kind]
    pages = [Client().post("/sign-in/", {"username": typed, "password": typed})]
    mine = dict.fromkeys(("old", "new", "again"), typed)
    pages.append(factories.signed_in(Rank.BENCH).post("/password/", mine))
    assert [_in_the_librarys_words(page.content.decode()) for page in pages] == [[], []]


@pytest.mark.parametrize(
    ("known", "sentence"),
    [
        (DayField(label="On"), "“On” is empty. Write the day like 4/5/2026."),
        (
            MomentField(label="When", required=True),
            "“When” is empty. Write the day and the time like 4/5/2026 15:10.",
        ),
        (
            MonthDayField(label="Salted until"),
            "“Salted until” is empty. Write a day and a month, like 1 November.",
        ),
        (
            WholeField(low=0, high=9, label="Coats", required=True),
            "“Coats” is empty. Write a whole number, in digits only.",
        ),
        (
            ReadingField(low=0, high=9, label="Air", required=True),
            "“Air” is empty. Write a plain number, such as 17.5.",
        ),
        (forms.CharField(label="Name"), "“Name” is empty. Write it down."),
        (forms.ChoiceField(label="Graded", choices=[("a", "a")]), "“Graded” is empty. Choose one of these."),
        (forms.MultipleChoiceField(label="Where"), "“Where” is empty. Choose at least one of these."),
        (forms.CharField(), "“One” is empty. Write it down."),
        # Where a field has a sentence of its own, it keeps it.
        (chips("Kind", {"a": "a"}, required=True), "Choose one of these."),
        (ClockField(label="Saturday from"), "Write a time like 9:30 or 19:00."),
        (FigureField(label="Figure"), "Write a number."),
        (forms.CharField(error_messages={"required": "Say who."}), "Say who."),
    ],
)
def test_an_empty_field_says_what_is_missing_and_how_to_mend_it(known: forms.Field, sentence: str) -> None:
    made = type("Made", (InOwnWords, forms.Form), {"one": known})({})
    assert made.errors["one"] == [sentence]


@pytest.mark.parametrize(
    ("known", "typed", "sentence"),
    [
        (
            forms.CharField(max_length=3),
            "long",
            "That is too long: it has 4 characters, and 3 are the most. Shorten it.",
        ),
        (forms.CharField(), "a\x00b", "It holds a character that cannot be kept. Type it again."),
        (forms.ChoiceField(choices=[("a", "a")]), "b", "Choose one of those that are offered."),
        (forms.IntegerField(max_value=3), "4", "That cannot be right: 3 is the most."),
        (forms.IntegerField(min_value=3), "2", "That cannot be right: 3 is the least."),
        (forms.EmailField(), "ada", "That cannot be read. Look at it and type it again."),
    ],
)
def test_what_cannot_be_read_is_said_in_words_of_our_own(
    known: forms.Field, typed: str, sentence: str
) -> None:
    made = type("Made", (InOwnWords, forms.Form), {"one": known})({"one": typed})
    assert made.errors["one"] == [sentence]


def test_a_field_that_a_form_gains_while_it_is_made_speaks_plainly_too() -> None:
    class Grown(InOwnWords, forms.Form):
        def __init__(self, *args: object) -> None:
            super().__init__(*args)  # type: ignore[arg-type]
            self.fields["later"] = forms.CharField(label="Later")

    assert Grown({}).errors["later"] == ["“Later” is empty. Write it down."]
    assert escape("“Later” is empty.") in str(Grown({}))
