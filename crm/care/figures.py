"""Checked reading of nested figures, from the data files or from a studio's own settings.

A `Figures` knows where it stands, so that a wrong entry is named by its whole path, such as
`wear.parking.garage`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from math import isfinite
from typing import TypeAlias, TypeVar

from crm.care.terms import Mark

Triple: TypeAlias = tuple[float, float, float]
"""Three numbers of a kind: for factors on the rate pessimistic, likely, kind; for lives low, likely, high."""

Word = TypeVar("Word", bound=StrEnum)


class FiguresError(ValueError):
    """A figure that is missing, of the wrong kind or out of its range; the message names it."""


@dataclass(frozen=True, slots=True)
class Figures:
    """One table of entries and the path that leads to it."""

    path: str
    entries: Mapping[str, object]

    def part(self, key: str) -> Figures:
        """The table under this key."""
        value = self._value(key)
        if not isinstance(value, Mapping):
            raise FiguresError(f"{self.path}.{key} has to be a table of entries.")
        return Figures(f"{self.path}.{key}", value)

    def parts(self) -> list[tuple[str, Figures]]:
        """Every key with the table under it."""
        return [(key, self.part(key)) for key in self.entries]

    def number(self, key: str, low: float, high: float, default: float | None = None) -> float:
        """The number under this key, from `low` to `high`; `default` where there is none."""
        if default is not None and key not in self.entries:
            return default
        return _number(f"{self.path}.{key}", self._value(key), low, high)

    def whole(self, key: str, low: int, high: int) -> int:
        """The whole number under this key, from `low` to `high`."""
        number = self.number(key, low, high)
        if number != int(number):
            raise FiguresError(f"{self.path}.{key} has to be a whole number.")
        return int(number)

    def numbers(self, key: str, low: float, high: float) -> tuple[float, ...]:
        """The list of numbers under this key, each from `low` to `high`."""
        value = self._value(key)
        if not isinstance(value, list | tuple):
            raise FiguresError(f"{self.path}.{key} has to be a list of numbers.")
        return tuple(_number(f"{self.path}.{key}", item, low, high) for item in value)

    def triple(self, key: str, low: float, high: float) -> Triple:
        """Exactly three numbers."""
        numbers = self.numbers(key, low, high)
        if len(numbers) != 3:
            raise FiguresError(f"{self.path}.{key} has to hold three numbers, not {len(numbers)}.")
        return numbers[0], numbers[1], numbers[2]

    def words(self, key: str, default: str | None = None) -> str:
        """The text under this key; `default` where there is none."""
        if default is not None and key not in self.entries:
            return default
        value = self._value(key)
        if not isinstance(value, str) or not value.strip():
            raise FiguresError(f"{self.path}.{key} has to be words.")
        return value

    def names(self, key: str, kind: type[Word]) -> tuple[Word, ...]:
        """The list of members of a closed list under this key."""
        value = self._value(key)
        if not isinstance(value, list | tuple):
            raise FiguresError(f"{self.path}.{key} has to be a list.")
        return tuple(named(item, kind, f"{self.path}.{key}") for item in value)

    def mark(self) -> Mark:
        """How far the figures of this table can be trusted."""
        return named(self._value("mark"), Mark, f"{self.path}.mark")

    def _value(self, key: str) -> object:
        try:
            return self.entries[key]
        except KeyError:
            raise FiguresError(f"{self.path}.{key} is missing.") from None


def named(value: object, kind: type[Word], path: str) -> Word:
    """The member of a closed list that a word names."""
    try:
        return kind(str(value))
    except ValueError:
        known = ", ".join(kind)
        raise FiguresError(f"{path}: “{value}” is not one of {known}.") from None


OPEN_TABLES = frozenset({"sites"})
"""Tables to which a studio may add entries of its own: lives of a class in further zones."""


def merged(defaults: Mapping[str, object], changes: Mapping[str, object], path: str) -> dict[str, object]:
    """The defaults with the changes laid over them, table by table.

    Raises FiguresError where a change names something that has no default, or puts a table where a figure
    belongs or the other way round.
    """
    result = dict(defaults)
    for key, change in changes.items():
        where = f"{path}.{key}" if path else key
        if key in OPEN_TABLES:
            result[key] = _with_added(defaults.get(key, {}), change, where)
            continue
        if key not in defaults:
            raise FiguresError(f"There is no figure called {where}.")
        default = defaults[key]
        if isinstance(default, Mapping) != isinstance(change, Mapping):
            kind = "a table of entries" if isinstance(default, Mapping) else "a single entry"
            raise FiguresError(f"{where} has to be {kind}.")
        if isinstance(default, Mapping) and isinstance(change, Mapping):
            result[key] = merged(default, change, where)
        else:
            result[key] = change
    return result


def _with_added(defaults: object, additions: object, where: str) -> dict[str, object]:
    if not isinstance(defaults, Mapping) or not isinstance(additions, Mapping):
        raise FiguresError(f"{where} has to be a table of entries.")
    return {**defaults, **additions}


def _number(path: str, value: object, low: float, high: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise FiguresError(f"{path} has to be a number.")
    if not low <= value <= high:
        raise FiguresError(f"{path} is {value:g}; it has to be between {low:g} and {high:g}.")
    return float(value)
