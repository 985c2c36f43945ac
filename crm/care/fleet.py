"""Forecasts of many layers at once: the facts, the model and the words of a single one, walked side by side."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice

from crm.care.coats import Case, Habit
from crm.care.course import Days, Setting, Term, uses_of
from crm.care.figures import Triple
from crm.care.forecast import Outlook, Reckoned, Walked, Window, outlook_of, reckoned, walked, window_of
from crm.care.seasons import Seasons
from crm.care.side_by_side import worn_together
from crm.care.tables import DEFAULTS, Tables
from crm.care.turns import LAST

BATCH = 16_384
"""Layers that are walked side by side."""


def windows(cases: Iterable[Case], *, seasons: Seasons, tables: Tables = DEFAULTS) -> Iterator[Window | None]:
    """The window of each layer in order, without the reasons; None where `outlook` has none."""
    setting = Setting(seasons, tables)
    for batch in _batches(cases):
        yield from (window_of(found.days) if found.days else None for found, _ in _found(batch, setting))


def outlooks(cases: Iterable[Case], *, seasons: Seasons, tables: Tables = DEFAULTS) -> Iterator[Outlook]:
    """The forecast of each layer in order, with its reasons: what `outlook` says of it, to the day and the word."""
    setting = Setting(seasons, tables)
    for batch in _batches(cases):
        reckoning = _Reckoning(setting)
        for case, (found, known) in zip(batch, _found(batch, setting), strict=True):
            yield outlook_of(known or reckoning.of(case), found, setting)


class _Reckoning:
    """What layers are reckoned with, one after the other; the uses of a car once for all its layers."""

    def __init__(self, setting: Setting) -> None:
        self._setting = setting
        self._habits: tuple[Habit, ...] = ()
        self._uses: tuple[Term, ...] = ()

    def of(self, case: Case) -> Reckoned | None:
        """What one layer is reckoned with; None where its class has no forecast."""
        if case.habits is not self._habits:
            self._habits, self._uses = case.habits, uses_of(case.habits, self._setting.tables)
        return reckoned(case.coat, self._uses, case.lumps, case.looks, self._setting)


def _batches(cases: Iterable[Case]) -> Iterator[Sequence[Case]]:
    upcoming = iter(cases)
    while batch := list(islice(upcoming, BATCH)):
        yield batch


def _found(batch: Sequence[Case], setting: Setting) -> Iterator[tuple[Walked, Reckoned | None]]:
    """The days of each layer, and what it was reckoned with where that was needed for them.

    Wheels that were off the car, which are few, are walked one by one; layers that were looked at a second time,
    with the lives that the looks leave.
    """
    plain = _days(batch, setting)
    reckoning = _Reckoning(setting)
    alone = {at: reckoning.of(case) for at, case in enumerate(batch) if case.looks or case.coat.idle}
    seen = {at: known.seen for at, known in alone.items() if known and known.seen and not known.coat.idle}
    again = _days([batch[at] for at in seen], setting, [each.lives for each in seen.values()]) if seen else ()
    moved = {
        at: each.bound(days) if days else None for (at, each), days in zip(seen.items(), again, strict=True)
    }
    for at, days in enumerate(plain):
        known = alone.get(at)
        if known is not None and known.coat.idle:
            yield walked(known, setting), known
        else:
            yield Walked(moved.get(at, days), days), known


def _days(
    batch: Sequence[Case], setting: Setting, lives: Sequence[Triple] | None = None
) -> Iterator[Days | None]:
    columns = worn_together(batch, setting, lives).T.tolist()
    return (None if LAST in days else days for days in zip(*columns, strict=True))
