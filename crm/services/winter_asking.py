"""Asking cars into weeks of a winter round, by letter or in person, and writing down what their owners say."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction

from crm.care.winter_car import proposal_for
from crm.care.winter_figures import WORK_NAMES, Work
from crm.models import (
    Car,
    Matter,
    Message,
    Person,
    User,
    Visit,
    WinterInvitation,
    WinterProposal,
    WinterRound,
    WinterWeek,
)
from crm.post.invite import queue_invitations
from crm.post.states import move
from crm.selectors.held import keeper_of, keepers_on
from crm.selectors.reach import LEFT, letter_reach
from crm.selectors.studio import local_day, tables_of, the_studio
from crm.selectors.winter_asked import Stands, matter_key
from crm.selectors.winter_facts import asked_so_far, candidate
from crm.services import visits
from crm.services.errors import Refused
from crm.services.rights import Right, require
from crm.services.storing import store
from crm.services.winter_round import follow, forget_plan_of, hold_round, require_going

Answer, How = WinterInvitation.Answer, WinterInvitation.How

NOT_TODAYS = "The plan is of another day and is being made again. Look again in a moment."
OVER_BY_NOW = (
    "That week is too near to ask anybody by letter. Ring those you want, and write down that you asked."
)


@dataclass(frozen=True, slots=True)
class Called:
    """What asking came to."""

    cars: int
    letters: int


@transaction.atomic
def ask_week(*, season: WinterRound, monday: date, by: User | None, now: datetime) -> Called:
    """Ask every car that the plan has for a week, one letter an owner.

    Cars of the same owners that the plan has for other weeks are asked in the same letter: nobody gets two. Raises
    Refused where the plan is not of this day, the week is too near or full, or nobody is left to ask.
    """
    require(by, Right.POST)
    hold_round(season)
    require_going(season)
    studio = the_studio()
    today = local_day(studio, now)
    if season.planned_for != today:
        raise Refused(NOT_TODAYS)
    _require_week(season, monday)
    if monday < today + timedelta(days=tables_of(studio).winter.notice_days):
        raise Refused(OVER_BY_NOW)
    by_owner = _by_owner(list(season.proposals.select_related("car")), monday, today)
    people = Person.objects.in_bulk(list(by_owner))
    reach = letter_reach(people.values(), now=now, studio=studio)
    cars = letters = 0
    for person_id, proposals in by_owner.items():
        if not reach[person_id].open:
            continue
        rows = [_invite(season, one, people[person_id], by=by, now=now) for one in proposals]
        queue_invitations(person=people[person_id], invitations=rows, now=now)
        cars, letters = cars + len(rows), letters + 1
    if not cars:
        raise Refused("Nobody is left to be asked by letter for that week.")
    follow(season)
    return Called(cars, letters)


def _by_owner(
    proposals: Sequence[WinterProposal], monday: date, today: date
) -> dict[int, list[WinterProposal]]:
    """The owners who have a car for that week, each with all their cars in the order of the plan."""
    keepers = dict(
        keepers_on(today).filter(car__in=[one.car_id for one in proposals]).values_list("car", "person")
    )
    of: dict[int, list[WinterProposal]] = defaultdict(list)
    for one in proposals:
        if one.car_id in keepers:
            of[keepers[one.car_id]].append(one)
    return {person: mine for person, mine in of.items() if any(one.monday == monday for one in mine)}


def _invite(
    season: WinterRound, proposal: WinterProposal, person: Person, *, by: User | None, now: datetime
) -> WinterInvitation:
    row = WinterInvitation(
        round=season,
        car=proposal.car,
        person=person,
        how=How.LETTER,
        monday=proposal.monday,
        work=proposal.work,
        hours=proposal.hours,
        nights=proposal.nights,
        chance=proposal.chance,
        promised=proposal.promised,
        words=proposal.words,
        asked_at=now,
        asked_by=by,
    )
    store(row)
    proposal.delete()
    return row


@transaction.atomic
def ask_in_person(
    *, season: WinterRound, car: Car, monday: date, how: WinterInvitation.How, by: User | None, now: datetime
) -> WinterInvitation:
    """Write down that somebody asked the owner, by telephone or at the desk; the plan keeps room for the car.

    It is for the work that the plan has for the car, or would have. Raises Refused where nobody keeps the car, it
    was asked and the answer is open or yes, or the week is over.
    """
    require(by, Right.POST)
    hold_round(season)
    require_going(season)
    _require_week(season, monday)
    studio = the_studio()
    if monday + timedelta(weeks=1) <= local_day(studio, now):
        raise Refused("That week is over.", field="monday")
    person = keeper_of(car, local_day(studio, now))
    if person is None:
        raise Refused("Nobody is written down as keeper of this car. Write down who it is first.")
    mine = [one for one in asked_so_far(season, now=now) if one.invitation.car_id == car.pk]
    if any(one.waits or one.stands is Stands.COMING for one in mine):
        raise Refused("This car has been asked already. Write down the answer there.")
    tables = tables_of(studio)
    figures = tables.winter
    known = candidate(season, car, studio=studio, now=now)
    proposed = season.proposals.filter(car=car).first()
    package = (
        figures.packages[Work(proposed.work)] if proposed else proposal_for(known, tables, figures).package
    )
    row = WinterInvitation(
        round=season,
        car=car,
        person=person,
        how=how,
        monday=monday,
        work=package.work,
        hours=package.hours,
        nights=package.nights,
        chance=figures.chance(known.last_seen, local_day(studio, now)),
        words=proposed.words if proposed and proposed.monday == monday else "",
        asked_at=now,
        asked_by=by,
    )
    store(row)
    forget_plan_of(season, car)
    follow(season)
    return row


@transaction.atomic
def hear_winter_answer(
    *,
    invitation: WinterInvitation,
    answer: WinterInvitation.Answer,
    comes_at: datetime | None = None,
    note: str = "",
    by: User | None,
    now: datetime,
) -> None:
    """Write down what the owner said. Yes books the visit; another answer, or another time, after it calls it off.

    What stood in the book for something else is left there. Raises Refused where a yes has no day, its day is over,
    the car has come already, or the invitation was taken back.
    """
    require(by, Right.POST)
    _hold(invitation)
    if invitation.visit is not None and invitation.visit.state not in (
        Visit.State.BOOKED,
        Visit.State.CANCELLED,
    ):
        raise Refused("The car has been here for it. The answer stands.")
    _call_off(invitation.visit, unless_at=comes_at if answer == Answer.YES else None, by=by)
    invitation.visit = None
    if answer == Answer.YES:
        invitation.visit = _booked(invitation, comes_at, by=by, now=now)
    invitation.answer, invitation.answered_at, invitation.answer_by = answer, now, by
    invitation.note = note.strip()
    store(invitation)
    # The round's row comes before the plan's, as where a plan is stored: else the two could wait for each other.
    follow(invitation.round)
    forget_plan_of(invitation.round, invitation.car)


def _call_off(visit: Visit | None, *, unless_at: datetime | None, by: User | None) -> None:
    """Call off what a yes has booked, unless it is for that moment."""
    ours = visit is not None and visit.purpose == Visit.Purpose.WINTER and visit.state == Visit.State.BOOKED
    if visit is not None and ours and visit.planned_in != unless_at:
        visits.cancel(visit=visit, by=by)


def _booked(
    invitation: WinterInvitation, comes_at: datetime | None, *, by: User | None, now: datetime
) -> Visit:
    """The visit of a yes: the one that is in the book for that day already, or a new one."""
    if comes_at is None:
        raise Refused("Say on which day it comes.", field="comes_at")
    studio = the_studio()
    day = local_day(studio, comes_at)
    if day < local_day(studio, now):
        raise Refused("That day is over.", field="comes_at")
    known = Visit.objects.filter(
        car=invitation.car_id, state=Visit.State.BOOKED, branch=invitation.round.branch_id
    )
    there = [visit for visit in known if local_day(studio, visit.planned_in) == day]
    if there:
        return min(there, key=lambda visit: abs(visit.planned_in - comes_at))
    visit = visits.book(
        car=invitation.car,
        branch=invitation.round.branch,
        purpose=Visit.Purpose.WINTER,
        at=comes_at,
        by=by,
    )
    agreed = visits.Agreed(
        scope=WORK_NAMES[Work(invitation.work)], hours=Decimal(str(invitation.hours)).quantize(Decimal("0.1"))
    )
    return visits.agree(visit=visit, agreed=agreed, by=by)


@transaction.atomic
def take_back_invitation(*, invitation: WinterInvitation, by: User | None, now: datetime) -> None:
    """It was asked by mistake. Raises Refused where its letter has left, or an answer came."""
    require(by, Right.POST)
    _hold(invitation)
    if invitation.answer:
        raise Refused("An answer came to it. Change that instead.")
    # The round's row comes before the letter's, as where a week is asked: else the two could wait for each other.
    follow(invitation.round)
    if invitation.message is not None:
        _leave_out(invitation, invitation.message)
    invitation.taken_back_at, invitation.taken_back_by = now, by
    store(invitation)


def _leave_out(invitation: WinterInvitation, letter: Message) -> None:
    """Take an invitation out of its letter, and the letter with it where it says nothing else."""
    letter.refresh_from_db(from_queryset=Message.objects.select_for_update())
    if letter.state in LEFT:
        raise Refused("Its letter has left. Write down what the owner answers.")
    because = "the invitation was taken back"
    Matter.objects.filter(key=matter_key(invitation), dropped_because="").update(dropped_because=because)
    waits = letter.state in (Message.State.WAITING, Message.State.HELD)
    if waits and not letter.matters.filter(dropped_because="").exists():
        move(letter, Message.State.CANCELLED, because=because)


def _hold(invitation: WinterInvitation) -> None:
    try:
        invitation.refresh_from_db(from_queryset=WinterInvitation.objects.select_for_update())
    except WinterInvitation.DoesNotExist:
        raise Refused("This invitation has been taken back.") from None


def _require_week(season: WinterRound, monday: date) -> None:
    if not WinterWeek.objects.filter(round=season, monday=monday).exists():
        raise Refused(f"The week of {monday:%-d %B} is not in this round.", field="monday")
