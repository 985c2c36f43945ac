"""The winter round of these days: opened in late summer, one wave of letters not two weeks old, and its answers."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal

from crm.care.months import monday_of
from crm.care.winter_plan import round_mondays
from crm.models import Car, WinterInvitation, WinterRound
from crm.selectors.studio import seasons_of, tables_of
from crm.selectors.winter_plan_state import going_rounds
from crm.services.demo.diary import Diary
from crm.services.demo.story import Scene
from crm.services.errors import Refused
from crm.services.forecasts import reforecast_cars
from crm.services.winter_asking import ask_week, hear_winter_answer
from crm.services.winter_planning import plan_round
from crm.services.winter_round import MOST_WEEKS, Opening, open_round

Answer = WinterInvitation.Answer

HOURS, NIGHTS = Decimal(51), Decimal(8)
"""Of two people and two bays (common practice, no source)."""
TOO_EARLY = timedelta(days=45)
"""So long before its first week nobody has opened a round."""
OPENED, ASKED = timedelta(days=16), timedelta(days=13)
"""So many days ago at the latest."""
GOES_ON = timedelta(weeks=6)
"""There are weeks to ask for, whatever day the demo is started on."""
WAVE = 2
"""Weeks that were asked for at once."""
SAID = (Answer.YES, None, Answer.LATER, Answer.YES, None, Answer.NO_THANKS, None)
"""What owners answered, in the order in which they were asked; None has not answered."""


def write_round(scene: Scene, diary: Diary) -> None:
    """Put the round into the diary, where the day it is told on lies in or before a winter."""
    opening, opened_on = _opening(scene)
    days = scene.days
    if opening.first_monday - days.today > TOO_EARLY:
        return
    begun: list[WinterRound] = []

    def opens(at: datetime) -> None:
        begun.append(open_round(branch=scene.crew.branch, opening=opening, by=scene.crew.manager, now=at))

    def asks(at: datetime) -> None:
        reforecast_cars(list(Car.objects.order_by("pk")), studio=scene.crew.studio, now=at)
        _ask(begun[0], scene, at)

    def answers(at: datetime) -> None:
        _answer(begun[0], scene, at)

    diary.write(days.at(opened_on, 18, 20), opens)
    diary.write(days.at(_working_day(days.today - ASKED), 9, 35), asks)
    diary.write(days.at(_working_day(days.today - timedelta(days=6)), 17, 15), answers)


def plan_for_today(scene: Scene) -> None:
    """The plan as the studio finds it when the demo starts."""
    for season in going_rounds():
        plan_round(season=season, now=scene.days.now)


def _opening(scene: Scene) -> tuple[Opening, date]:
    """The weeks of the round, and the day it was opened on."""
    studio, today = scene.crew.studio, scene.days.today
    salt = seasons_of(studio).salt
    usual = round_mondays(salt, today, tables_of(studio).winter)
    _, salted_until = salt.current_or_next(today)
    last = min(max(usual[-1], monday_of(today) + GOES_ON), monday_of(salted_until))
    first = max(usual[0], last - timedelta(weeks=MOST_WEEKS - 1))
    weeks = (last - first).days // 7 + 1
    opening = Opening(first_monday=first, weeks=weeks, hours=HOURS, nights=NIGHTS)
    return opening, min(first - timedelta(days=7), today - OPENED)


def _ask(season: WinterRound, scene: Scene, at: datetime) -> None:
    """The nearest weeks that the plan has cars for."""
    plan_round(season=season, now=at)
    season.refresh_from_db()
    mondays = sorted(set(season.proposals.values_list("monday", flat=True)))
    ahead = scene.days.today - ASKED + timedelta(days=tables_of(scene.crew.studio).winter.ask_ahead_days)
    for monday in [each for each in mondays if each <= ahead][:WAVE]:
        try:
            ask_week(season=season, monday=monday, by=scene.crew.desk, now=at)
        except Refused:
            # Its cars were asked together with others of their owners.
            continue


def _answer(season: WinterRound, scene: Scene, at: datetime) -> None:
    for place, row in enumerate(season.invitations.order_by("pk")):
        said = SAID[place % len(SAID)]
        if said is None:
            continue
        comes_at = None
        if said == Answer.YES:
            day = max(row.monday, scene.days.today + timedelta(days=6)) + timedelta(days=place % 5)
            comes_at = scene.days.at(_working_day(day, forward=True), 8, 40)
        hear_winter_answer(invitation=row, answer=said, comes_at=comes_at, by=scene.crew.desk, now=at)


def _working_day(day: date, *, forward: bool = False) -> date:
    """That day, or the working day nearest to it on one side."""
    step = timedelta(days=1 if forward else -1)
    while day.weekday() > 4:
        day += step
    return day
