"""Looking for what there is to write about: once a day over every car, never by what was once scheduled."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

import structlog
from django.db import IntegrityError

from crm.models import Matter, Message, Person, PlanDay
from crm.post.matters import Want, wanted
from crm.post.queue import queue_letter
from crm.selectors.letters import Candidates, Windows, candidate_pages
from crm.selectors.reach import Reach, letter_reach
from crm.selectors.studio import the_studio
from crm.selectors.winter_plan_state import cars_under_rounds

log = structlog.get_logger(__name__)
Kind = Message.Kind

ONE_REMINDER_IN = timedelta(days=120)
"""A layer on a zone is not written about again within this time, however its date shifts (own choice)."""
GIVEN_UP_AFTER = timedelta(minutes=20)
"""A day's round that was begun so long ago without an end is begun again."""
WRITTEN = (
    Message.State.WAITING,
    Message.State.HELD,
    Message.State.SENDING,
    Message.State.SENT,
    Message.State.UNCERTAIN,
)


@dataclass(frozen=True, slots=True)
class Prospect:
    """A person with what there is to write to them, and whether that may be done now."""

    person: Person
    wants: tuple[Want, ...]
    reach: Reach


@dataclass(slots=True)
class Planned:
    """What a round came to."""

    letters: int = 0
    matters: int = 0
    kept_back: Counter[str] = field(default_factory=Counter)
    """How many people are not written to, by the reason."""


def plan_letters(*, now: datetime) -> Planned:
    """Write down every letter that is due on this day. Doing it twice writes nothing twice."""
    planned = Planned()
    for prospect in prospects(now=now):
        if not prospect.reach.open:
            planned.kept_back[prospect.reach.against] += 1
            continue
        try:
            letter = queue_letter(person=prospect.person, wants=prospect.wants, now=now)
        except IntegrityError:
            # A key was written at the same moment: the car changed hands between two rounds. Tomorrow's sees it.
            log.warning("letter_written_elsewhere", person=prospect.person.pk)
            continue
        if letter is not None:
            planned.letters += 1
            planned.matters += len(prospect.wants)
    return planned


def plan_once_a_day(*, now: datetime) -> Planned | None:
    """The day's round, if nobody has made it yet. Returns None where it was made, or is being made."""
    day = now.astimezone(the_studio().zone).date()
    _, new = PlanDay.objects.get_or_create(on=day, defaults={"begun_at": now})
    if not new:
        given_up = PlanDay.objects.filter(on=day, done_at__isnull=True, begun_at__lte=now - GIVEN_UP_AFTER)
        if given_up.update(begun_at=now) != 1:
            return None
    planned = plan_letters(now=now)
    PlanDay.objects.filter(on=day).update(done_at=now, planned=planned.matters)
    log.info(
        "letters_planned", letters=planned.letters, matters=planned.matters, kept_back=dict(planned.kept_back)
    )
    return planned


def prospects(*, now: datetime) -> Iterator[Prospect]:
    """Everybody there is something new to write to, with what and why, and whether they can be reached.

    Writes nothing. A fixed number of queries for each page of people.
    """
    studio = the_studio()
    windows = Windows.on(studio, now)
    for page in candidate_pages(windows):
        found = _new(_without_prompts(_wants(page, windows), windows), since=now - ONE_REMINDER_IN)
        people = [page.people[person_id] for person_id in found]
        reach = letter_reach(people, now=now, studio=studio)
        for person in people:
            yield Prospect(person, found[person.pk], reach[person.pk])


def _wants(page: Candidates, windows: Windows) -> dict[int, list[Want]]:
    found: dict[int, list[Want]] = {}
    for standing in page.standings.values():
        # A date that the studio's figures have moved since is not written about: tomorrow's round has the new one.
        if standing.keeper_id in page.people and not standing.car.forecast_stale:
            forecasts = page.forecasts.get(standing.car.pk, [])
            wants = wanted(standing, forecasts, person_id=standing.keeper_id, windows=windows)
            found.setdefault(standing.keeper_id, []).extend(wants)
    return found


def _without_prompts(found: dict[int, list[Want]], windows: Windows) -> dict[int, list[Want]]:
    """Leaves out the winter prompts of cars for which a winter round decides who is asked."""
    prompted = {want.car_id for wants in found.values() for want in wants if want.kind == Kind.WINTER}
    decided = cars_under_rounds(prompted, windows)
    if not decided:
        return found
    return {
        person: [want for want in wants if want.kind != Kind.WINTER or want.car_id not in decided]
        for person, wants in found.items()
    }


def _new(found: dict[int, list[Want]], *, since: datetime) -> dict[int, tuple[Want, ...]]:
    """What was not written about before, for those for whom something is left that is reason enough."""
    every = [want for wants in found.values() for want in wants]
    written = set(Matter.objects.filter(key__in=[want.key for want in every]).values_list("key", flat=True))
    reminded = _reminded({want.car_id for want in every}, since=since)
    left = {}
    for person_id, wants in found.items():
        new = tuple(
            want for want in wants if want.key not in written and _subject(want.facts) not in reminded
        )
        if any(want.by_itself for want in new):
            left[person_id] = new
    return left


def _reminded(cars: Iterable[int], *, since: datetime) -> set[tuple[object, object]]:
    """Layers and zones for which a reminder left or waits."""
    rows = Matter.objects.filter(
        message__state__in=WRITTEN,
        message__created_at__gte=since,
        car__in=cars,
        kind=Kind.TOP_UP,
        dropped_because="",
    )
    return {subject for facts in rows.values_list("facts", flat=True) if (subject := _subject(facts))}


def _subject(facts: Mapping[str, object]) -> tuple[object, object] | None:
    """The layer and zone that a top-up reminder is about."""
    return (facts["layer"], facts["zone"]) if "layer" in facts else None
