"""Why a window is where it is: one sentence for the life and one for every factor that is not 1."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from functools import lru_cache
from itertools import groupby

from crm.care.coats import Coat, Idle
from crm.care.course import Loss, Setting, Term
from crm.care.life import Life, life_of, place_of
from crm.care.names import AIR_NAMES, CLASS_NAMES, PREP_NAMES, PROCESS_NAMES
from crm.care.reasons_of_use import Reason, distance_reason, month_of, number, use_reasons
from crm.care.surfaces import Zone
from crm.care.tables import Tables
from crm.care.terms import Air, Mark, Prep, Process, ProductClass
from crm.care.turns import states_between
from crm.care.wear import speeds_of
from crm.care.words import ZONE_NAMES

NO_FORECAST = Reason("no_forecast", "nobody knows what this layer is, so how long it lasts is not guessed")
OUT_OF_SIGHT = Reason("out_of_sight", "it lasts beyond the last date that a calendar holds")

_MARK_WORDS = {Mark.COMMON: "", Mark.RANGE: " (opinions in the trade differ)", Mark.GUESS: " (our estimate)"}


def reasons_of(
    coat: Coat, terms: Sequence[Term], losses: Sequence[Loss], last: int, setting: Setting
) -> tuple[Reason, ...]:
    """Every reason for a window that ends on day `last` (an ordinal), the life first.

    A reason that held for a part of the time only says from or until when.
    """
    tables = setting.tables
    found = _life_reasons(
        coat.product_class, coat.zone, coat.life, coat.hard_used, tables, learned=coat.learned
    )
    found += _laying_reasons(coat.product_class, coat.air, coat.prep, coat.got_wet_early, tables)
    found += (
        _term_reasons(coat, terms[0], last, setting)
        if len(terms) == 1
        else _in_turn(coat, terms, last, setting)
    )
    if losses:
        found += tuple(_loss_reasons(losses, last))
    if coat.idle:
        found += tuple(_idle_reason(rest, tables) for rest in coat.idle if rest.start.toordinal() <= last)
    return found


@lru_cache(maxsize=4096)
def _life_reasons(
    product_class: ProductClass,
    zone: Zone,
    own: Life | None,
    hard_used: bool,
    tables: Tables,
    *,
    learned: bool,
) -> tuple[Reason, ...]:
    place = place_of(product_class, zone, tables)
    life = life_of(product_class, zone, own=own, tables=tables)
    if life is None:
        return ()
    if own is None:
        source = _MARK_WORDS[place.mark]
    else:
        whose = "learned from the studio's own cars" if learned else "the studio's own figures"
        source = f" ({whose})" if place.ratio == 1 else f" ({whose}, carried over to this place)"
    months = f"{number(life.low)} to {number(life.high)} months, most likely {number(life.likely)}"
    name = CLASS_NAMES[product_class]
    found = [Reason("life", f"reference life of {name}, {ZONE_NAMES[zone]}: {months}{source}")]
    hard_use = tables.zones[tables.twin(zone)].hard_use
    if hard_use is not None:
        what = "lasts" if hard_used else "goes first: it lasts"
        words = f"{hard_use.spot} {what} {number(hard_use.share)} times as long as the rest"
        found.append(Reason("hard_use", words))
    return tuple(found)


@lru_cache(maxsize=1024)
def _laying_reasons(
    product_class: ProductClass, air: Air | None, prep: Prep | None, got_wet_early: bool, tables: Tables
) -> tuple[Reason, ...]:
    wear = tables.wear
    by_air, by_prep = wear.air[air], wear.prep[tables.lives[product_class].family][prep]
    found = []
    if air is not None and by_air[1] != 1:
        found.append(_lasting("air", f"laid {AIR_NAMES[air]}", by_air[1]))
    elif by_air[0] != by_air[2]:
        found.append(
            Reason("air_unknown", "the conditions of laying are not recorded: the low date is earlier")
        )
    if prep is not None and by_prep[1] != 1:
        found.append(_lasting("prep", PREP_NAMES[prep], by_prep[1]))
    elif by_prep[0] != by_prep[2]:
        found.append(Reason("prep_unknown", "the preparation is not recorded: the low date is earlier"))
    if got_wet_early and wear.got_wet_early != 1:
        found.append(_lasting("wet_early", "got wet before it might", wear.got_wet_early))
    return tuple(found)


def _lasting(code: str, what: str, factor: float) -> Reason:
    return Reason(code, f"{what}: lasts {number(factor)} times as long")


def _term_reasons(coat: Coat, term: Term, last: int, setting: Setting) -> tuple[Reason, ...]:
    seasons, tables = setting
    states = states_between(seasons, term.start, max(last, term.start))
    distance = speeds_of(coat.product_class, coat.zone, term.use, tables).distance
    found = use_reasons(coat.product_class, coat.zone, term.use, seasons, states, tables)
    return found + distance_reason(term.km, distance[1], distance[0] != distance[2])


def _in_turn(coat: Coat, terms: Sequence[Term], last: int, setting: Setting) -> tuple[Reason, ...]:
    """Reasons of several terms: each once for every run of terms in which it holds."""
    reached = [term for index, term in enumerate(terms) if index == 0 or term.start <= last]
    ends = [term.start - 1 for term in reached[1:]] + [last]
    holds: dict[Reason, int] = {}
    for index, (term, end) in enumerate(zip(reached, ends, strict=True)):
        for reason in _term_reasons(coat, term, end, setting):
            holds[reason] = holds.get(reason, 0) | 1 << index
    always = (1 << len(reached)) - 1
    turns = tuple(month_of(date.fromordinal(term.start)) for term in reached[1:])
    found: list[Reason] = []
    for reason, when in holds.items():
        found += (reason,) if when == always else _dated(reason, when, turns)
    return tuple(found)


@lru_cache(maxsize=16384)
def _dated(reason: Reason, holds: int, turns: tuple[str, ...]) -> tuple[Reason, ...]:
    """The reason once for every run of terms in which it holds (a bit each), with the months of its turns."""
    found = []
    runs = groupby(range(len(turns) + 1), key=lambda index: holds >> index & 1)
    for run in (list(indices) for held, indices in runs if held):
        since = [f"from {turns[run[0] - 1]}"] if run[0] else []
        until = [f"until {turns[run[-1]]}"] if run[-1] < len(turns) else []
        found.append(Reason(reason.code, f"{' '.join(since + until)}: {reason.words}"))
    return tuple(found)


def _loss_reasons(losses: Sequence[Loss], last: int) -> Iterator[Reason]:
    reached = [loss for loss in losses if loss.day <= last]
    for process in dict.fromkeys(loss.process for loss in reached):
        yield _loss_reason(process, [loss for loss in reached if loss.process is process])


def _loss_reason(process: Process, losses: Sequence[Loss]) -> Reason:
    share = sum(loss.shares[1] for loss in losses)
    name, month = PROCESS_NAMES[process], month_of(date.fromordinal(losses[0].day))
    if share >= 1:
        return Reason("event", f"{name} in {month}: takes it off")
    when = f"in {month}" if len(losses) == 1 else f"{len(losses)} times since {month}"
    return Reason("event", f"{name} {when}: took {number(share)} of the whole life")


def _idle_reason(rest: Idle, tables: Tables) -> Reason:
    if rest.end is not None:
        return Reason(
            "idle", f"off the car from {month_of(rest.start)} to {month_of(rest.end)}: it does not wear"
        )
    months = number(tables.wear.off_the_car_months[1])
    return Reason(
        "idle_open",
        f"off the car since {month_of(rest.start)}: reckoned to be back on after about {months} months",
    )
