"""The engine's forecasts against the plain walk over the days, in the same run."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import islice
from random import Random
from time import process_time
from typing import TypeAlias, TypeVar

from crm.care.coats import Case, Coat, Habit, Lump
from crm.care.daily import DailyWalk
from crm.care.forecast import Outlook, Window, outlook
from crm.care.life import life_of
from crm.care.seasons import Seasons
from crm.care.surfaces import Zone
from crm.care.tables import DEFAULTS
from crm.care.terms import Air, Parking, Prep, Process, ProductClass, Wash

SEED = 20_260_504
WALKED = 400
"""Layers that the plain walk is asked for as well: it takes a hundred times as long."""
LAYERS_A_CAR = 8
NEVER_ASKED = 0.33
_PARKED: dict[Parking | None, int] = {
    None: 20,
    Parking.OUTDOORS: 40,
    Parking.GARAGE: 20,
    Parking.CARPORT: 8,
    Parking.NEAR_SEA: 7,
    Parking.TREES_OR_INDUSTRY: 5,
}
_WASHED: dict[Wash | None, int] = {
    None: 25,
    Wash.HAND_NEUTRAL: 30,
    Wash.LANCE_OWN_MITT: 12,
    Wash.LANCE_BRUSH: 8,
    Wash.TOUCH_FREE: 8,
    Wash.TUNNEL: 12,
    Wash.HARDLY_EVER: 5,
}
_KM = (None, 2_000, 8_000, 12_000, 20_000, 45_000)
_LUMPS = (
    Process.TUNNEL_WASH,
    Process.TOUCH_FREE_WASH,
    Process.CLAY,
    Process.FINE_POLISH,
    Process.TAR_REMOVER,
)

T = TypeVar("T")
Dates: TypeAlias = tuple[date, date, date]


@dataclass(frozen=True)
class Compared:
    """Both ways of forecasting, in seconds of processor time: other programs do not count."""

    layers: int
    engine_seconds: float
    again_seconds: float
    walked: int
    walk_seconds: float
    apart: int
    """The largest difference of any date, in days."""

    @property
    def engine_a_second(self) -> float:
        return self.layers / self.engine_seconds

    @property
    def again_a_second(self) -> float:
        return self.layers / self.again_seconds

    @property
    def walk_a_second(self) -> float:
        return self.walked / self.walk_seconds

    @property
    def ratio(self) -> float:
        """How many layers the engine forecasts in its first pass, having seen nothing, while the walk does one."""
        return self.engine_a_second / self.walk_a_second

    @property
    def ratio_again(self) -> float:
        """The same for its second pass over the same layers, as on the night after."""
        return self.again_a_second / self.walk_a_second


def cases(count: int) -> list[Case]:
    """So many layers of the made-up fleet."""
    return list(islice(made_up(), count))


def made_up() -> Iterator[Case]:
    """Layers without end, of every class and zone that has a life, eight a car, varied in every fact; always the same.

    How the cars are kept follows made-up shares: of a third nobody knows, most others stand outdoors.
    """
    dice = Random(SEED)  # noqa: S311 - made-up facts, not secrets
    anything = [
        (kind, zone)
        for kind in ProductClass
        for zone in Zone
        if life_of(kind, zone, own=None, hard_used=False, tables=DEFAULTS) is not None
    ]
    while True:
        laid_on = date(2020, 1, 1) + timedelta(days=dice.randrange(2300))
        habits = _habits(dice, laid_on)
        for _ in range(LAYERS_A_CAR):
            kind, zone = dice.choice(anything)
            coat = _coat(dice, kind, zone, laid_on + timedelta(days=dice.randrange(120)))
            yield Case(coat, habits, _lumps(dice, coat.laid_on))


def _coat(dice: Random, kind: ProductClass, zone: Zone, laid_on: date) -> Coat:
    prep, air = dice.choice((None, *Prep)), dice.choice((None, *Air))
    return Coat(kind, zone, laid_on, prep=prep, air=air, got_wet_early=dice.random() < 0.03)


def _lumps(dice: Random, laid_on: date) -> tuple[Lump, ...]:
    events = range(dice.choice((0, 0, 0, 1, 2)))
    return tuple(Lump(laid_on + timedelta(days=dice.randrange(1, 500)), dice.choice(_LUMPS)) for _ in events)


def _habits(dice: Random, laid_on: date) -> tuple[Habit, ...]:
    if dice.random() < NEVER_ASKED:
        return ()
    since = [laid_on - timedelta(days=dice.randrange(800))]
    if dice.random() < 0.3:
        since.append(laid_on + timedelta(days=dice.randrange(1, 400)))
    return tuple(_habit(dice, day) for day in since)


def _habit(dice: Random, since: date) -> Habit:
    return Habit(
        since=since,
        parking=_drawn(dice, _PARKED),
        km_a_year=dice.choice(_KM),
        salted_roads=dice.choice((None, True, True, True, False)),
        wash_summer=_drawn(dice, _WASHED),
        wash_winter=_drawn(dice, _WASHED),
        on_plan=dice.random() < 0.2,
        stored=dice.random() < 0.03,
    )


def _drawn(dice: Random, shares: dict[T, int]) -> T:
    return dice.choices(list(shares), weights=list(shares.values()))[0]


def compared(count: int) -> Compared:
    """Forecast so many layers by the engine, twice, and some of them by walking the days."""
    seasons = Seasons()
    everything = cases(count)

    def by_engine(case: Case) -> Outlook:
        return outlook(case.coat, habits=case.habits, lumps=case.lumps, seasons=seasons)

    def by_walk(case: Case) -> Dates | None:
        return DailyWalk(case.coat, case.habits, case.lumps, seasons).window()

    outlooks, first = timed(by_engine, everything)
    _, again = timed(by_engine, everything)
    step = max(1, count // WALKED)
    walked, walk = timed(by_walk, everything[::step])
    pairs = zip(outlooks[::step], walked, strict=True)
    return Compared(
        count,
        first,
        again,
        len(walked),
        walk,
        max(days_apart(dates_of(one.window), other) for one, other in pairs),
    )


def timed(forecast: Callable[[Case], T], of: Sequence[Case]) -> tuple[list[T], float]:
    """What comes out for each layer, and the seconds of processor time that all of them took."""
    gc.collect()
    gc.freeze()  # what was there before, the framework and the layers, is not gone through in the time of either way
    try:
        started = process_time()
        found = [forecast(case) for case in of]
        return found, process_time() - started
    finally:
        gc.unfreeze()


def days_apart(one: Dates | None, other: Dates | None) -> int:
    """The largest difference of the three dates; a window on one side only is a century apart."""
    if one is None or other is None:
        return 0 if one is None and other is None else 36525
    return max(abs((our - their).days) for our, their in zip(one, other, strict=True))


def dates_of(window: Window | None) -> Dates | None:
    """The three dates of a window."""
    return (window.low, window.likely, window.high) if window else None
