"""How much of its life a layer has used up by a day: the likely clock, with quality and events taken out.

A layer of life T, one-time quality q and lumps s(t) is worn when clock(t) >= T (q - s(t)); that is, when T is at
most clock(t) / (q - s(t)). So that quotient is the age at which to compare layers: laid well or badly, with
many events or none. It never falls, because the clock and the lumps only grow.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from math import inf
from typing import NamedTuple

from crm.care.coats import Case, Coat
from crm.care.course import Loss, Setting, Stretch, Term, courses_of, losses_of, terms_of, uses_of
from crm.care.figures import Triple
from crm.care.life import place_of
from crm.care.months import DAYS_IN_MONTH
from crm.care.seasons import Seasons
from crm.care.turns import spans_from
from crm.care.wear import quality_of

LIKELY = 1
"""Which of the three clocks and qualities, and of the three shares of an event."""
LEAST_SHARE = 0.1
"""Where events leave less than this of a life, a layer seen whole says more of the events' figures than of it."""


class Used(NamedTuple):
    """What was used up by the start of a day: reference months on the clock, and the share that can be used.

    `share` is what quality and events leave of the full life.
    """

    months: float
    share: float

    @property
    def age(self) -> float:
        """The full life, in reference months, that such wear ends; inf where events alone end any."""
        return self.months / self.share if self.share > 0 else inf


def used_on(case: Case, day: date, setting: Setting, *, with_that_day: bool) -> Used:
    """What a layer has used up by the start of a day on the likely clock, in its own zone.

    The order of events within a day is not known: `with_that_day` says whether that day's count.
    """
    terms = terms_of(uses_of(case.habits, setting.tables), case.coat.laid_on.toordinal())
    losses = losses_of(case.coat, case.lumps, terms, setting)
    (used,) = _used(case.coat, terms, losses, day, setting, clocks=(LIKELY,), with_that_day=with_that_day)
    return used


def ages_on(
    coat: Coat,
    terms: Sequence[Term],
    losses: Sequence[Loss],
    day: date,
    setting: Setting,
    *,
    with_that_day: bool,
) -> Triple:
    """The full lives, in reference months, that the wear up to the start of a day ends on each of the three clocks.

    Events count for no more than leaves `LEAST_SHARE` of a life: the layer is there to be looked at.
    """
    low, likely, high = (
        used.months / max(used.share, LEAST_SHARE)
        for used in _used(coat, terms, losses, day, setting, clocks=(0, 1, 2), with_that_day=with_that_day)
    )
    return low, likely, high


def _used(
    coat: Coat,
    terms: Sequence[Term],
    losses: Sequence[Loss],
    day: date,
    setting: Setting,
    *,
    clocks: Sequence[int],
    with_that_day: bool,
) -> Iterator[Used]:
    """What was used up by the start of a day on each of these clocks."""
    on = day.toordinal()
    last = on if with_that_day else on - 1
    courses = courses_of(coat, terms, losses, setting.tables)
    quality = quality_of(coat.product_class, coat.air, coat.prep, coat.got_wet_early, setting.tables)
    for clock in clocks:
        lost = sum(loss.shares[clock] for loss in losses if loss.day <= last)
        months = _reading(courses[clock], on, setting.seasons, clock) / DAYS_IN_MONTH
        yield Used(months, quality[clock] - lost)


def at_main_site(coat: Coat, setting: Setting) -> float | None:
    """How long a life there is for each month of it at the main site of its class; None without a forecast."""
    place = place_of(coat.product_class, coat.zone, setting.tables)
    if place.life is None:
        return None
    hard_use = setting.tables.zones[setting.tables.twin(coat.zone)].hard_use
    return place.ratio * (hard_use.share if coat.hard_used and hard_use is not None else 1.0)


def _reading(course: Sequence[Stretch], day: int, seasons: Seasons, clock: int) -> float:
    """Reference days on a clock up to the start of a day (an ordinal)."""
    total = 0.0
    for start, end, rates, _ in course:
        if rates is None or start >= day:
            continue
        at, stop = start, min(end, day)
        for turn, state in spans_from(seasons, start):
            until = min(turn, stop)
            total += rates[clock][state] * (until - at)
            at = until
            if until == stop:
                break
    return total
