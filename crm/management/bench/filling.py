"""A studio of any size in a scratch database, or the same one found again."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from random import Random
from time import perf_counter

from django.core.management import call_command
from django.db import connection

from crm.management.bench.bulk import filling, table_of
from crm.management.bench.fleet import Fleet
from crm.management.bench.plan import Sizes, planned_visits
from crm.management.bench.stays import Stays
from crm.management.bench.works import SHELF
from crm.models import (
    Branch,
    Car,
    CarEvent,
    Consent,
    Contact,
    Ending,
    FindKey,
    Forecast,
    Grade,
    Keeping,
    Layer,
    Person,
    Plate,
    Product,
    Rank,
    Role,
    Step,
    Studio,
    User,
    Visit,
)

NAME = "Made-up record of the bench"
SEED = 20_260_504
_PROGRESS = 5
"""Seconds between two lines of progress."""

Say = Callable[[str], object]


class InUse(Exception):
    """The database is somebody's; the sentence says why and what to do."""


def filled(sizes: Sizes, *, today: date, say: Say) -> None:
    """Make sure that the database holds the bench's record of these sizes, and nothing else.

    Raises InUse where anything else is in it: nothing is ever deleted.
    """
    if _is_there(sizes):
        call_command("migrate", verbosity=0, interactive=False)
        say(f"{sizes}: there already")
        return
    started = perf_counter()
    call_command("migrate", verbosity=0, interactive=False)
    say(f"tables made ({perf_counter() - started:.0f} s)")
    with filling(TABLES):
        fill(sizes, today=today, say=lambda words: say(f"{words} ({perf_counter() - started:.0f} s)"))
        say("building the indexes")
    # Last, as the seal: a record without it was not finished.
    Studio.objects.create(name=NAME, signature=_seal(sizes), time_zone="Europe/London")
    say(f"filled in {perf_counter() - started:.0f} s")


def _is_there(sizes: Sizes) -> bool:
    with connection.cursor() as cursor:
        tables = connection.introspection.table_names(cursor)
    if not tables:
        return False
    if {table_of(Studio), table_of(Car)} <= set(tables):
        studio = Studio.objects.first()
        if studio is None and not Car.objects.exists():
            return False
        if studio is None:
            raise InUse(
                "That database holds cars but no studio, perhaps half a bench. Name an empty one instead."
            )
        if studio.name != NAME:
            raise InUse(
                f"That database is in use: it is the record of {studio.name}. Name an empty one instead."
            )
        if studio.signature != _seal(sizes):
            raise InUse(
                f"That database holds {studio.signature}. Ask for those, or name an empty one instead."
            )
        return True
    raise InUse("That database holds something else already. Name an empty one instead.")


def _seal(sizes: Sizes) -> str:
    return str(sizes)


TABLES = (
    Car, Plate, Person, Contact, Consent, Role, Keeping, FindKey, Visit, Step, Grade, Layer, Ending, Forecast, CarEvent,
)  # fmt: skip


def fill(sizes: Sizes, *, today: date, say: Say) -> None:
    """Write cars, people and everything that was done, always the same for the same day."""
    dice = Random(SEED)  # noqa: S311 - made-up names, not secrets
    branch = Branch.objects.create(name="Greywater Yard", town="Skerrin")
    User.objects.create(username="bench", rank=Rank.MANAGER, branch=branch, initials="GY")
    for number, bottle in enumerate(SHELF, start=1):
        Product.objects.create(pk=number, name=bottle.name, product_class=bottle.product_class)
    plan = planned_visits(sizes, dice)
    fleet = Fleet(today=today, dice=dice)
    for number in range(1, sizes.cars + 1):
        fleet.write(number)
    fleet.rows.flush()
    say(f"{sizes.cars:,} cars, {fleet.people:,} people, {fleet.rows.keys.written:,} keys to find them by")
    stays = Stays(today=today, branch=branch.pk, dice=dice)
    told = perf_counter()
    for car, visits in enumerate(plan, start=1):
        stays.write(car, visits)
        if perf_counter() - told > _PROGRESS:
            told = perf_counter()
            say(f"{stays.rows.layers.written:,} of {sizes.layers:,} layers")
    stays.rows.flush()
    rows = stays.rows
    say(
        f"{rows.visits.written:,} visits, {rows.layers.written:,} layers, {rows.endings.written:,} endings,"
        f" {rows.forecasts.written:,} forecasts, {stays.reckoned:,} of them different"
    )
