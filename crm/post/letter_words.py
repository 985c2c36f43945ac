"""What a letter says about one car: one paragraph, whatever there is to say about it.

A true fact from the record and what would be done; no fear, no false hurry, never a day for what can only be
forecast (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from crm.care.forecast import around
from crm.care.letters import since_words
from crm.care.surfaces import PANELS, Zone, surfaces_of
from crm.care.winter_figures import WORK_NAMES, Work
from crm.care.winter_words import hours_words, week_words
from crm.care.words import ZONE_NAMES
from crm.models import Car, Matter, Message
from crm.selectors.winter_asked import IS_ABOUT

Kind = Message.Kind
_PANEL_ZONES = frozenset(zone for zone in Zone if surfaces_of(zone) <= PANELS)
_MOST_LAYERS = 3


def paragraph(car: Car, matters: Sequence[Matter], *, today: date) -> str:
    """Everything a letter has to say about a car; winter first, since it takes in what else is due."""
    by_kind: dict[Kind, list[Matter]] = {}
    for matter in matters:
        by_kind.setdefault(Kind(matter.kind), []).append(matter)
    said: list[str] = []
    told: set[str] = set()
    for matter in _newest_asked(by_kind.get(Kind.WINTER, [])):
        told.add(matter.facts.get("product", ""))
        said += _invited(matter, today) if IS_ABOUT in matter.facts else _winter(matter, today)
    said += _top_up(
        [matter for matter in by_kind.get(Kind.TOP_UP, []) if matter.facts["product"] not in told], today
    )
    for matter in by_kind.get(Kind.WASH_DUE, []):
        said += _wash(matter, today, first=not said)
    return f"Your {car_in_words(car)}: {said[0][:1].lower()}{said[0][1:]} {' '.join(said[1:])}".rstrip()


def car_in_words(car: Car) -> str:
    """Colour and model; only "car" where somebody has typed a plate or chassis number into them."""
    words = car.known_as
    plain = _letters(words)
    private = [car.chassis, *(plate.normal for plate in car.plates.all())]
    return "car" if any(mark and _letters(mark) in plain for mark in private) else words


def _newest_asked(matters: Sequence[Matter]) -> Sequence[Matter]:
    """The invitation where a winter round asks for the car: it says all that a prompt would say."""
    asked = [matter for matter in matters if IS_ABOUT in matter.facts]
    return asked[-1:] or matters


def _winter(matter: Matter, today: date) -> list[str]:
    return [
        f"{_thin(matter.facts, today)}, and {_salted(matter.facts, today)}.",
        "A fresh layer before then keeps the salt off what is under it.",
    ]


def _invited(matter: Matter, today: date) -> list[str]:
    """What a winter round asks a car in for: a true thing from the record, the work, its time, and the week."""
    facts = matter.facts
    roads = _salted(facts, today)
    if facts.get("promised"):
        why = f"The look that we promised at hand-over falls due this season, and {roads}."
    elif "product" in facts:
        why = f"{_thin(facts, today)}, and {roads}."
    elif facts.get("bare"):
        why = f"By our record nothing protects its paint by now, and {roads}."
    else:
        why = f"It is time to look at what is on it before the winter has worn it: {roads}."
    work, hours = WORK_NAMES[Work(facts["work"])], hours_words(facts["hours"])
    night = ", and it may stay with us overnight" if facts["nights"] > 0 else ""
    week = week_words(date.fromisoformat(facts["monday"]))
    return [why, f"A {work} takes about {hours}{night}. As things stand there is room for it in {week}."]


def _thin(facts: Mapping[str, Any], today: date) -> str:
    likely, laid_on = date.fromisoformat(facts["likely"]), date.fromisoformat(facts["laid_on"])
    when = f"by {around(likely)}" if likely > today else "by now"
    return f"The {facts['product']} laid in {since_words(laid_on, today)} is likely to be thin {when}"


def _salted(facts: Mapping[str, Any], today: date) -> str:
    salted = date.fromisoformat(facts["salt_from"])
    if salted > today:
        return f"roads here are usually salted from {salted:%B}"
    return "roads here are being salted"


def _top_up(matters: Iterable[Matter], today: date) -> list[str]:
    by_product: dict[tuple[str, str], list[Matter]] = {}
    for matter in matters:
        by_product.setdefault((matter.facts["product"], matter.facts["laid_on"]), []).append(matter)
    said = []
    for (product, laid_on), about in list(by_product.items())[:_MOST_LAYERS]:
        low = min(date.fromisoformat(matter.facts["low"]) for matter in about)
        when = f"from {around(low)} on" if low > today else "about now"
        where = _zones({Zone(matter.facts["zone"]) for matter in about})
        since = since_words(date.fromisoformat(laid_on), today)
        said.append(f"The {product} on the {where}, laid in {since}, may be getting thin {when}.")
    if said:
        said.append("Topping up while some of it is left is the smaller job.")
    return said


def _wash(matter: Matter, today: date, *, first: bool) -> list[str]:
    last_seen = matter.facts["last_seen"]
    seen = (
        f"It was last here in {since_words(date.fromisoformat(last_seen), today)}, so a" if last_seen else "A"
    )
    due = f"{seen} maintenance wash is about due"
    if not first:
        return ["Its maintenance wash is about due as well."]
    return [f"{due}: we wash it by hand, see how water behaves on it and tell you what we find."]


def _zones(zones: set[Zone]) -> str:
    names = [ZONE_NAMES[zone] for zone in Zone if zone in zones]
    if zones >= _PANEL_ZONES:
        names = ["painted panels", *(ZONE_NAMES[zone] for zone in Zone if zone in zones - _PANEL_ZONES)]
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def _letters(words: str) -> str:
    return "".join(sign for sign in words.upper() if sign.isalnum())
