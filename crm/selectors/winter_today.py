"""What the winter rounds that are going ask of a person today."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count

from crm.care.winter_figures import WinterFigures
from crm.models import Branch, Studio, WinterInvitation, WinterProposal, WinterRound, WinterWeek
from crm.selectors.studio import local_day, tables_of
from crm.selectors.winter_asked import Asked, asked_of
from crm.selectors.winter_lines import oldest_of
from crm.selectors.winter_plan_state import going_rounds
from crm.selectors.winter_screen import Stage, stage_of

MOST_ROUNDS = 12
"""So many rounds are looked at where somebody looks at every branch."""
_UNANSWERED_FOR = timedelta(days=120)
"""Nothing asked longer ago still waits: the longest time to answer is two months, a letter is kept for days."""


@dataclass(frozen=True, slots=True)
class RoundToday:
    """A round that wants a person: cars that can be asked now, invitations that wait for an answer."""

    season: WinterRound
    cars: int
    weeks: tuple[date, ...]
    waiting: int
    oldest: date | None


def rounds_today(branch: Branch | None, *, studio: Studio, now: datetime) -> list[RoundToday]:
    """The rounds that are going, of one branch or of the first few; one query where there are none, else six."""
    rounds = going_rounds().select_related("branch")
    if branch is not None:
        rounds = rounds.filter(branch=branch)
    seasons = list(rounds[:MOST_ROUNDS])
    if not seasons:
        return []
    today, figures = local_day(studio, now), tables_of(studio).winter
    cars, weeks = _cars(seasons), _weeks(seasons)
    waiting = _waiting(seasons, now)
    found = []
    for season in seasons:
        asking = _asking(season, weeks[season.pk], cars, today, figures)
        waits = waiting[season.pk]
        if asking or waits:
            found.append(
                RoundToday(season, sum(asking.values()), tuple(asking), len(waits), oldest_of(waits))
            )
    return found


def _asking(
    season: WinterRound,
    weeks: Sequence[WinterWeek],
    cars: dict[tuple[int, date], int],
    today: date,
    figures: WinterFigures,
) -> dict[date, int]:
    """How many cars can be asked now, by week."""
    of = {week.monday: cars.get((season.pk, week.monday), 0) for week in weeks}
    return {
        week.monday: of[week.monday]
        for week in weeks
        if stage_of(season, week, cars=of[week.monday], today=today, figures=figures) is Stage.ASK
    }


def _cars(seasons: Sequence[WinterRound]) -> dict[tuple[int, date], int]:
    rows = WinterProposal.objects.filter(round__in=seasons).order_by().values_list("round", "monday")
    return {(season, monday): cars for season, monday, cars in rows.annotate(cars=Count("pk"))}


def _weeks(seasons: Sequence[WinterRound]) -> dict[int, list[WinterWeek]]:
    found: dict[int, list[WinterWeek]] = defaultdict(list)
    for week in WinterWeek.objects.filter(round__in=seasons):
        found[week.round_id].append(week)
    return found


def _waiting(seasons: Sequence[WinterRound], now: datetime) -> dict[int, list[Asked]]:
    rows = WinterInvitation.objects.filter(
        round__in=seasons, answer="", asked_at__gt=now - _UNANSWERED_FOR
    ).select_related("message", "visit")
    found: dict[int, list[Asked]] = defaultdict(list)
    for one in asked_of(list(rows), now=now):
        if one.waits:
            found[one.invitation.round_id].append(one)
    return found
