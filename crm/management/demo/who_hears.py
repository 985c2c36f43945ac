"""Who would be written to and why, and who would not and why not: the planner's own reasons, gathered for reading."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from crm.care.forecast import around
from crm.care.seasons import MonthDay
from crm.models import Car, Matter, Message, Studio
from crm.post.matters import against_matter
from crm.post.plan import Prospect, prospects
from crm.post.quiet import SendingHours
from crm.selectors.held import keepers_on, plates_on
from crm.selectors.letters import Windows, live_forecasts, standings
from crm.selectors.studio import local_day, the_studio

Kind = Message.Kind
LATELY = timedelta(days=150)


@dataclass(frozen=True)
class Asked:
    """One car that somebody would be written to about."""

    who: str
    plate: str
    due: date
    why: str


@dataclass(frozen=True)
class Kept:
    """One car that nobody is written to about, and why."""

    who: str
    plate: str
    why: str


@dataclass(frozen=True)
class WinterRound:
    """Winter prompts: those of today in their season; out of it those that left last, and who is next."""

    opens: date
    is_today: bool
    asked: tuple[Asked, ...]
    kept: tuple[Kept, ...]
    left: tuple[Asked, ...]
    """Prompts of the last months that have left, the newest first."""


def reminders(now: datetime) -> tuple[list[Asked], list[Kept]]:
    """Whose layers lapse soon: those who are reminded, and those who are not."""
    return _sorted_out(prospects(now=now), Kind.TOP_UP, local_day(the_studio(), now))


def winter_round(studio: Studio, now: datetime) -> WinterRound:
    """The winter prompts of today or, out of their season, those of the day on which they begin again."""
    windows = Windows.on(studio, now)
    moment = now if windows.prompting else _next_opening(studio, windows.today)
    there = Windows.on(studio, moment)
    asked, kept = _sorted_out(prospects(now=moment), Kind.WINTER, there.today)
    named = {item.plate for item in asked} | {item.plate for item in kept}
    kept += [item for item in _unasked(there) if item.plate not in named]
    return WinterRound(
        there.today, windows.prompting, tuple(asked), tuple(kept), tuple(_left(now, windows.today))
    )


def _left(now: datetime, today: date) -> Iterator[Asked]:
    plates = _plates(today)
    matters = Matter.objects.filter(
        kind=Kind.WINTER,
        dropped_because="",
        message__state=Message.State.SENT,
        message__sent_at__gte=now - LATELY,
    )
    for matter in matters.select_related("message__person").order_by("-message__sent_at", "pk"):
        due = date.fromisoformat(matter.facts["likely"])
        why = f"driven on salted roads, and {matter.facts['product']} is likely to be thin by {around(due)}"
        yield Asked(str(matter.message.person), plates.get(matter.car_id, "no plate"), due, why)


def _next_opening(studio: Studio, today: date) -> datetime:
    first = MonthDay.parse(studio.winter_prompt_from)
    opens = first.in_year(today.year)
    opens = opens if opens > today else first.in_year(today.year + 1)
    return SendingHours.of(studio).next_moment(datetime.combine(opens, time(9), studio.zone))


def _sorted_out(found: Iterator[Prospect], kind: Message.Kind, today: date) -> tuple[list[Asked], list[Kept]]:
    """A layer of a car once, however many zones it is on: what is to come before what is past, each by its date."""
    asked: dict[tuple[str, str, str], Asked] = {}
    kept: dict[Kept, None] = {}
    plates = _plates(today)
    for prospect in found:
        for want in (want for want in prospect.wants if want.kind == kind):
            who, plate = str(prospect.person), plates.get(want.car_id, "no plate")
            if not prospect.reach.open:
                kept[Kept(who, plate, prospect.reach.against)] = None
                continue
            due = date.fromisoformat(str(want.facts["low" if kind == Kind.TOP_UP else "likely"]))
            key = (who, plate, str(want.facts["product"]))
            if key not in asked or due < asked[key].due:
                asked[key] = Asked(who, plate, due, want.why)
    return sorted(asked.values(), key=lambda item: (item.due < today, item.due, item.who)), list(kept)


def _unasked(windows: Windows) -> Iterator[Kept]:
    """Every kept car for which there is no winter prompt, with what stands against it."""
    keepers = dict(keepers_on(windows.today).values_list("car_id", "person__name"))
    cars = list(Car.objects.order_by("pk").values_list("pk", flat=True))
    where, forecasts, plates = standings(cars, windows=windows), live_forecasts(cars), _plates(windows.today)
    for pk in cars:
        standing = where[pk]
        against = against_matter(
            Matter(kind=Kind.WINTER),
            standing,
            forecasts.get(pk, []),
            person_id=standing.keeper_id or 0,
            windows=windows,
        )
        if against:
            yield Kept(keepers.get(pk, "nobody"), plates.get(pk, "no plate"), against)


def _plates(day: date) -> dict[int, str]:
    return dict(plates_on(day).values_list("car_id", "mark"))


def by_reason(kept: Sequence[Kept]) -> list[tuple[int, str, Kept]]:
    """How many are left out for each reason, the commonest first, each with one of them. Dates are left off."""
    groups: dict[str, list[Kept]] = {}
    for item in kept:
        groups.setdefault(_without_day(item.why), []).append(item)
    ordered = sorted(groups.items(), key=lambda pair: (-len(pair[1]), pair[0]))
    return [(len(items), reason, items[0]) for reason, items in ordered]


def _without_day(why: str) -> str:
    for words in (" since ", " on "):
        head, found, tail = why.rpartition(words)
        if found and tail[:1].isdigit():
            return head
    return why
