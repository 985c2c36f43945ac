"""A winter round as the engine plans it: its weeks with what is booked, its cars, and who was asked."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import F

from crm.care.course import Setting
from crm.care.months import monday_of
from crm.care.winter_calls import Invitation
from crm.care.winter_car import Candidate
from crm.care.winter_curves import Span
from crm.care.winter_figures import WinterFigures
from crm.care.winter_round import Round, Week
from crm.models import Car, Studio, Visit, WinterInvitation, WinterRound, WinterWeek
from crm.selectors.studio import local_day, seasons_of, tables_of
from crm.selectors.winter_asked import Asked, as_the_plan_sees, asked_of
from crm.selectors.winter_cars import candidates, cars_of_branch

_COUNTS = (Visit.State.BOOKED, Visit.State.IN_BAY, Visit.State.READY, Visit.State.HANDED_OVER)


@dataclass(frozen=True, slots=True)
class Facts:
    """What `planned` takes."""

    round: Round
    cars: tuple[Candidate, ...]
    invitations: tuple[Invitation, ...]


def facts_of(season: WinterRound, *, studio: Studio, now: datetime) -> Facts:
    """Everything the plan of a round rests on, with so many queries however many cars the branch has."""
    asked = asked_so_far(season, now=now)
    return Facts(
        engine_round(season, studio=studio, now=now),
        tuple(
            candidates(
                season,
                list(cars_of_branch(season.branch)),
                studio=studio,
                now=now,
                waiting=still_open(asked),
            )
        ),
        tuple(as_the_plan_sees(asked, studio.zone)),
    )


def candidate(season: WinterRound, car: Car, *, studio: Studio, now: datetime) -> Candidate:
    """One car as the plan of a round sees it."""
    return candidates(season, [car], studio=studio, now=now)[0]


def asked_so_far(season: WinterRound, *, now: datetime) -> list[Asked]:
    """Every invitation of a round and how it stands."""
    rows = WinterInvitation.objects.filter(round=season).select_related("message", "visit")
    return asked_of(list(rows), now=now)


def still_open(asked: Iterable[Asked]) -> dict[int, int | None]:
    """The cars whose invitations wait for an answer, each with its letter; None where somebody asked in person."""
    return {one.invitation.car_id: one.invitation.message_id for one in asked if one.waits}


def engine_round(season: WinterRound, *, studio: Studio, now: datetime) -> Round:
    """The day, the weeks and the figures."""
    tables = tables_of(studio)
    rows = list(season.weeks.all())
    booked = _booked(season, rows, studio, tables.winter)
    return Round(
        on=local_day(studio, now),
        weeks=tuple(
            Week(row.monday, float(row.hours), float(row.nights), *booked.get(row.monday, (0.0, 0.0)))
            for row in rows
        ),
        span=Span.of(season.salt_from, season.salt_until),
        setting=Setting(seasons_of(studio), tables),
        figures=tables.winter,
    )


def _booked(
    season: WinterRound, weeks: Sequence[WinterWeek], studio: Studio, figures: WinterFigures
) -> dict[date, tuple[float, float]]:
    """Hours and nights that the book holds already, by Monday, also those that came of invitations.

    Where nobody wrote down how long a visit takes, it takes what its invitation was for, or else the usual.
    """
    if not weeks:
        return {}
    begin = datetime.combine(weeks[0].monday, time.min, studio.zone)
    end = datetime.combine(weeks[-1].monday + timedelta(days=7), time.min, studio.zone)
    visits = Visit.objects.filter(
        branch=season.branch_id, state__in=_COUNTS, planned_in__gte=begin, planned_in__lt=end
    ).annotate(asked_hours=F("winter_invitation__hours"), asked_nights=F("winter_invitation__nights"))
    hours: dict[date, float] = defaultdict(float)
    nights: dict[date, float] = defaultdict(float)
    for visit in visits.only("purpose", "hours", "planned_in", "planned_out"):
        comes = local_day(studio, visit.planned_in)
        monday = monday_of(comes)
        usual = visit.asked_hours or figures.booked_hours.get(visit.purpose, 0.0)
        hours[monday] += usual if visit.hours is None else float(visit.hours)
        if visit.planned_out is None:
            nights[monday] += visit.asked_nights or 0.0
        else:
            nights[monday] += (local_day(studio, visit.planned_out) - comes).days
    return {monday: (hours[monday], nights[monday]) for monday in hours}
