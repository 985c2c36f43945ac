"""A studio's own figures beside defaults that are no longer those for which they were written down.

A later version may rename a figure, drop it, or allow it a narrower range. What was laid over it then has no place
any more. It is left out and named, and everything else is worked out as before.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from crm.care.figures import OPEN_TABLES
from crm.care.tables import DEFAULTS, Tables, TablesError

Path: TypeAlias = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OwnFigure:
    """One figure of the studio's own, and where it stands: its path in the data files."""

    path: Path
    value: object


@dataclass(frozen=True, slots=True)
class OwnFigures:
    """The studio's own figures told apart."""

    used: dict[str, Any]
    """In the shape that `Tables.with_overrides` takes, and does not refuse."""
    unused: tuple[OwnFigure, ...]
    """What the engine has no place for."""


def sorted_out(overrides: Mapping[str, object], *, defaults: Tables = DEFAULTS) -> OwnFigures:
    """Tell apart the figures that count and those that cannot any more; as many count as can."""
    if _fits(overrides, defaults):
        return OwnFigures(_nested(_figures(overrides)), ())
    placed: list[OwnFigure] = []
    homeless: list[OwnFigure] = []
    for figure in _figures(overrides):
        (placed if _has_a_place(figure, defaults.figures) else homeless).append(figure)
    kept = placed if _fits(_nested(placed), defaults) else _as_many_as_fit(placed, defaults)
    return OwnFigures(_nested(kept), (*homeless, *(figure for figure in placed if figure not in kept)))


def _as_many_as_fit(figures: Sequence[OwnFigure], defaults: Tables) -> list[OwnFigure]:
    """One after the other, and again: a figure may only be possible beside another."""
    kept: list[OwnFigure] = []
    while True:
        found = next(
            (
                figure
                for figure in figures
                if figure not in kept and _fits(_nested([*kept, figure]), defaults)
            ),
            None,
        )
        if found is None:
            return kept
        kept.append(found)


def _fits(overrides: Mapping[str, object], defaults: Tables) -> bool:
    try:
        defaults.with_overrides(overrides)
    except TablesError:
        return False
    return True


def _has_a_place(figure: OwnFigure, defaults: Mapping[str, object]) -> bool:
    """Whether there is a default of the same kind, or a table to which a studio may add."""
    table: object = defaults
    for key, inside in zip(figure.path, (*figure.path[1:], ""), strict=True):
        if not isinstance(table, Mapping):
            return False
        if key in OPEN_TABLES and inside:
            return True
        if key not in table:
            return False
        table = table[key]
    return isinstance(table, list) == isinstance(figure.value, list) and not isinstance(table, Mapping)


def _figures(table: Mapping[str, object], path: Path = ()) -> Iterator[OwnFigure]:
    """Every figure of nested tables. What stands inside an open table goes together or not at all."""
    for key, entry in table.items():
        here = (*path, key)
        if isinstance(entry, Mapping) and not (path and path[-1] in OPEN_TABLES):
            yield from _figures(entry, here)
        else:
            yield OwnFigure(here, entry)


def _nested(figures: Iterable[OwnFigure]) -> dict[str, Any]:
    whole: dict[str, Any] = {}
    for figure in figures:
        table = whole
        for key in figure.path[:-1]:
            table = table.setdefault(key, {})
        table[figure.path[-1]] = figure.value
    return whole
