"""The engine's figures beside the studio's own, and how a figure came to be what it is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from crm.care.names import MARK_NAMES
from crm.care.numbers import Number, number_tables, numbers_by_path, plain
from crm.care.own_figures import sorted_out
from crm.models import Studio
from crm.selectors.studio import tables_of


@dataclass(frozen=True)
class NumberLine:
    """A figure as a line: the default and, where the studio has one, its own."""

    number: Number
    default: str
    own: str
    mark: str


@dataclass(frozen=True)
class NumberSheet:
    """A table of figures with what it is about."""

    key: str
    title: str
    about: str
    lines: tuple[NumberLine, ...]

    @property
    def own_count(self) -> int:
        """How many of the figures are the studio's own."""
        return sum(bool(line.own) for line in self.lines)


@dataclass(frozen=True)
class UnusedNumber:
    """A figure of the studio's own that this version has no place for: where it stood, and what it was."""

    where: str
    value: str


@dataclass(frozen=True)
class NumberChange:
    """One change of a figure: when, by whom, to what, and why."""

    at: datetime
    by: str
    values: str
    because: str


def number_sheets(studio: Studio) -> tuple[NumberSheet, ...]:
    """Every figure that can be changed, table by table."""
    return tuple(
        NumberSheet(
            table.key,
            table.title,
            table.about,
            tuple(number_line(in_own_bands(number, studio), studio) for number in table.numbers),
        )
        for table in number_tables()
    )


def unused_numbers(studio: Studio) -> tuple[UnusedNumber, ...]:
    """The studio's own figures from which nothing is worked out any more."""
    return tuple(
        UnusedNumber(", ".join(figure.path).replace("_", " "), _as_it_was(figure.value))
        for figure in sorted_out(studio.engine_overrides).unused
    )


def _as_it_was(value: object) -> str:
    match value:
        case bool() | str() | None:
            return str(value)
        case int() | float():
            return plain(value)
        case list():
            return ", ".join(map(_as_it_was, value))
        case dict():
            return "; ".join(f"{key.replace('_', ' ')} {_as_it_was(inner)}" for key, inner in value.items())
        case _:
            return str(value)


def in_own_bands(number: Number, studio: Studio) -> Number:
    """The figure with its parts called by where the bands of the studio end: "seen within 12 months"."""
    parts = numbers_by_path(tables_of(studio))[number.path].parts
    return replace(number, parts=parts) if len(parts) == len(number.parts) else number


def number_line(number: Number, studio: Studio) -> NumberLine:
    """One figure as a line."""
    own = own_values(number, studio)
    return NumberLine(
        number, written(number, number.values), written(number, own) if own else "", MARK_NAMES[number.mark]
    )


def own_values(number: Number, studio: Studio) -> tuple[float, ...] | None:
    """The studio's own numbers in place of the default's, or None."""
    values = numbers_by_path(tables_of(studio))[number.path].values
    return None if values == number.values else values


def written(number: Number, values: tuple[float, ...]) -> str:
    """The numbers of a figure as one line."""
    if not number.parts:
        return plain(values[0])
    if number.parts[0].startswith("band"):
        return ", ".join(plain(value) for value in values)
    return ", ".join(f"{part} {plain(value)}" for part, value in zip(number.parts, values, strict=True))


def changes_of(number: Number, studio: Studio) -> tuple[NumberChange, ...]:
    """Every change of one figure, newest first."""
    found: list[NumberChange] = []
    before: object = None
    for row in studio.history.select_related("history_user").order_by("history_date", "history_id"):
        now = _at(row.engine_overrides, number.path)
        if now != before:
            values = tuple(now) if isinstance(now, list) else (now,)
            words = "the default" if now is None else _written_then(number, values)
            by = str(row.history_user or "")
            found.append(NumberChange(row.history_date, by, words, row.history_change_reason or ""))
        before = now
    return tuple(reversed(found))


def _written_then(number: Number, values: tuple[object, ...]) -> str:
    """A former value, which may be of another shape than the figure has now."""
    if len(values) == len(number.values) and all(isinstance(value, int | float) for value in values):
        return written(number, tuple(float(str(value)) for value in values))
    return ", ".join(map(_as_it_was, values))


def _at(overrides: Mapping[str, Any], path: str) -> Any:
    place: Any = overrides
    for key in path.split("."):
        place = place.get(key) if isinstance(place, Mapping) else None
    return place
