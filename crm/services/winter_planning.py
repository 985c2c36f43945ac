"""Planning winter rounds: the search runs outside of any transaction, then the plan replaces the one before it."""

from __future__ import annotations

import time
from collections.abc import Collection
from datetime import datetime, timedelta

import structlog
from django.db import transaction
from django.db.models import Q

from crm.care.winter_plan import planned
from crm.care.winter_round import Plan
from crm.models import Studio, WinterLeftOut, WinterProposal, WinterRound, WinterWeek
from crm.models.winter import OF_THE_PLAN
from crm.selectors.stale import stale_count
from crm.selectors.studio import local_day, the_studio
from crm.selectors.winter_facts import facts_of
from crm.selectors.winter_plan_state import rounds_to_plan

GAP, SECONDS = 5e-3, 20.0
"""The plan is within half a per cent of the best, or the best that was found in this time."""
GIVEN_UP_AFTER = timedelta(minutes=10)
"""A planning that was begun so long ago without an end is begun again."""
A_TURN_FOR = timedelta(seconds=40)
"""One turn of the task begins no round after this."""

log = structlog.get_logger(__name__)


def plan_what_waits(*, now: datetime, stops: tuple[type[BaseException], ...] = ()) -> int:
    """Plan the rounds whose plan no longer holds. Returns how many were planned.

    While cars wait for their forecasts nothing is planned: the worth of a visit rests on them. A round that cannot
    be planned is logged and does not keep the others waiting. `stops` is what breaks the whole turn off, such as a
    worker's time limit.
    """
    studio = Studio.objects.first()
    waiting = list(rounds_to_plan(local_day(studio, now))) if studio else []
    if not waiting or stale_count():
        return 0
    begun, made = time.monotonic(), 0
    for season in waiting:
        made += _plan_or_log(season, now, stops)
        if time.monotonic() - begun > A_TURN_FOR.total_seconds():
            break
    return made


def _plan_or_log(season: WinterRound, now: datetime, stops: tuple[type[BaseException], ...]) -> bool:
    try:
        made = plan_round(season=season, now=now)
    except stops:
        raise
    except Exception:
        log.exception("winter_not_planned", round=season.pk)
        return False
    if made:
        log.info("winter_planned", round=season.pk, value=season.value, bound=season.bound, how=season.how)
    return made


def plan_round(*, season: WinterRound, now: datetime) -> bool:
    """Make the plan of a round anew. False where somebody else is at it.

    A change that is made meanwhile leaves the new plan one behind, and it is made again.
    """
    mine = WinterRound.objects.filter(
        Q(planning_since__isnull=True) | Q(planning_since__lte=now - GIVEN_UP_AFTER), pk=season.pk
    )
    if mine.update(planning_since=now) != 1:
        return False
    try:
        season.refresh_from_db()
        studio, known = the_studio(), set(_asked(season))
        facts = facts_of(season, studio=studio, now=now)
        plan = planned(facts.round, facts.cars, facts.invitations, gap=GAP, seconds=SECONDS)
        _store(season, plan, known, now=now)
        season.refresh_from_db()
    finally:
        WinterRound.objects.filter(pk=season.pk).update(planning_since=None)
    return True


@transaction.atomic
def _store(season: WinterRound, plan: Plan, known: Collection[int], *, now: datetime) -> None:
    """Put a plan in place of the one before. Who was asked or left out since it was begun is not proposed again.

    `known`: the invitations that there were when it was begun.
    """
    rows = WinterRound.objects.select_for_update().filter(pk=season.pk)
    rows.get()
    asked = {car for row, car in _asked(season).items() if row not in known}
    aside = set(season.set_aside.values_list("car", flat=True))
    season.proposals.all().delete()
    season.left_out.all().delete()
    WinterProposal.objects.bulk_create(
        WinterProposal(
            round=season,
            car_id=call.key,
            place=place,
            monday=call.monday,
            work=call.work,
            hours=call.hours,
            nights=call.nights,
            chance=call.chance,
            worth=call.worth,
            promised=call.promised,
            words=call.words,
        )
        for place, call in enumerate(plan.calls)
        if call.key not in asked | aside
    )
    WinterLeftOut.objects.bulk_create(
        WinterLeftOut(round=season, car_id=left.key, why=left.why, words=left.words)
        for left in plan.left
        if left.key not in asked
    )
    _store_weeks(season, plan)
    rows.update(
        planned_changes=season.changes,
        planned_for=local_day(the_studio(), now),
        planned_at=now,
        value=plan.value,
        bound=plan.bound,
        how=plan.how,
    )


def _asked(season: WinterRound) -> dict[int, int]:
    """The invitations of a round with their cars, by row."""
    return dict(season.invitations.values_list("pk", "car"))


def _store_weeks(season: WinterRound, plan: Plan) -> None:
    rows = {row.monday: row for row in season.weeks.all()}
    for use in plan.weeks:
        row = rows[use.monday]
        row.spoken_hours, row.spoken_nights = use.spoken_hours, use.spoken_nights
        row.room_hours, row.room_nights = use.room_hours, use.room_nights
        row.asked_hours, row.asked_nights = use.asked_hours, use.asked_nights
        row.is_open = use.open
    WinterWeek.objects.bulk_update(rows.values(), OF_THE_PLAN)
