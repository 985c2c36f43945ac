"""The three lines that answer a caller: what is on the car, how long it should hold, what to offer next and why."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.timezone import localdate

from crm.care.advice_sheet import day_words
from crm.care.bodies import Body
from crm.care.forecast import Window, around
from crm.care.layering import FreshPaint, may_coat_from
from crm.care.names import CONDITION_NAMES
from crm.care.seasons import MonthDay, Season
from crm.care.surfaces import EATEN_BY_SALT, EXTERIOR, NOTHING, PANELS, Surfaces
from crm.care.terms import Circumstance, Condition, ProductClass, WashPlan
from crm.care.washplan import owner_wash_words, wash_visits
from crm.care.words import describe
from crm.models import Car, CarEvent, Studio
from crm.selectors.car_rows import CarRows
from crm.selectors.coats import PAINT_EVENTS
from crm.selectors.on_it import OnIt, on_it
from crm.selectors.studio import seasons_of

SOON = timedelta(days=60)
"""A low date this near is worth speaking of on the telephone."""
_NAMED = 3


@dataclass(frozen=True)
class Answer:
    """What to say while the caller is still talking."""

    on_it: str
    holds: str
    offer: str
    why: str = ""


@dataclass(frozen=True)
class _Question:
    rows: CarRows
    layers: Sequence[OnIt]
    today: date
    now: datetime
    studio: Studio
    salt: Season

    @property
    def body(self) -> Body:
        return Body(self.rows.car.body)

    def where(self, surfaces: Surfaces) -> str:
        """Surfaces in words."""
        return describe(surfaces, self.body)


def answer_of(rows: CarRows, *, studio: Studio, now: datetime, today: date) -> Answer:
    """The three lines of a car on a day."""
    layers = on_it([row for of_layer in rows.forecasts.values() for row in of_layer], today=today)
    question = _Question(rows, layers, today, now, studio, seasons_of(studio).salt)
    offer, why = _offer(question)
    return Answer(_on_it_words(question), _holds_words(question), offer, why)


def _on_it_words(question: _Question) -> str:
    if not question.layers:
        return (
            "No layer on record." if not question.rows.layers else "Nothing: every layer on record has ended."
        )
    said = [f"{item.layer.product.name} on {question.where(item.live)}" for item in question.layers[:_NAMED]]
    more = len(question.layers) - _NAMED
    if more > 0:
        said.append(f"and {more} more below")
    return _sentence("; ".join(said))


def _holds_words(question: _Question) -> str:
    if not question.layers:
        return "Nothing to hold."
    lead = question.layers[0]
    said = [_standing_words(lead)]
    others = [item for item in question.layers[1:] if _urgency(item) > _urgency(lead)]
    if others:
        worst = max(others, key=_urgency)
        said.append(f"{worst.layer.product.name} on {question.where(worst.live)}: {_standing_words(worst)}")
    return " ".join(_sentence(words) for words in said)


def _urgency(item: OnIt) -> int:
    return (Condition.HOLDING, Condition.SETTING, Condition.THINNING, Condition.DUE_A_LOOK).index(
        item.condition
    )


def _standing_words(item: OnIt) -> str:
    stands = CONDITION_NAMES[item.condition]
    if item.window is None:
        return f"{stands}, no forecast for this kind of product"
    if item.condition is Condition.DUE_A_LOOK:
        return f"{stands}: it was likely to last until {around(item.window.likely)}"
    if item.condition is Condition.SETTING:
        ready = localdate(item.layer.cured_at)
        return f"{stands} until {day_words(ready)}, then likely until {around(item.window.likely)}"
    return f"{stands}, likely until {around(item.window.likely)}"


Offer = tuple[str, str]


def _offer(question: _Question) -> Offer:
    """The first thing that is worth offering, most pressing first (common practice, no source)."""
    rules: tuple[Callable[[_Question], Offer | None], ...] = (
        _gone,
        _still_setting,
        _nothing_on_it,
        _past_its_window,
        _bare_since_paint,
        _before_winter,
        _thin_soon,
        _on_the_plan,
    )
    for rule in rules:
        if found := rule(question):
            return found
    return _nothing_yet(question)


def _gone(question: _Question) -> Offer | None:
    car = question.rows.car
    if car.status not in (Car.Status.SOLD, Car.Status.SCRAPPED, Car.Status.STOLEN):
        return None
    return "Nothing.", f"This car is {car.get_status_display()}."


def _still_setting(question: _Question) -> Offer | None:
    setting = [item.layer for item in question.layers if item.layer.wash_from > question.now]
    if not setting:
        return None
    latest = max(setting, key=lambda layer: layer.wash_from)
    until = day_words(localdate(latest.wash_from))
    return "Nothing yet: no wash before " + until + ".", f"{latest.product.name} is still setting."


def _nothing_on_it(question: _Question) -> Offer | None:
    if any(item.live & EXTERIOR for item in question.layers):
        return None
    why = "Nothing that still protects the outside is on record."
    return "A decontamination wash, water grades, then protection from the ground up.", why


def _past_its_window(question: _Question) -> Offer | None:
    due = [item for item in question.layers if item.condition is Condition.DUE_A_LOOK]
    if not due:
        return None
    first = due[0]
    since = around(first.window.high) if first.window else "some time ago"
    why = f"{first.layer.product.name} on {question.where(first.live)} is past its window since {since}."
    return "A decontamination wash and a look, before anything is laid on top.", why


def _bare_since_paint(question: _Question) -> Offer | None:
    covered = NOTHING
    for item in question.layers:
        covered |= item.live
    for event in question.rows.events:
        bare = (event.surfaces & PANELS) - covered
        if event.kind not in PAINT_EVENTS or not bare:
            continue
        lead = ProductClass(question.layers[0].layer.product.product_class)
        ready = may_coat_from(FreshPaint(surfaces=bare, on=event.on, baked=event.baked), lead)
        where = question.where(bare)
        why = f"Nothing is on the {where} since it was {_past(event)} in {event.on:%B %Y}."
        if ready > question.today:
            return f"Protection for the {where} from {day_words(ready)}, if the painter agrees.", why
        return f"Protection for the {where}.", why
    return None


def _past(event: CarEvent) -> str:
    return "resprayed" if event.kind == CarEvent.Kind.RESPRAY else "replaced"


def _before_winter(question: _Question) -> Offer | None:
    """In the weeks of the autumn invitation, for a car that meets salt with a layer unlikely to last through it."""
    studio = question.studio
    asking = Season(MonthDay.parse(studio.winter_prompt_from), MonthDay.parse(studio.winter_prompt_until))
    if not asking.contains(question.today) or _laid_up(question) or _salted(question) is False:
        return None
    opens, closes = question.salt.current_or_next(question.today)
    thin = [
        (window, item)
        for window, item in _windows(question)
        if item.live & EATEN_BY_SALT and window.likely <= closes
    ]
    if not thin:
        return None
    window, item = min(thin, key=lambda pair: pair[0].likely)
    why = (
        f"{item.layer.product.name} on {question.where(item.live)} is likely thin {around(window.likely)},"
        f" before the salt ends."
    )
    return f"Winter re-protection before {day_words(opens)}.", why


def _thin_soon(question: _Question) -> Offer | None:
    soon = [(window, item) for window, item in _windows(question) if window.low <= question.today + SOON]
    if not soon:
        return None
    window, item = min(soon, key=lambda pair: pair[0].low)
    why = f"{item.layer.product.name} on {question.where(item.live)} may be thin from {around(window.low)}."
    return f"A top-up before {around(window.likely)}.", why


def _on_the_plan(question: _Question) -> Offer | None:
    car = question.rows.car
    if car.wash_plan == WashPlan.NONE:
        return None
    last = next((localdate(visit.arrived_at) for visit in question.rows.visits if visit.arrived_at), None)
    anchor = last or car.plan_anchor or question.today
    circumstances = frozenset(Circumstance(value) for value in car.circumstances)
    due = wash_visits(
        WashPlan(car.wash_plan),
        anchor=anchor,
        coated_on=None,
        until=question.today + timedelta(days=200),
        circumstances=circumstances,
        salt=question.salt,
    )
    if not due:
        return None
    when = "now" if due[0].due <= question.today else around(due[0].due)
    between = owner_wash_words(WashPlan(car.wash_plan), circumstances)
    plan = f"The plan is “{car.get_wash_plan_display()}”; the owner's own washing in between: {between}."
    return f"The next maintenance wash: {when}.", plan


def _nothing_yet(question: _Question) -> Offer:
    windows = [window for window, _ in _windows(question)]
    if not windows:
        return "Nothing now.", "There is no forecast for what is on it."
    first = min(windows, key=lambda window: window.low)
    return f"Nothing now. Look again {around(first.low)}.", "Everything on it should hold until then."


def _windows(question: _Question) -> Iterator[tuple[Window, OnIt]]:
    return ((item.window, item) for item in question.layers if item.window is not None)


def _salted(question: _Question) -> bool | None:
    keepings = question.rows.keepings
    return keepings[0].salted_roads if keepings else None


def _laid_up(question: _Question) -> bool:
    keepings = question.rows.keepings
    return question.rows.car.status == Car.Status.STORED or bool(keepings and keepings[0].stored)


def _sentence(words: str) -> str:
    words = words.rstrip(".")
    return words[:1].upper() + words[1:] + "."
