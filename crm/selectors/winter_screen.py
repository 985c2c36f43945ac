"""The page of a winter round: its weeks, what may be asked now, and how far it has come."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from crm.care.winter_bars import Piece, Use, pieces, use_of
from crm.care.winter_figures import WinterFigures
from crm.models import Studio, WinterRound, WinterWeek
from crm.selectors.studio import local_day, tables_of
from crm.selectors.winter_asked import Asked, Stands
from crm.selectors.winter_facts import asked_so_far
from crm.selectors.winter_lines import oldest_of
from crm.selectors.winter_plan_state import plan_is_current

TALL, WIDE = 96.0, 300.0
"""How long the drawn bars are: standing on a desk, lying on a phone. User units of their view boxes."""
_MOST_BEYOND = 1.2
"""A bar shows so many times the hours of the largest week; what is beyond is cut off, and the words say it."""


class Stage(StrEnum):
    """How a week stands to asking."""

    OVER = "over"
    NEAR = "near"
    UNPLANNED = "unplanned"
    FULL = "full"
    ASK = "ask"
    """Cars can be asked for it now."""
    AHEAD = "ahead"
    """Cars will be asked for it, and it is early."""
    ROOM = "room"
    """There is room, and nobody is left who should be asked for it."""


@dataclass(frozen=True, slots=True)
class Scale:
    """What fills a whole bar, the same for every week of a page."""

    hours: float
    nights: float


@dataclass(frozen=True, slots=True)
class WeekLine:
    """A week of the round."""

    row: WinterWeek
    stage: Stage
    ask_from: date
    cars: int
    """How many cars the plan would ask for it."""
    hours: Use
    nights: Use
    scale: Scale

    @property
    def monday(self) -> date:
        return self.row.monday

    @property
    def address(self) -> str:
        """The Monday as addresses have it."""
        return self.row.monday.isoformat()

    @property
    def early(self) -> bool:
        """Whether one would rather wait with asking."""
        return self.stage is Stage.AHEAD

    @property
    def standing(self) -> tuple[tuple[Piece, ...], tuple[Piece, ...]]:
        """Hours and nights as bars that stand."""
        return self._bars(TALL)

    @property
    def lying(self) -> tuple[tuple[Piece, ...], tuple[Piece, ...]]:
        """Hours and nights as bars that lie."""
        return self._bars(WIDE)

    def _bars(self, length: float) -> tuple[tuple[Piece, ...], tuple[Piece, ...]]:
        return (
            pieces(self.hours, most=self.scale.hours, length=length),
            pieces(self.nights, most=self.scale.nights, length=length),
        )


@dataclass(frozen=True, slots=True)
class RoundPage:
    """A round as a whole. Numbers are of cars."""

    season: WinterRound
    figures: WinterFigures
    current: bool
    of_today: bool
    """Whether the plan was made for this day, so that cars can be asked from it."""
    weeks: tuple[WeekLine, ...]
    to_ask: int
    not_asked: int
    waiting: int
    oldest: date | None
    coming: int
    came: int
    never_left: int

    @property
    def to_come(self) -> list[WeekLine]:
        """The weeks that are not over."""
        return [week for week in self.weeks if week.stage is not Stage.OVER]

    @property
    def gone(self) -> list[WeekLine]:
        """The weeks that are over."""
        return [week for week in self.weeks if week.stage is Stage.OVER]

    @property
    def now(self) -> list[WeekLine]:
        """The weeks for which cars can be asked now."""
        return [week for week in self.weeks if week.stage is Stage.ASK]

    @property
    def next(self) -> WeekLine | None:
        """The next week for which cars will be asked, where there is none now."""
        ahead = (week for week in self.weeks if week.stage is Stage.AHEAD)
        return None if self.now else next(ahead, None)

    @property
    def reserve(self) -> int:
        """Per cent of each week that is kept back."""
        return round(self.figures.reserve * 100)


def round_page(season: WinterRound, *, studio: Studio, now: datetime) -> RoundPage:
    """The page of a round, in seven queries at most however many cars and weeks it has."""
    today, figures = local_day(studio, now), tables_of(studio).winter
    asked = asked_so_far(season, now=now)
    stands = Counter(one.stands for one in asked)
    cars = Counter(season.proposals.values_list("monday", flat=True))
    weeks = list(season.weeks.all())
    return RoundPage(
        season=season,
        figures=figures,
        current=plan_is_current(season, today),
        of_today=season.planned_for == today,
        weeks=week_lines(season, weeks, cars=cars, asked=asked, today=today, figures=figures),
        to_ask=cars.total(),
        not_asked=season.left_out.count(),
        waiting=stands[Stands.OPEN] + stands[Stands.TO_LEAVE],
        oldest=oldest_of(asked),
        coming=stands[Stands.COMING],
        came=stands[Stands.CAME],
        never_left=stands[Stands.NEVER_LEFT],
    )


def week_lines(
    season: WinterRound,
    weeks: Sequence[WinterWeek],
    *,
    cars: Mapping[date, int],
    asked: Iterable[Asked],
    today: date,
    figures: WinterFigures,
) -> tuple[WeekLine, ...]:
    """The weeks as they stand: hours and nights from the newest plan, what is held from the open invitations."""
    held_hours: dict[date, float] = defaultdict(float)
    held_nights: dict[date, float] = defaultdict(float)
    for one in asked:
        if one.waits:
            row = one.invitation
            held_hours[row.monday] += row.chance * row.hours
            held_nights[row.monday] += row.chance * row.nights
    uses = [
        (
            _use(season, float(week.hours), week.spoken_hours, week.room_hours, held_hours[week.monday],
                 week.asked_hours, figures),
            _use(season, float(week.nights), week.spoken_nights, week.room_nights, held_nights[week.monday],
                 week.asked_nights, figures),
        )
        for week in weeks
    ]  # fmt: skip
    scale = Scale(_most([hours for hours, _ in uses]), _most([nights for _, nights in uses]))
    return tuple(
        WeekLine(
            row=week,
            stage=stage_of(season, week, cars=cars.get(week.monday, 0), today=today, figures=figures),
            ask_from=week.monday - timedelta(days=figures.ask_ahead_days),
            cars=cars.get(week.monday, 0),
            hours=hours,
            nights=nights,
            scale=scale,
        )
        for week, (hours, nights) in zip(weeks, uses, strict=True)
    )


def _use(
    season: WinterRound,
    given: float,
    spoken: float,
    room: float,
    held: float,
    to_ask: float,
    figures: WinterFigures,
) -> Use:
    if season.planned_at is None:
        spoken, room = held, given * (1 - figures.reserve) - held
    return use_of(given, spoken=spoken, room=room, held=held, to_ask=to_ask)


def _most(uses: Sequence[Use]) -> float:
    """What fills a bar: the fullest week, but no week that is far beyond its hours makes the others small."""
    fullest = max((max(use.given, use.spoken) for use in uses), default=0.0)
    return min(fullest, _MOST_BEYOND * max((use.given for use in uses), default=0.0)) or fullest


def stage_of(
    season: WinterRound, week: WinterWeek, *, cars: int, today: date, figures: WinterFigures
) -> Stage:
    """How a week stands to asking on a day."""
    if week.monday + timedelta(days=7) <= today:
        return Stage.OVER
    if week.monday < today + timedelta(days=figures.notice_days):
        return Stage.NEAR
    if season.planned_at is None:
        return Stage.UNPLANNED
    if not week.is_open:
        return Stage.FULL
    if not cars or not season.is_going:
        return Stage.ROOM
    return Stage.AHEAD if week.monday > today + timedelta(days=figures.ask_ahead_days) else Stage.ASK
