"""A branch before winter: sealed cars whose owners may be written to, and a round with a plan."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from crm.care.surfaces import PANELS, Surfaces
from crm.care.terms import Parking, ProductClass, Wash
from crm.models import Branch, Car, Message, Person, WinterInvitation, WinterRound
from crm.post.states import move
from crm.selectors.winter_asked import Asked, Stands
from crm.selectors.winter_facts import asked_so_far
from crm.services.winter_asking import Called, ask_week
from crm.services.winter_planning import plan_round
from crm.services.winter_round import Opening, open_round
from tests import factories

APRIL = datetime(2026, 4, 14, 9, 0, tzinfo=UTC)
SEPTEMBER = datetime(2026, 9, 1, 9, 0, tzinfo=UTC)
"""10:00 on a Tuesday in Skerrin: the salt is two months away."""
FIRST_WEEK = date(2026, 9, 14)
"""The first Monday for which there is time to ask on that day."""
SIX_MONTHS = (4.0, 6.0, 8.0)


def owner(name: str = "", **known: Any) -> Person:
    """Somebody who agreed to letters by e-mail long ago."""
    return factories.person(name, letters=True, at=datetime(2025, 3, 1, 9, 0, tzinfo=UTC), **known)


def sealed(
    keeper: Person | None = None,
    *,
    at: datetime = APRIL,
    surfaces: Surfaces = PANELS,
    product: ProductClass = ProductClass.POLYMER_SEALANT,
    salted: bool | None = True,
    stored: bool = False,
    km_a_year: int | None = 12_000,
    **known: Any,
) -> Car:
    """A car that was sealed and handed over in April, and is driven through the winter."""
    car = factories.car(keeper=keeper or owner(), **known)
    factories.keeping(
        car,
        since=date(2026, 1, 1),
        parking=Parking.OUTDOORS,
        km_a_year=km_a_year,
        wash_summer=Wash.HAND_NEUTRAL,
        wash_winter=Wash.HAND_NEUTRAL,
        salted_roads=salted,
        stored=stored,
    )
    factories.layer(car, factories.product(product), surfaces=surfaces, at=at)
    return car


def opened(
    *,
    hours: int = 26,
    nights: int = 4,
    first: date = FIRST_WEEK,
    weeks: int = 3,
    branch: Branch | None = None,
    now: datetime = SEPTEMBER,
) -> WinterRound:
    """A round of a few weeks that is going and has no plan yet."""
    opening = Opening(first_monday=first, weeks=weeks, hours=Decimal(hours), nights=Decimal(nights))
    return open_round(branch=branch or factories.branch(), opening=opening, by=None, now=now)


def planned_round(now: datetime = SEPTEMBER, **known: Any) -> WinterRound:
    """The same with a plan of that day."""
    season = opened(now=now, **known)
    assert plan_round(season=season, now=now)
    season.refresh_from_db()
    return season


def again(season: WinterRound, now: datetime = SEPTEMBER) -> WinterRound:
    """The round with a new plan."""
    assert plan_round(season=season, now=now)
    season.refresh_from_db()
    return season


def asked_one(person: Person | None = None) -> tuple[WinterRound, WinterInvitation]:
    """A round that has asked its only car by a letter that waits in the post."""
    sealed(person)
    season = planned_round(weeks=1)
    assert ask_week(season=season, monday=FIRST_WEEK, by=None, now=SEPTEMBER) == Called(1, 1)
    return season, season.invitations.get()


def sent(invitation: WinterInvitation, at: datetime = SEPTEMBER) -> None:
    """The letter leaves, as the post would have it."""
    assert invitation.message is not None
    move(invitation.message, Message.State.SENDING, because="", claimed_at=at)
    move(invitation.message, Message.State.SENT, because="", sent_at=at)


def stands(season: WinterRound, now: datetime = SEPTEMBER) -> list[Stands]:
    """How everybody who was asked stands."""
    return [one.stands for one in asked_so_far(season, now=now)]


def spoken(season: WinterRound) -> float:
    """Hours of the first week that are spoken for."""
    week = season.weeks.first()
    assert week is not None
    return week.spoken_hours


def the_only(season: WinterRound, now: datetime) -> Asked:
    """The one invitation of a round, and how it stands."""
    (one,) = asked_so_far(season, now=now)
    return one
