"""The engine's figures as a person reads and changes them: in tables, in words, one at a time.

A figure is named by the path that leads to it in the data files, such as `wear.parking.garage`. It holds one
number, or several that only make sense together, such as the low, likely and high months of a life.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from typing import Any

from crm.care.figures import OPEN_TABLES
from crm.care.number_words import OF_TABLES, figure_words, part_words
from crm.care.tables import DEFAULTS, NO_FORECAST, Tables
from crm.care.terms import Mark


@dataclass(frozen=True, slots=True)
class Number:
    """One figure: its path, its words in its table, its numbers with a word for each, and its mark."""

    path: str
    words: str
    values: tuple[float, ...]
    parts: tuple[str, ...]
    """A word for each number where there are several; empty where there is one."""
    mark: Mark

    @property
    def table(self) -> str:
        """The key of the table that the figure stands in."""
        return table_of(self.path)

    @property
    def moves_forecasts(self) -> bool:
        """Whether forecasts are worked out from it."""
        return self.path.partition(".")[0] not in NO_FORECAST

    @property
    def of_winter(self) -> bool:
        """Whether the winter round reckons with it, and nothing else does."""
        return self.path.partition(".")[0] == "winter"


@dataclass(frozen=True, slots=True)
class NumberTable:
    """Figures of one kind, and what they are."""

    key: str
    title: str
    about: str
    numbers: tuple[Number, ...]


def number_tables(tables: Tables = DEFAULTS) -> tuple[NumberTable, ...]:
    """Every figure that can be changed, table by table in the order of the screens."""
    found = {
        key: tuple(group) for key, group in groupby(sorted_numbers(tables), key=lambda number: number.table)
    }
    return tuple(NumberTable(key, title, about, found[key]) for key, (title, about) in OF_TABLES.items())


def sorted_numbers(tables: Tables) -> list[Number]:
    """The figures with those of one table beside each other, otherwise in the order of the data."""
    order = list(OF_TABLES)
    return sorted(_numbers(tables), key=lambda number: order.index(number.table))


@lru_cache(maxsize=8)
def numbers_by_path(tables: Tables = DEFAULTS) -> Mapping[str, Number]:
    """The same figures by their path."""
    return {number.path: number for number in _numbers(tables)}


def table_of(path: str) -> str:
    """The key of the table that a path leads into: `lives`, `wear.wash`, `thickness.bands`."""
    top, _, rest = path.partition(".")
    return f"{top}.{rest.partition('.')[0]}" if top in ("wear", "inspection", "thickness", "winter") else top


def with_number(overrides: Mapping[str, Any], number: Number, values: Sequence[float]) -> dict[str, Any]:
    """The studio's own figures with one more, or without it where the values are those of the default.

    The result has the shape that `Tables.with_overrides` takes, and is not checked here.
    """
    changed = without_number(overrides, number)
    if tuple(values) == number.values:
        return changed
    keys = number.path.split(".")
    place, default, inside_open = changed, DEFAULTS.figures, False
    for key in keys[:-1]:
        default = _table(default[key])
        if not isinstance(place.get(key), dict):
            # A table inside an open one replaces the default's, so it has to be whole.
            place[key] = dict(default) if inside_open else {}
        place = place[key]
        inside_open = key in OPEN_TABLES
    place[keys[-1]] = list(values) if number.parts else values[0]
    return changed


def without_number(overrides: Mapping[str, Any], number: Number) -> dict[str, Any]:
    """The studio's own figures without one; tables that are left empty go with it."""
    changed: dict[str, Any] = deepcopy(dict(overrides))
    keys = number.path.split(".")
    if len(keys) > 2 and keys[-3] in OPEN_TABLES:
        del keys[-1]
    places = [changed]
    for key in keys[:-1]:
        inner = places[-1].get(key)
        if not isinstance(inner, dict):
            return changed
        places.append(inner)
    places[-1].pop(keys[-1], None)
    for outer, key, inner in reversed(list(zip(places, keys, places[1:], strict=False))):
        if not inner:
            del outer[key]
    return changed


def spoken_sentence(sentence: str, about: Number) -> str:
    """A sentence about figures with every path in it told in words; the figure it is about is "this"."""
    sentence = sentence.removeprefix(f"{about.path}: ")
    if sentence.startswith(f"{about.path} "):
        sentence = f"This{sentence.removeprefix(about.path)}"
    known = numbers_by_path()
    for path in sorted(known, key=len, reverse=True):
        sentence = sentence.replace(path, f"“{full_words(known[path])}”")
    for table, (title, _) in OF_TABLES.items():
        sentence = sentence.replace(f"{table} has", f"“{title}” has")
    return sentence[:1].upper() + sentence[1:]


def full_words(number: Number) -> str:
    """A figure in words that need no table around them: "parking: garage"."""
    title = OF_TABLES[number.table][0]
    return f"{title[:1].lower()}{title[1:]}: {number.words}"


def plain(value: float) -> str:
    """A number as one writes it: 15000, 0.85, never 1e+06."""
    return f"{value:.4f}".rstrip("0").rstrip(".")


def _numbers(tables: Tables) -> Iterator[Number]:
    yield from _walk(tables.figures, (), None)


def _walk(table: Mapping[str, object], keys: tuple[str, ...], mark: Mark | None) -> Iterator[Number]:
    mark = Mark(str(table["mark"])) if "mark" in table else mark
    for key, entry in table.items():
        path = (*keys, key)
        if isinstance(entry, Mapping):
            yield from _walk(entry, path, mark)
        elif mark is not None and (values := _values(entry)):
            parts = part_words(path, len(values), table) if isinstance(entry, list | tuple) else ()
            yield Number(".".join(path), figure_words(path), values, parts, mark)


def _values(entry: object) -> tuple[float, ...]:
    """The numbers of an entry; none where it is words or names."""
    entries = list(entry) if isinstance(entry, list | tuple) else [entry]
    found = [float(item) for item in entries if isinstance(item, int | float) and not isinstance(item, bool)]
    return tuple(found) if len(found) == len(entries) else ()


def _table(entry: object) -> Mapping[str, object]:
    if not isinstance(entry, Mapping):
        raise TypeError(f"{entry!r} is not a table of figures.")
    return entry
