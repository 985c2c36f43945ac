"""Who would be written to and why, and who would not and why not: the planner's own reasons, gathered for reading."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from crm.models import Message
from crm.post.plan import Prospect, prospects
from crm.selectors.held import plates_on
from crm.selectors.studio import local_day, the_studio

Kind = Message.Kind


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


def reminders(now: datetime) -> tuple[list[Asked], list[Kept]]:
    """Whose layers lapse soon: those who are reminded, and those who are not."""
    return _sorted_out(prospects(now=now), local_day(the_studio(), now))


def _sorted_out(found: Iterator[Prospect], today: date) -> tuple[list[Asked], list[Kept]]:
    """A layer of a car once, however many zones it is on: what is to come before what is past, each by its date."""
    asked: dict[tuple[str, str, str], Asked] = {}
    kept: dict[Kept, None] = {}
    plates = _plates(today)
    for prospect in found:
        for want in (want for want in prospect.wants if want.kind == Kind.TOP_UP):
            who, plate = str(prospect.person), plates.get(want.car_id, "no plate")
            if not prospect.reach.open:
                kept[Kept(who, plate, prospect.reach.against)] = None
                continue
            due = date.fromisoformat(str(want.facts["low"]))
            key = (who, plate, str(want.facts["product"]))
            if key not in asked or due < asked[key].due:
                asked[key] = Asked(who, plate, due, want.why)
    return sorted(asked.values(), key=lambda item: (item.due < today, item.due, item.who)), list(kept)


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
