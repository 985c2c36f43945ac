"""A branch's winter round: opened, given hours and nights, changed, closed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.db.models import F, QuerySet

from crm.care.months import monday_of
from crm.care.winter_plan import round_mondays
from crm.models import (
    Branch,
    Car,
    Studio,
    User,
    WinterLeftOut,
    WinterProposal,
    WinterRound,
    WinterSetAside,
    WinterWeek,
)
from crm.selectors.studio import local_day, seasons_of, tables_of, the_studio
from crm.selectors.winter_plan_state import going_rounds
from crm.services.errors import Refused
from crm.services.rights import Right, require
from crm.services.storing import store

USUAL_HOURS, USUAL_NIGHTS = Decimal(26), Decimal(4)
"""Of one person with one bay: hands-on hours of a week of forty, and the nights of a working week (common practice,
no source)."""
MOST_WEEKS = 30
LATE_WEEKS = 6
"""Weeks that are suggested where the usual ones are over: what is still of use before and in the salt (own choice)."""
OVER = "This winter round is closed. Open it again to go on with it."


@dataclass(frozen=True, kw_only=True)
class Opening:
    """When a round begins, how many weeks it has, and what each of them can give."""

    first_monday: date
    weeks: int
    hours: Decimal = USUAL_HOURS
    nights: Decimal = USUAL_NIGHTS

    @property
    def mondays(self) -> tuple[date, ...]:
        """The Mondays of its weeks."""
        return tuple(self.first_monday + timedelta(weeks=place) for place in range(self.weeks))


def suggested_opening(studio: Studio, today: date) -> Opening:
    """The usual weeks that are not over; where all of them are, the next few of the winter, or the next winter's."""
    salt, figures = seasons_of(studio).salt, tables_of(studio).winter
    first = monday_of(today) + timedelta(weeks=1)
    for day in (today, first):
        ahead = [monday for monday in round_mondays(salt, day, figures) if monday >= monday_of(today)]
        if ahead:
            return Opening(first_monday=ahead[0], weeks=len(ahead))
    _, last = salt.current_or_next(first)
    return Opening(first_monday=first, weeks=max(1, min(LATE_WEEKS, (last - first).days // 7)))


@transaction.atomic
def open_round(*, branch: Branch, opening: Opening, by: User | None, now: datetime) -> WinterRound:
    """Open the round of the season that the first week leads to. Its plan is made by the task that looks for it.

    Raises Refused where that season has its round, another one is going, or the weeks make no sense.
    """
    require(by, Right.POST)
    first, last = _salted(opening)
    if going_rounds().filter(branch=branch).exists():
        raise Refused(f"A winter round is going at {branch} already. Close it first.")
    if WinterRound.objects.filter(branch=branch, salt_from=first).exists():
        raise Refused("This winter has its round already. Open that one again.", field="first_monday")
    season = WinterRound(branch=branch, salt_from=first, salt_until=last, opened_at=now, opened_by=by)
    store(season)
    for monday in opening.mondays:
        store(WinterWeek(round=season, monday=monday, hours=opening.hours, nights=opening.nights))
    return season


def _salted(opening: Opening) -> tuple[date, date]:
    if opening.first_monday.weekday() != 0:
        raise Refused("The first week begins on a Monday.", field="first_monday")
    if not 1 <= opening.weeks <= MOST_WEEKS:
        raise Refused(f"A round has from 1 to {MOST_WEEKS} weeks.", field="weeks")
    first, last = seasons_of(the_studio()).salt.current_or_next(opening.first_monday)
    if opening.mondays[-1] > last:
        raise Refused("The last of these weeks lies after the salted months.", field="weeks")
    return first, last


@transaction.atomic
def give_weeks(
    *, season: WinterRound, weeks: Mapping[date, tuple[Decimal, Decimal]], by: User | None
) -> None:
    """Hands-on hours and bay nights of weeks, by Monday. Nobody is asked into one that has less until it is planned."""
    _may_change(season, by)
    rows = {row.monday: row for row in season.weeks.all()}
    for monday, (hours, nights) in weeks.items():
        row = rows.get(monday)
        if row is None:
            raise Refused(f"The week of {monday:%-d %B} is not in this round.")
        if (row.hours, row.nights) != (hours, nights):
            if hours < row.hours or nights < row.nights:
                season.proposals.filter(monday=monday).delete()
            row.hours, row.nights = hours, nights
            store(row)
    follow(season)


@transaction.atomic
def set_aside(*, season: WinterRound, car: Car, because: str, by: User | None, now: datetime) -> None:
    """Leave a car out of the round, whatever it would be worth; doing it again changes the reason."""
    _may_change(season, by)
    if not because.strip():
        raise Refused("Say why, so that the next one who looks knows.", field="because")
    row = WinterSetAside.objects.filter(round=season, car=car).first()
    row = row or WinterSetAside(round=season, car=car)
    row.because, row.at, row.by = because.strip(), now, by
    store(row)
    forget_plan_of(season, car)
    follow(season)


@transaction.atomic
def take_up_again(*, season: WinterRound, car: Car, by: User | None) -> None:
    """Let the plan decide about a car that was left out."""
    _may_change(season, by)
    for row in WinterSetAside.objects.filter(round=season, car=car):
        row.delete()
    follow(season)


@transaction.atomic
def plan_again(*, season: WinterRound, by: User | None) -> None:
    """Have the plan made anew, from the record as it stands."""
    _may_change(season, by)
    follow(season)


@transaction.atomic
def close_round(*, season: WinterRound, by: User | None, now: datetime) -> None:
    """Nobody is asked any more. Letters that wait are dropped when they would leave; bookings stand."""
    _may_change(season, by)
    season.closed_at = now
    store(season)


@transaction.atomic
def reopen_round(*, season: WinterRound, by: User | None) -> None:
    """Go on with a round that was closed."""
    require(by, Right.POST)
    hold_round(season)
    if going_rounds().filter(branch=season.branch_id).exclude(pk=season.pk).exists():
        raise Refused(f"Another winter round is going at {season.branch}. Close it first.")
    season.closed_at = None
    store(season)
    follow(season)


@transaction.atomic
def close_what_is_over(*, now: datetime) -> int:
    """Close rounds whose salted months are past, so that the next can be opened. Returns how many."""
    studio = Studio.objects.first()
    if studio is None:
        return 0
    over = list(going_rounds().filter(salt_until__lt=local_day(studio, now)).select_for_update())
    for season in over:
        season.closed_at = now
        store(season)
    return len(over)


def hold_round(season: WinterRound) -> None:
    """Read the round again as it stands now, held against changes at the same moment until the transaction ends."""
    season.refresh_from_db(from_queryset=WinterRound.objects.select_for_update())


def follow(season: WinterRound) -> None:
    """Something has changed that the plan has to follow."""
    _one_more_change(WinterRound.objects.filter(pk=season.pk))


def follow_in_book(branch_id: int) -> None:
    """The book of a branch has changed; where a round is going there, its plan follows."""
    _one_more_change(going_rounds().filter(branch=branch_id))


def follow_everywhere() -> None:
    """What every plan reckons with has changed: the plans of all rounds that are going follow."""
    _one_more_change(going_rounds())


def _one_more_change(rounds: QuerySet[WinterRound]) -> None:
    rounds.update(changes=F("changes") + 1)


def forget_plan_of(season: WinterRound, car: Car) -> None:
    """What the newest plan says of a car no longer holds; the next one says something else."""
    WinterProposal.objects.filter(round=season, car=car).delete()
    WinterLeftOut.objects.filter(round=season, car=car).delete()


def require_going(season: WinterRound) -> None:
    """Raise Refused where the round is closed."""
    if not season.is_going:
        raise Refused(OVER)


def _may_change(season: WinterRound, by: User | None) -> None:
    require(by, Right.POST)
    hold_round(season)
    require_going(season)
