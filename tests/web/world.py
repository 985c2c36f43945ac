"""A small studio with one of everything an address can name, for tests that walk over all addresses."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from crm.care.surfaces import Surface, Surfaces, Zone, surfaces_of
from crm.care.terms import EndReason, Process, ProductClass
from crm.models import (
    Car,
    CarEvent,
    Contact,
    Ending,
    Layer,
    LeftForNextTime,
    Message,
    Pause,
    Person,
    Product,
    Role,
    Step,
    User,
    Visit,
    WinterInvitation,
    WinterLeftOut,
    WinterProposal,
    WinterRound,
)
from crm.services.bench import end_layer, record_step
from crm.services.hand_over import hand_over
from crm.services.people import pause_letters
from crm.services.visits import leave_for_next_time
from crm.services.winter_round import Opening, open_round, set_aside
from tests import factories
from tests.factories import NOW

FIRST_WEEK = date(2026, 5, 18)
"""A Monday that is near enough to be asked for, and not too near."""


@dataclass
class Winter:
    """A round with one car to ask, one that was asked by telephone, and one that the studio leaves out."""

    season: WinterRound
    proposal: WinterProposal
    invitation: WinterInvitation


@dataclass
class World:
    """Rows that addresses name."""

    car: Car
    keeper: Person
    contact: Contact
    role: Role
    layer: Layer
    ending: Ending
    event: CarEvent
    left: LeftForNextTime
    pause: Pause
    visit: Visit
    step: Step
    product: Product
    message: Message
    colleague: User
    handed_over: Visit
    """A visit of another car, with its aftercare sheet."""
    winter: Winter


def a_world() -> World:
    """One car that was coated a month ago, is in the bay now, and has a keeper with a pause."""
    month_ago = NOW - timedelta(days=30)
    keeper = factories.person("Ada Quill", email="ada@example.com", phone="07700 900123", letters=True)
    car = factories.car("QA26 DEM", keeper=keeper, chassis="1M8GDM9AXKP042788")
    product = factories.product(ProductClass.POLYMER_SEALANT, "Gannet paint sealant")
    layer = factories.layer(car, product, at=month_ago)
    wing = Surfaces.of([Surface.LEFT_REAR_WING])
    ending = end_layer(layer=layer, surfaces=wing, at=NOW, why=EndReason.FAILED, by=None, now=NOW)
    visit = factories.visit(car, at=NOW - timedelta(hours=2), out=NOW + timedelta(hours=4))
    tops = surfaces_of(Zone.TOPS)
    step = record_step(
        visit=visit,
        process=Process.CONTACT_WASH,
        surfaces=tops,
        at=NOW - timedelta(hours=1),
        by=None,
        now=NOW,
    )
    return World(
        car=car,
        keeper=keeper,
        contact=keeper.contacts.filter(kind=Contact.Kind.EMAIL).get(),
        role=car.roles.get(),
        layer=layer,
        ending=ending,
        event=factories.event(car, CarEvent.Kind.TUNNEL_WASH, on=month_ago.date()),
        left=leave_for_next_time(visit=visit, text="Etch on the bonnet", at=NOW, by=None),
        pause=pause_letters(person=keeper, why=Pause.Why.ASKED, since=NOW.date(), by=None),
        visit=visit,
        step=step,
        product=product,
        message=a_message(
            keeper,
            state=Message.State.SENT,
            sent_at=NOW,
            subject="Your car",
            text="Keep it dry.",
            html="<p>Keep it dry.</p>",
        ),
        colleague=factories.user("lead"),
        handed_over=_handed_over(),
        winter=a_winter(car),
    )


def a_winter(left_out: Car) -> Winter:
    """Three weeks from the middle of May, planned today: as a plan leaves the rows, without making one."""
    season = open_round(
        branch=factories.branch(), opening=Opening(first_monday=FIRST_WEEK, weeks=3), by=None, now=NOW
    )
    set_aside(season=season, car=left_out, because="sells it in autumn", by=None, now=NOW)
    season.refresh_from_db()
    for week in season.weeks.all():
        week.is_open, week.room_hours, week.room_nights = True, 22.1, 3.4
        week.save()
    WinterRound.objects.filter(pk=season.pk).update(
        planned_at=NOW, planned_for=NOW.date(), planned_changes=season.changes, value=3.2, bound=3.4
    )
    WinterLeftOut.objects.create(
        round=season, car=left_out, why="set_aside", words="left out by the studio: sells it in autumn"
    )
    season.refresh_from_db()
    return Winter(season, a_proposal(season), an_invitation(season))


def a_proposal(season: WinterRound, **columns: Any) -> WinterProposal:
    """A car that the plan would ask for the first week, whose keeper may be written to."""
    known: dict[str, Any] = {
        "round": season,
        "place": season.proposals.count(),
        "monday": FIRST_WEEK,
        "work": "winter_coat",
        "hours": 6.0,
        "nights": 0.5,
        "chance": 0.4,
        "worth": 20.0,
        "words": "driven on salted roads; its paint is bare; winter coat, six hours, in the week of 18 May",
        **columns,
    }
    if "car" not in known:
        known["car"] = factories.car(keeper=factories.person(letters=True))
    return WinterProposal.objects.create(**known)


def an_invitation(season: WinterRound, **columns: Any) -> WinterInvitation:
    """A car that was asked by telephone two days ago and has not answered."""
    car = columns.pop("car", None) or factories.car()
    known: dict[str, Any] = {
        "round": season,
        "car": car,
        "person": car.roles.get().person,
        "how": WinterInvitation.How.TELEPHONE,
        "monday": FIRST_WEEK,
        "work": "top_up",
        "hours": 3.5,
        "nights": 0.0,
        "chance": 0.4,
        "words": "its coating still works",
        "asked_at": NOW - timedelta(days=2),
        **columns,
    }
    return WinterInvitation.objects.create(**known)


def _handed_over() -> Visit:
    visit = factories.visit(at=NOW - timedelta(days=2))
    hand_over(visit=visit, by=None, at=NOW - timedelta(days=1), now=NOW - timedelta(days=1))
    return visit


def a_message(person: Person, **columns: Any) -> Message:
    """A note in the post."""
    known: dict[str, Any] = {
        "kind": Message.Kind.AFTERCARE,
        "person": person,
        "not_before": NOW,
        "next_try_at": NOW,
        "expires_at": NOW + timedelta(days=3),
        "created_at": NOW,
        "message_id": f"<{Message.objects.count()}.note@example.org>",
        **columns,
    }
    return Message.objects.create(**known)
