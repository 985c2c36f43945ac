"""One week of a winter round: whom the plan would ask, who is asked and waits, who comes."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from crm.care.winter_figures import WORK_NAMES, Work
from crm.care.winter_words import nights_words
from crm.models import Studio, WinterInvitation, WinterProposal, WinterRound, WinterWeek
from crm.selectors.studio import local_day, tables_of
from crm.selectors.winter_asked import Asked, Stands, asked_of
from crm.selectors.winter_lines import AskedLine, ShownCar, asked_lines, chance_words, shown_cars
from crm.selectors.winter_plan_state import plan_is_current
from crm.selectors.winter_screen import Stage, WeekLine, week_lines


@dataclass(frozen=True, slots=True)
class Proposed:
    """A car that the plan would ask."""

    row: WinterProposal
    car: ShownCar

    @property
    def work(self) -> str:
        return WORK_NAMES[Work(self.row.work)]

    @property
    def nights(self) -> str:
        """Nights in the bay in words; empty where it takes none."""
        return nights_words(self.row.nights)

    @property
    def chance(self) -> str:
        return chance_words(self.row.chance)


@dataclass(frozen=True, slots=True)
class WeekPage:
    """A week of a round."""

    season: WinterRound
    line: WeekLine
    current: bool
    of_today: bool
    proposed: tuple[Proposed, ...]
    """For this week, the first to be asked first."""
    with_them: tuple[Proposed, ...]
    """Cars of the same owners that the plan has for other weeks: they are asked in the same letter."""
    waiting: tuple[AskedLine, ...]
    coming: tuple[AskedLine, ...]
    over: tuple[AskedLine, ...]
    """Answered otherwise, lapsed, or never left."""

    @property
    def monday(self) -> date:
        return self.line.monday

    @property
    def asking(self) -> tuple[Proposed, ...]:
        """Every car that is asked when this week is."""
        by_letter = (one for one in self.proposed if one.car.keeper is not None)
        return (*by_letter, *self.with_them)

    @property
    def letters(self) -> int:
        """How many letters that makes."""
        return len({one.car.keeper for one in self.asking})

    @property
    def can_be_asked(self) -> bool:
        """Whether asking would go through as things stand."""
        near = self.line.stage in (Stage.OVER, Stage.NEAR)
        return self.season.is_going and self.of_today and bool(self.asking) and not near

    @property
    def key(self) -> str:
        """What is being looked at, so that nobody asks other cars than those they saw."""
        seen = sorted(f"{one.row.car_id}:{one.row.monday:%Y%m%d}:{one.row.work}" for one in self.asking)
        return hashlib.sha256(" ".join(seen).encode()).hexdigest()[:24]


def week_page(season: WinterRound, week: WinterWeek, *, studio: Studio, now: datetime) -> WeekPage:
    """The page of a week, in eight queries at most however many cars are on it."""
    today, figures = local_day(studio, now), tables_of(studio).winter
    proposals = list(season.proposals.select_related("car"))
    shown = shown_cars((one.car for one in proposals), today)
    proposed = [Proposed(one, shown[one.car_id]) for one in proposals]
    mine = [one for one in proposed if one.row.monday == week.monday]
    owners = {one.car.keeper for one in mine if one.car.keeper is not None}
    asked = _asked(season, week, now)
    line = week_lines(
        season,
        [week],
        cars=Counter(one.monday for one in proposals),
        asked=asked,
        today=today,
        figures=figures,
    )[0]
    lines = asked_lines(asked, today=today, zone=studio.zone)
    return WeekPage(
        season=season,
        line=line,
        current=plan_is_current(season, today),
        of_today=season.planned_for == today,
        proposed=tuple(mine),
        with_them=tuple(
            one for one in proposed if one.row.monday != week.monday and one.car.keeper in owners
        ),
        waiting=_standing(lines, (Stands.OPEN, Stands.TO_LEAVE)),
        coming=_standing(lines, (Stands.COMING, Stands.CAME)),
        over=_standing(
            lines,
            (Stands.NEVER_LEFT, Stands.CALLED_OFF, Stands.LATER, Stands.LAPSED, Stands.NO_THANKS),
        ),
    )


def _asked(season: WinterRound, week: WinterWeek, now: datetime) -> list[Asked]:
    rows = WinterInvitation.objects.filter(round=season, monday=week.monday)
    return asked_of(list(rows.select_related("car", "message", "visit").order_by("asked_at", "pk")), now=now)


def _standing(lines: Iterable[AskedLine], how: Sequence[Stands]) -> tuple[AskedLine, ...]:
    found = [line for line in lines if line.asked.stands in how]
    return tuple(sorted(found, key=lambda line: how.index(line.asked.stands)))
