"""Putting a message into words: subject, plain text and HTML, from the facts as they stand at that moment."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.template.loader import render_to_string

from crm.care.advice import Dont, OnCar, Telling, moment_words, washing_line
from crm.care.letters import Addressed, wash_now
from crm.care.surfaces import EXTERIOR, by_zone
from crm.care.terms import ProductClass
from crm.models import Car, Layer, Matter, Message, Studio
from crm.post.headers import stop_url
from crm.post.letter_words import car_in_words, paragraph
from crm.selectors.coats import layers_of, live_surfaces
from crm.selectors.sheet import SheetContent, content_of, phone_words
from crm.selectors.sheet_builder import circumstances_of, keeping_on
from crm.selectors.studio import local_day, seasons_of

Kind, State = Message.Kind, Message.State

NOT_LEFT = (State.WAITING, State.HELD)
"""States in which a message is put into words anew before it leaves."""


class NothingToSay(ValueError):
    """A message without the facts it would be about."""


@dataclass(frozen=True, slots=True)
class Rendered:
    """A message in the words its receiver reads."""

    subject: str
    text: str
    html: str


def rendered(message: Message, *, now: datetime, studio: Studio) -> Rendered:
    """The words of a message, made from the record as it stands. Writes nothing.

    Raises NothingToSay where there is nothing left that it could be about.
    """
    context = {**_frame(message, studio), **_said(message, now, studio)}
    where = f"mail/{message.kind}"
    return Rendered(
        subject=" ".join(render_to_string(f"{where}/subject.txt", context).split())[:200],
        text=_tidy(render_to_string(f"{where}/body.txt", context)),
        html=render_to_string(f"{where}/body.html", context),
    )


def as_it_reads(message: Message, *, now: datetime, studio: Studio) -> Rendered:
    """A message as its receiver sees it: the stored words once it has left, or was tried for the last time;
    otherwise what would leave now, also where it waits again after a try.
    """
    if message.text and message.state not in NOT_LEFT:
        return Rendered(message.subject, message.text, message.html)
    return rendered(message, now=now, studio=studio)


def _frame(message: Message, studio: Studio) -> dict[str, Any]:
    """What every message has: a greeting that is never empty, a signature, and where it comes from."""
    name = " ".join(message.person.greeted_as.split())
    return {
        "greeting": f"Hello {name}," if name else "Hello,",
        "studio": studio,
        "signed": [studio.signature] if studio.name in studio.signature else [studio.signature, studio.name],
        "phone": phone_words(studio.phone, studio.phone_region),
        "stop_url": stop_url(message.person) if message.is_letter else "",
    }


def _said(message: Message, now: datetime, studio: Studio) -> dict[str, Any]:
    match Kind(message.kind):
        case Kind.AFTERCARE:
            return _aftercare(message)
        case Kind.WASH_NOW:
            return _wash_now(message, now, studio)
        case _:
            return _letter(message, now, studio)


def _aftercare(message: Message) -> dict[str, Any]:
    if message.sheet is None:
        raise NothingToSay("An aftercare note needs the sheet of its hand-over.")
    content = content_of(message.sheet)
    return {
        "sheet": content,
        "handed_over": moment_words(content.handed_over_at, content.zone),
        "headlines": content.advice.headlines,
        "donts": content.waits,
        "safety": content.advice.safety,
        "wash_visits": content.wash_visits[:2],
    }


def _wash_now(message: Message, now: datetime, studio: Studio) -> dict[str, Any]:
    if message.visit is None or message.sheet is None:
        raise NothingToSay("A wash note needs the visit whose layers have set.")
    car = message.visit.car
    today = local_day(studio, now)
    fresh = Layer.objects.filter(visit=message.visit).select_related("product")
    paragraphs = wash_now(
        # The greeting stands on a line of its own.
        Addressed("", car_in_words(car)),
        list(dict.fromkeys(layer.product.name for layer in fresh if layer.surfaces & EXTERIOR)),
        washing_line(
            layers=_on_car(car),
            circumstances=circumstances_of(car, keeping_on(car, today), studio),
            today=today,
            salt=seasons_of(studio).salt,
        ),
        _still(content_of(message.sheet), now),
        Telling(now, studio.zone),
    )
    opening = paragraphs[0].removeprefix("Hello, ")
    return {"car": car_in_words(car), "paragraphs": [opening[:1].upper() + opening[1:], *paragraphs[1:]]}


def _letter(message: Message, now: datetime, studio: Studio) -> dict[str, Any]:
    matters = list(
        message.matters.filter(dropped_because="").select_related("car").prefetch_related("car__plates")
    )
    if not matters:
        raise NothingToSay("Nothing that this letter was about is still true.")
    by_car: dict[int, list[Matter]] = {}
    for matter in matters:
        by_car.setdefault(matter.car_id, []).append(matter)
    today = local_day(studio, now)
    cars = [about[0].car for about in by_car.values()]
    return {
        "cars": "cars" if len(cars) > 1 else car_in_words(cars[0]),
        "several": len(cars) > 1,
        "paragraphs": [paragraph(about[0].car, about, today=today) for about in by_car.values()],
    }


def _on_car(car: Car) -> Sequence[OnCar]:
    return [
        OnCar(ProductClass(layer.product.product_class), zone, layer.product.name, "")
        for layer in layers_of(car)
        for zone in by_zone(live_surfaces(layer))
    ]


def _still(content: SheetContent, now: datetime) -> list[Dont]:
    """The waits of the sheet that run on, soonest first."""
    return [
        Dont(line.code, line.words, line.why, line.until, line.code)
        for line in content.donts_by_end
        if line.until is not None and line.until > now
    ]


def _tidy(text: str) -> str:
    """Lines without trailing blanks, and never more than one empty line between them."""
    kept: list[str] = []
    for line in (line.rstrip() for line in text.strip().splitlines()):
        if line or (kept and kept[-1]):
            kept.append(line)
    return "\n".join(kept) + "\n"
