"""Which statements a page sends, and how the database goes about them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from django.db import connection

WATCHED = frozenset({"crm_findkey", "crm_plate", "crm_layer", "crm_forecast", "crm_visit", "crm_role"})
"""Tables that grow with the studio: nothing may read one of them from end to end."""
_ALIAS = re.compile(r'(?:FROM|JOIN) "(\w+)"(?: (?:AS )?"?(\w+)"?)?')
_STEP = re.compile(r"(SCAN|SEARCH) (\w+)(?:.*? USING (?:COVERING )?INDEX (\w+))?")


@dataclass(frozen=True)
class Statement:
    """What was sent."""

    sql: str
    params: Any

    def fetch(self) -> list[tuple[Any, ...]]:
        """Send it again and fetch every row."""
        with connection.cursor() as cursor:
            cursor.execute(self.sql, self.params)
            rows: list[tuple[Any, ...]] = cursor.fetchall()
        return rows


@dataclass
class Ways:
    """How the watched tables are read: by which indexes, and which from end to end."""

    indexes: set[str] = field(default_factory=set)
    scanned: set[str] = field(default_factory=set)


@contextmanager
def sent() -> Iterator[list[Statement]]:
    """The statements that are sent while this is open."""
    found: list[Statement] = []

    def note(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
        found.append(Statement(sql, params))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        yield found


def ways_of(statements: list[Statement]) -> Ways:
    """What the database says of its plans for these statements."""
    ways = Ways()
    for statement in statements:
        if not statement.sql.lstrip("( ").upper().startswith(("SELECT", "WITH")):
            continue
        if connection.vendor == "postgresql":
            plan = Statement(f"EXPLAIN (FORMAT JSON) {statement.sql}", statement.params).fetch()
            _read_postgres(plan[0][0][0]["Plan"], ways)
        else:
            plan = Statement(f"EXPLAIN QUERY PLAN {statement.sql}", statement.params).fetch()
            _read_sqlite([row[3] for row in plan], statement.sql, ways)
    return ways


def _read_sqlite(steps: list[str], sql: str, ways: Ways) -> None:
    """SEARCH goes to places in a table, SCAN through all of it, though perhaps along an index until a limit."""
    tables: dict[str, set[str]] = {}
    for table, alias in _ALIAS.findall(sql):
        tables.setdefault(alias or table, set()).add(table)
        tables.setdefault(table, set()).add(table)
    for step in steps:
        found = _STEP.match(step)
        if found is None:
            continue
        kind, name, index = found.groups()
        watched = tables.get(name, set()) & WATCHED
        if not watched:
            continue
        if index:
            ways.indexes.add(index)
        if kind == "SCAN" and index not in IN_ORDER:
            ways.scanned |= watched


IN_ORDER = frozenset({"forecasts_due"})
"""Indexes that are walked from one end on purpose, until a limit is reached."""


def _read_postgres(node: dict[str, Any], ways: Ways) -> None:
    if node.get("Relation Name") in WATCHED and node["Node Type"] == "Seq Scan":
        ways.scanned.add(node["Relation Name"])
    if "Index Name" in node:
        ways.indexes.add(node["Index Name"])
    for part in node.get("Plans", ()):
        _read_postgres(part, ways)
