"""The forecasts of a whole chain side by side, against the same forecasts one by one, in the same run."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from time import process_time
from typing import TypeAlias, TypeVar

from crm.care.coats import Case
from crm.care.course import Setting, uses_of
from crm.care.fleet import BATCH, outlooks, windows
from crm.care.forecast import Outlook, Window, outlook, reckoned, walked, window_of
from crm.care.seasons import Seasons
from crm.care.tables import DEFAULTS
from crm.management.bench.forecasts import LAYERS_A_CAR, dates_of, days_apart, made_up

CARS = 96_000
LAYERS = CARS * LAYERS_A_CAR
ONE_BY_ONE = 8
"""For so many layers side by side there is one that is worked out one by one."""
_SETTING = Setting(Seasons(), DEFAULTS)

T = TypeVar("T")
Way: TypeAlias = Callable[[Sequence[Case]], Iterator[T]]


@dataclass
class Pace:
    """How many layers were worked out in how many seconds of processor time."""

    layers: int = 0
    seconds: float = 0.0

    @property
    def a_second(self) -> float:
        return self.layers / self.seconds


@dataclass
class Chain:
    """Both ways, for the dates alone and with the reasons in words."""

    dates: Pace = field(default_factory=Pace)
    dates_one_by_one: Pace = field(default_factory=Pace)
    words: Pace = field(default_factory=Pace)
    words_one_by_one: Pace = field(default_factory=Pace)
    apart: int = 0
    """The largest difference of any date, in days."""
    told_otherwise: int = 0
    """Layers whose reasons are not the same, word for word."""


def whole_chain(layers: int) -> Chain:
    """Forecast so many layers side by side; then others, one for eight of those, one by one.

    Batches are made up as they are needed, outside the times. None is timed both ways, nor one by one both for its
    dates and its words: the second time would find what the first has left in memory. Those that were timed one by
    one are then held against side by side.
    """
    found, upcoming, sample = Chain(), made_up(), -(-layers // ONE_BY_ONE)
    for batch in _batches(upcoming, layers):
        _timed(found.words, _outlooks, batch)
        _timed(found.dates, _windows, batch)
    for batch in _batches(upcoming, sample):
        told = _timed(found.words_one_by_one, _outlooks_alone, batch)
        found.told_otherwise += sum(one != other for one, other in zip(_outlooks(batch), told, strict=True))
    for batch in _batches(upcoming, sample):
        alone = _timed(found.dates_one_by_one, _windows_alone, batch)
        for one, other in zip(_windows(batch), alone, strict=True):
            found.apart = max(found.apart, days_apart(dates_of(one), dates_of(other)))
    return found


def _batches(upcoming: Iterator[Case], layers: int) -> Iterator[list[Case]]:
    for done in range(0, layers, BATCH):
        yield list(islice(upcoming, min(BATCH, layers - done)))


def _timed(pace: Pace, work: Way[T], batch: Sequence[Case]) -> list[T]:
    started = process_time()
    found = list(work(batch))
    pace.seconds += process_time() - started
    pace.layers += len(batch)
    return found


def _windows(cases: Sequence[Case]) -> Iterator[Window | None]:
    return windows(cases, seasons=_SETTING.seasons)


def _windows_alone(cases: Sequence[Case]) -> Iterator[Window | None]:
    for case in cases:
        known = reckoned(case.coat, uses_of(case.habits, DEFAULTS), case.lumps, case.looks, _SETTING)
        days = walked(known, _SETTING).days if known else None
        yield window_of(days) if days else None


def _outlooks(cases: Sequence[Case]) -> Iterator[Outlook]:
    return outlooks(cases, seasons=_SETTING.seasons)


def _outlooks_alone(cases: Sequence[Case]) -> Iterator[Outlook]:
    for case in cases:
        yield outlook(
            case.coat, habits=case.habits, lumps=case.lumps, looks=case.looks, seasons=_SETTING.seasons
        )
