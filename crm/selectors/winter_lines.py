"""How the winter round's screens name a car, and how they say how an invitation stands."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from zoneinfo import ZoneInfo

from crm.models import Car, Person, WinterInvitation
from crm.selectors.held import keepers_on, plates_on
from crm.selectors.winter_asked import Asked, Stands

_LARGEST_PART = 12


@dataclass(frozen=True, slots=True)
class ShownCar:
    """A car as a line names it: its plate of the day, what it is, who keeps it."""

    ref: str
    plate: str
    car: str
    keeper: Person | None


def shown_cars(cars: Iterable[Car], today: date) -> dict[int, ShownCar]:
    """These cars by their number, in two queries."""
    rows = {car.pk: car for car in cars}
    plates = dict(plates_on(today).filter(car__in=rows).values_list("car_id", "mark"))
    keepers = {
        role.car_id: role.person for role in keepers_on(today).filter(car__in=rows).select_related("person")
    }
    return {
        pk: ShownCar(car.ref, plates.get(pk, ""), car.known_as, keepers.get(pk)) for pk, car in rows.items()
    }


def chance_words(chance: float) -> str:
    """How likely a car comes, as one says it: 2 in 5."""
    share = Fraction(chance).limit_denominator(_LARGEST_PART)
    if share in (0, 1):
        return "certain" if share else f"fewer than 1 in {_LARGEST_PART}"
    return f"{share.numerator} in {share.denominator}"


def stands_words(asked: Asked, zone: ZoneInfo) -> str:
    """How an invitation stands, with its day."""
    row, on = asked.invitation, _day(asked.answered_on)
    comes = f"{asked.visit.planned_in.astimezone(zone):%a %-d %b, %H:%M}" if asked.visit else ""
    said = "yes" if row.answer else "booked in meanwhile"
    return {
        Stands.TO_LEAVE: "its letter has not left yet",
        Stands.OPEN: f"open until {_day(asked.lapses_on)}",
        Stands.LAPSED: f"no answer came by {_day(asked.lapses_on)}",
        Stands.COMING: f"{said}, comes on {comes}",
        Stands.CAME: f"{said}, and came on {comes}",
        Stands.CALLED_OFF: f"said yes, and the visit was called off on {on}",
        Stands.LATER: f"said later on {on}",
        Stands.NO_THANKS: f"said no thanks on {on}",
        Stands.NEVER_LEFT: "its letter did not leave",
    }[asked.stands]


BADGES = {
    Stands.TO_LEAVE: "held",
    Stands.OPEN: "sending",
    Stands.COMING: "done",
    Stands.CAME: "done",
    Stands.NEVER_LEFT: "needs",
    Stands.CALLED_OFF: "needs",
}
"""The mark beside the words; everything else is over."""


@dataclass(frozen=True, slots=True)
class AskedLine:
    """An invitation as a line."""

    asked: Asked
    car: ShownCar
    words: str
    badge: str

    @property
    def row(self) -> WinterInvitation:
        return self.asked.invitation


def asked_lines(asked: Sequence[Asked], *, today: date, zone: ZoneInfo) -> list[AskedLine]:
    """These invitations as lines, in two queries; their cars are best selected with them."""
    cars = shown_cars([one.invitation.car for one in asked], today)
    return [
        AskedLine(
            one,
            cars[one.invitation.car_id],
            stands_words(one, zone),
            BADGES.get(one.stands, "cancelled"),
        )
        for one in asked
    ]


def oldest_of(asked: Collection[Asked]) -> date | None:
    """Since when the one that waits longest for an answer is open."""
    return min((one.asked_on for one in asked if one.waits), default=None)


def _day(day: date | datetime | None) -> str:
    return f"{day:%-d %B}" if day else "a day that was not written down"
