"""What a winter round is made of and what its plan says: weeks, calls, and a reason for every car."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from crm.care.course import Setting
from crm.care.months import iso_week
from crm.care.winter_calls import Why
from crm.care.winter_curves import Span
from crm.care.winter_figures import WINTER, WinterFigures, Work
from crm.care.winter_problem import How


class PlanError(ValueError):
    """A round that cannot be planned; the message says what to change."""


@dataclass(frozen=True, slots=True)
class Week:
    """What a week can give: hands-on hours and bay nights in all, and what is booked of them already.

    A booking that came of an invitation is counted once: here, and then its invitation holds no hours, or there.
    """

    monday: date
    hours: float
    nights: float
    booked_hours: float = 0.0
    booked_nights: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """The day of planning, the weeks in order, the days that salt may lie, and what the studio reckons with."""

    on: date
    weeks: tuple[Week, ...]
    span: Span
    setting: Setting
    figures: WinterFigures = WINTER


@dataclass(frozen=True, slots=True)
class Call:
    """A car that is asked: for which week and work, what it takes, and why. `worth` in unprotected salted days."""

    key: int
    monday: date
    work: Work
    hours: float
    nights: float
    chance: float
    worth: float
    promised: bool
    words: str


@dataclass(frozen=True, slots=True)
class Waiting:
    """A car that was asked before and has said yes (`held`) or has still time to answer."""

    key: int
    monday: date
    held: bool
    words: str


@dataclass(frozen=True, slots=True)
class Left:
    """A car that is not asked, and why."""

    key: int
    why: Why
    words: str


@dataclass(frozen=True, slots=True)
class WeekUse:
    """A week of the plan: spoken for before it (bookings, a yes, open invitations), room, and what the plan adds.

    The figures of the plan are expected ones: chance times the package's. `open`: whether anybody may be asked
    into it.
    """

    monday: date
    spoken_hours: float
    spoken_nights: float
    room_hours: float
    room_nights: float
    asked_hours: float
    asked_nights: float
    open: bool

    @property
    def name(self) -> str:
        """The ISO week, `2026-W41`."""
        return iso_week(self.monday)


@dataclass(frozen=True, slots=True)
class Plan:
    """Every car is in exactly one of `calls` (the first to be asked first), `waiting` and `left`.

    `value` and `bound`: expected unprotected salted days avoided by the calls, and the most that any plan with
    as many promised cars could avoid.
    """

    calls: tuple[Call, ...]
    waiting: tuple[Waiting, ...]
    left: tuple[Left, ...]
    weeks: tuple[WeekUse, ...]
    value: float
    bound: float
    gap: float
    how: How
