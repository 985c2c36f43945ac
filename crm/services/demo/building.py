"""Building the demo studio: everybody's story, told in the order of time through the studio's own services."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction

from crm.models import Car, Person, Visit
from crm.selectors.lasted import lasted
from crm.services.demo import crowd, elsewhere, known, owners, stock, today, winter, worked
from crm.services.demo.crew import open_demo_studio
from crm.services.demo.days import Days
from crm.services.demo.diary import Diary
from crm.services.demo.nature import Nature
from crm.services.demo.staying import times_of, with_odometers, write_stay
from crm.services.demo.story import Happening, Scene, Stay, Story, begin
from crm.services.forecasts import reforecast_car
from crm.services.stale import follow_stale

SEED = 417


@dataclass(frozen=True)
class Built:
    """What was built."""

    cars: int
    people: int
    visits: int


@transaction.atomic
def build_demo(*, now: datetime) -> Built:
    """Build Greywater Yard into an empty database, with four years of visits that end at `now`.

    The same `now` gives the same studio, but for secrets: references of cars, keys of links, Message-IDs.
    Raises Refused where somebody can sign in already.
    """
    crew = open_demo_studio()
    days = Days(now, ZoneInfo(crew.studio.time_zone))
    nature = Nature(random.Random(SEED + 2))  # noqa: S311 - a story, not a secret
    scene = Scene(crew, days, stock.stock_shelf(crew, since=days.first), nature)
    diary = Diary(days, crew)
    _revise_a_life(scene, diary)
    conditions = random.Random(SEED)  # noqa: S311 - a story, not a secret
    for story in stories_of(days):
        _write(story, scene, diary, conditions)
    winter.write_round(scene, diary)
    diary.play()
    for car in Car.objects.order_by("pk"):
        reforecast_car(car, studio=crew.studio, now=now)
    winter.plan_for_today(scene)
    return Built(Car.objects.count(), Person.objects.count(), Visit.objects.count())


def stories_of(days: Days) -> list[Story]:
    """Every story as it is told on that day. Known cars first, so that they get the days they ask for."""
    told = [story for module in (today, worked, known, elsewhere, owners) for story in module.stories(days)]
    return [*told, *crowd.stories(days, random.Random(SEED + 1))]  # noqa: S311 - a story, not a secret


def _write(story: Story, scene: Scene, diary: Diary, conditions: random.Random) -> None:
    """Put a story into the diary: its file is begun on the first day of it."""
    begun: list[Car] = []

    def begins(_: datetime) -> None:
        begun.append(begin(story, scene))

    diary.write(scene.days.at(story.since, 8, 0), begins)
    km_a_year = next((kept.km_a_year for kept in story.kept if kept.km_a_year), 12_000)
    for stay in with_odometers(story.stays, km=story.km, km_a_year=km_a_year):
        over = stay.state == Visit.State.HANDED_OVER
        diary.write(
            times_of(stay, scene).out if over else scene.days.now,
            _staying(stay, begun, scene, diary, conditions),
        )
    for when, what in story.happenings:
        diary.write(when, _happening(what, begun, scene))


Entry = Callable[[datetime], None]


def _staying(stay: Stay, begun: list[Car], scene: Scene, diary: Diary, conditions: random.Random) -> Entry:
    def happens(_: datetime) -> None:
        write_stay(stay, begun[0], scene, diary, conditions)

    return happens


def _happening(what: Happening, begun: list[Car], scene: Scene) -> Entry:
    def happens(at: datetime) -> None:
        what(at, begun[0], scene)

    return happens


def _revise_a_life(scene: Scene, diary: Diary) -> None:
    """After its winters of inspections the lead took what was learned of the paint sealant."""
    crew, days = scene.crew, scene.days
    on = days.latest(4, 14)

    def revise(_: datetime) -> None:
        product = scene.shelf[stock.SEALANT]
        stock.take_learned(product, lasted(product, crew.studio, today=on), on=on, crew=crew)
        # What the studio's own task does within minutes: the cars that carry it are worked out again.
        follow_stale(limit=Car.objects.count(), longest=timedelta(hours=1))

    diary.write(days.at(on, 20, 40), revise)
