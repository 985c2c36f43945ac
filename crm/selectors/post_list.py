"""The post as a person reads it: what needs somebody, what waits, what has gone, and why each stands as it does."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet

from crm.care.forecast import around
from crm.care.surfaces import Zone
from crm.care.winter_figures import WORK_NAMES, Work
from crm.care.winter_words import week_words
from crm.care.words import ZONE_NAMES
from crm.models import Car, Contact, Matter, Message, Person, Studio
from crm.selectors.finding import cars_found
from crm.selectors.held import Standing as Holds
from crm.selectors.held import told_apart
from crm.selectors.scanning import clean_query
from crm.selectors.winter_asked import IS_ABOUT

Kind, State = Message.Kind, Message.State

MOST_FOUND = 200
CARS_FOUND = 50


class Standing(StrEnum):
    """How the list of messages is cut."""

    NEEDS = "needs"
    WAITS = "waits"
    SENT = "sent"
    CANCELLED = "cancelled"
    MISSED = "missed"


_BY_THE_MACHINE = Q(state=State.HELD, touched_by__isnull=True)
STANDINGS: dict[Standing, Q] = {
    # What the post itself holds back waits for somebody to put the studio's settings right.
    Standing.NEEDS: Q(state__in=(State.UNCERTAIN, State.FAILED)) | _BY_THE_MACHINE,
    Standing.WAITS: Q(state__in=(State.WAITING, State.SENDING))
    | Q(state=State.HELD, touched_by__isnull=False),
    Standing.SENT: Q(state=State.SENT),
    Standing.CANCELLED: Q(state=State.CANCELLED),
    Standing.MISSED: Q(state=State.MISSED),
}
GONE = Q(state__in=(State.SENT, State.CANCELLED, State.MISSED))


@dataclass(frozen=True)
class Line:
    """A message in a list, and each car that it is about once, in words."""

    message: Message
    cars: tuple[str, ...]


@dataclass(frozen=True)
class About:
    """One thing that a message is about: the car, and in words why it is written."""

    ref: str
    plate: str
    car: str
    why: str
    dropped: str
    """Why it is left out after all; empty where it stands."""


@dataclass(frozen=True)
class Moment:
    """One thing that is known to have happened to a message."""

    at: datetime
    words: str


@dataclass(frozen=True, kw_only=True)
class PostWanted:
    """Which messages are asked for; what is empty does not narrow the list."""

    kind: str = ""
    text: str = ""


def posted(standing: Standing | None, wanted: PostWanted, *, today: date) -> QuerySet[Message]:
    """Messages that stand so; None are those that are over.

    What waits comes in the order in which it may leave; anything else the newest first.
    """
    rows = Message.objects.filter(STANDINGS[standing] if standing else GONE)
    if wanted.kind:
        rows = rows.filter(kind=wanted.kind)
    typed = clean_query(wanted.text)
    if typed:
        rows = rows.filter(_found(typed, today))
    about = Matter.objects.select_related("car").prefetch_related("car__plates")
    order = ("next_try_at", "pk") if standing is Standing.WAITS else ("-pk",)
    return (
        rows.select_related("person")
        .prefetch_related(Prefetch("matters", about))
        .defer("text", "html")
        .order_by(*order)
    )


def lines(rows: Iterable[Message], *, today: date) -> list[Line]:
    """Messages of `posted` as lines, each car with the plate that it carries today."""
    return [
        Line(row, tuple(dict.fromkeys(_in_words(matter.car, today) for matter in row.matters.all())))
        for row in rows
    ]


def _in_words(car: Car, today: date) -> str:
    return f"{car.known_as} {_plate(car, today)}".strip()


def _plate(car: Car, today: date) -> str:
    """Out of the plates that were read along with the car."""
    carried = told_apart(car.plates.all(), day=today)[Holds.NOW]
    return carried[0].mark if carried else ""


def _found(typed: str, today: date) -> Q:
    """Messages to people with that name or address, or about cars that the find box would find."""
    named = Person.objects.filter(name__icontains=typed).order_by("pk").values_list("pk", flat=True)
    reached = Contact.objects.filter(kind=Contact.Kind.EMAIL, value__icontains=typed).order_by("pk")
    people = {*named[:MOST_FOUND], *reached.values_list("person_id", flat=True)[:MOST_FOUND]}
    cars = [hit.ref for hit in cars_found(typed, most=CARS_FOUND, today=today)]
    about = Matter.objects.filter(message=OuterRef("pk"), car__ref__in=cars)
    return Q(person__in=people) | Q(Exists(about))


def matters_of(message: Message, *, studio: Studio, today: date) -> list[About]:
    """What a message is about, in the order in which it was written down."""
    rows = message.matters.select_related("car").prefetch_related("car__plates")
    return [
        About(
            ref=matter.car.ref,
            plate=_plate(matter.car, today),
            car=matter.car.known_as,
            why=why_written(matter, message, studio=studio),
            dropped=matter.dropped_because,
        )
        for matter in rows
    ]


def why_written(matter: Matter, message: Message, *, studio: Studio) -> str:
    """Why a thing is written about, for the studio."""
    facts = matter.facts
    match Kind(matter.kind):
        case Kind.AFTERCARE:
            handed = message.visit.handed_over_at if message.visit else None
            return f"handed over on {_moment(handed, studio)}" if handed else "the car was handed over"
        case Kind.WASH_NOW:
            return "the layers of this visit have set, so it may be washed"
        case Kind.TOP_UP:
            where = ZONE_NAMES[Zone(facts["zone"])]
            return f"{facts['product']} on the {where} may be thin from {_around(facts['low'])}"
        case Kind.WINTER if IS_ABOUT in facts:
            work = WORK_NAMES[Work(facts["work"])]
            return (
                f"the winter round asks it in for {week_words(date.fromisoformat(facts['monday']))}: {work}"
            )
        case Kind.WINTER:
            return f"driven on salted roads, and {facts['product']} is likely to be thin by {_around(facts['likely'])}"
        case _:
            return f"its wash plan foresees a visit {_around(facts['on'])}"


def course_of(message: Message) -> list[Moment]:
    """What is known to have happened to a message, oldest first; how it stands now is said on its own."""
    moments = [Moment(message.created_at, "written down")]
    if message.claimed_at:
        moments.append(Moment(message.claimed_at, f"taken up to be sent, try {max(message.attempts, 1)}"))
    if message.sent_at:
        moments.append(Moment(message.sent_at, f"left for {message.address}" if message.address else "left"))
    return sorted(moments, key=lambda moment: moment.at)


def _around(day: str) -> str:
    return around(date.fromisoformat(day))


def _moment(moment: datetime, studio: Studio) -> str:
    return f"{moment.astimezone(studio.zone):%-d %B %Y, %H:%M}"
