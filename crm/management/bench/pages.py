"""Asks for pages the way a browser does, through every layer of the web, and checks what comes back."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from html import unescape
from typing import Any

from django.test import Client
from django.urls import reverse

from crm.care.surfaces import Surfaces
from crm.management.bench import bare
from crm.management.bench.sought import Scrap, car_with_visits, scraps
from crm.management.bench.statements import Statement, Ways, sent, ways_of
from crm.management.bench.timing import Timing, in_turn
from crm.models import Car, Forecast, Layer, Plate, User, Visit
from crm.selectors.studio import local_day, the_studio

MOST_QUERIES = 12
MOST_TIMES_SQL = 8
_TYPING = {"HX-Request": "true", "HX-Target": "find-results"}


class WrongAnswer(Exception):
    """A page did not hold what it has to hold; the sentence says what is missing."""


@dataclass(frozen=True)
class Asked:
    """A page that is measured: how to ask for it, what it has to hold, and the bare SQL for the same answer."""

    what: str
    path: str
    headers: dict[str, str]
    check: Callable[[str], None]
    sql: Callable[[], Sequence[Statement]]
    aimed: bool = True
    """Whether the aims for time and queries are for this page."""


@dataclass(frozen=True)
class Measured:
    """What came out."""

    asked: Asked
    page: Timing
    own: Timing
    """The page's own statements, sent again by themselves."""
    sql: Timing
    floor: Timing
    """The page, or the part of one, on which nothing was asked: what it costs before anything is looked up."""
    queries: int
    ways: Ways

    @property
    def ratio(self) -> float:
        """How many times the SQL the page takes, each at its quickest: undisturbed by what else runs.

        Where the page's own statements are quicker than those written by hand, they are what it is held against.
        """
        return self.page.least / min(self.sql.least, self.own.least)

    @property
    def ratio_beyond(self) -> float:
        """The same for what the page takes beyond one on which nothing was asked."""
        return max(0.0, self.page.least - self.floor.least) / min(self.sql.least, self.own.least)


class Browser:
    """Somebody of the studio who is signed in."""

    def __init__(self) -> None:
        self._client = Client(SERVER_NAME="localhost")
        backend = "django.contrib.auth.backends.ModelBackend"
        self._client.force_login(User.objects.get(username="bench"), backend=backend)

    def get(self, path: str, headers: dict[str, str]) -> str:
        """The page at an address. Raises WrongAnswer where it is none."""
        answer = self._client.get(path, headers=headers)
        if answer.status_code != 200:
            raise WrongAnswer(f"{path} was answered with {answer.status_code}.")
        return str(answer.content.decode())


def measured(asked: Asked, browser: Browser, *, runs: int) -> Measured:
    """Ask, check, count, and time page and bare SQL in turn. Raises WrongAnswer."""
    asked.check(browser.get(asked.path, asked.headers))
    with sent() as statements:  # the second time: the first may ask the database what it can do
        browser.get(asked.path, asked.headers)
    sql = list(asked.sql())
    selects = [row for row in statements if row.sql.lstrip("( ").upper().startswith(("SELECT", "WITH"))]
    whole, own, by_hand, floor = in_turn(
        (
            lambda: browser.get(asked.path, asked.headers),
            lambda: bare.fetch_all(selects),
            lambda: bare.fetch_all(sql),
            lambda: browser.get(reverse("find"), asked.headers),
        ),
        runs=runs,
    )
    return Measured(asked, whole, own, by_hand, floor, queries=len(statements), ways=ways_of(statements))


def everything_asked(now: datetime) -> list[Asked]:
    """The pages of the bench, in the order in which they are printed."""
    return [
        *(typing(scrap) for scrap in scraps()),
        car_file("car file, 1 visit", car_with_visits(1, 1)),
        car_file("car file, 100 visits", car_with_visits(100)),
        due_back(local_day(the_studio(), now)),
    ]


def typing(scrap: Scrap) -> Asked:
    """The results while somebody types."""
    path = f"{reverse('find')}?q={scrap.typed.replace(' ', '+')}"
    shown: list[str] = []

    def check(page: str) -> None:
        shown[:] = references_in(page)
        _expect(bool(shown), f"Nothing was found for “{scrap.typed}”.")
        if scrap.car is not None:
            _expect(scrap.car in shown, f"“{scrap.typed}” did not find the car {scrap.car}.")
        strangers = set(shown) - set(scrap.answers.filter(ref__in=shown).values_list("ref", flat=True))
        _expect(
            not strangers, f"“{scrap.typed}” found {', '.join(sorted(strangers))}, which do not answer to it."
        )

    def sql() -> Sequence[Statement]:
        return bare.found(scrap.typed, list(Car.objects.filter(ref__in=shown).values_list("pk", flat=True)))

    return Asked(f"{scrap.what} “{scrap.typed}”", path, _TYPING, check, sql)


def car_file(what: str, ref: str) -> Asked:
    """The file of a car."""
    car = Car.objects.get(ref=ref)
    mark = Plate.objects.get(car=car, until__isnull=True).mark
    live: dict[int, Surfaces] = {}
    for layer, part in Forecast.objects.filter(car=car, live__gt=0).values_list("layer", "live"):
        live[layer] = live.get(layer, Surfaces()) | part
    products = set(Layer.objects.filter(pk__in=live).values_list("product__name", flat=True))
    newest = Visit.objects.filter(car=car).latest("arrived_at")

    def check(page: str) -> None:
        for words in (mark, car.known_as, *products, str(newest.get_purpose_display())):
            _expect(words.lower() in page.lower(), f"The file of {ref} does not show “{words}”.")

    return Asked(what, reverse("car", args=[ref]), {}, check, lambda: bare.whole_car(car.pk))


def due_back(today: date) -> Asked:
    """The first page of what is due back in three months."""
    rows: list[tuple[Any, ...]] = bare.due_in_three_months(today).fetch()
    cars = [car for _, car in rows[: bare.ON_A_PAGE]]
    wanted = dict(Car.objects.filter(pk__in=cars).values_list("pk", "ref"))

    def check(page: str) -> None:
        shown = list(dict.fromkeys(references_in(page)))
        expected = [wanted[car] for car in cars]
        _expect(shown == expected, f"Due back shows {shown[:3]} first where {expected[:3]} lapse first.")

    return Asked(
        "due back, first page", reverse("due_back"), {}, check, lambda: bare.due_page(today), aimed=False
    )


def references_in(page: str) -> list[str]:
    """The references of the cars that a page leads to, in its order."""
    pattern = re.escape(reverse("car", args=["2222222"])).replace("2222222", "([0-9A-Z]{7})")
    return re.findall(rf'href="{pattern}"', unescape(page))


def _expect(condition: bool, sentence: str) -> None:
    if not condition:
        raise WrongAnswer(sentence)
