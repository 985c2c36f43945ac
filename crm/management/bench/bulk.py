"""Writing millions of rows: in batches, without the model's machinery, the indexes built afterwards."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from django.core.management.color import no_style
from django.db import connection, models, transaction

BATCH = 20_000

Value = str | int | bool | None


def table_of(model: type[models.Model]) -> str:
    """The name of a model's table."""
    return model._meta.db_table  # noqa: SLF001 - where Django keeps what its documentation tells of a model


class Rows:
    """A growing table. Columns that are not named take the default of their field.

    Rows are tuples in the order of `columns`, of what both databases understand: numbers, text, truth values, and
    moments as text in UTC.
    """

    def __init__(self, model: type[models.Model], *columns: str) -> None:
        self.model = model
        self.written = 0
        self._batch: list[tuple[Value, ...]] = []
        fields = {field.attname: field for field in model._meta.concrete_fields}  # noqa: SLF001
        self._constants = tuple(
            field.get_db_prep_save(field.get_default(), connection)
            for name, field in fields.items()
            if name not in columns
        )
        names = [*columns, *(name for name in fields if name not in columns)]
        quote = connection.ops.quote_name
        self._into = (
            f"{quote(table_of(model))} ({', '.join(quote(str(fields[name].column)) for name in names)})"
        )
        self._width = len(columns)

    def add(self, *row: Value) -> None:
        """One row; it is written when enough have come together."""
        self._batch.append(row)
        if len(self._batch) >= BATCH:
            self.flush()

    def flush(self) -> None:
        """Write what has come together."""
        if not self._batch:
            return
        with connection.cursor() as cursor:
            if connection.vendor == "postgresql":
                with cursor.copy(f"COPY {self._into} FROM STDIN") as copy:
                    for row in self._batch:
                        copy.write_row((*row, *self._constants))
            else:
                places = ", ".join(["%s"] * self._width + [_literal(value) for value in self._constants])
                cursor.executemany(f"INSERT INTO {self._into} VALUES ({places})", self._batch)  # noqa: S608
        self.written += len(self._batch)
        self._batch = []


def _literal(value: object) -> str:
    """A field's default as SQL: nothing here comes from outside."""
    if value is None:
        return "NULL"
    if isinstance(value, bool | int):
        return str(int(value))
    return "'{}'".format(str(value).replace("'", "''").replace("%", "%%"))


@contextmanager
def filling(tables: Sequence[type[models.Model]]) -> Iterator[None]:
    """One transaction in which the tables have no indexes and, on PostgreSQL, no foreign keys; both come back."""
    names = [table_of(model) for model in tables]
    _careless(on=True)
    try:
        with transaction.atomic():
            drop, make = _indexes(names)
            _run(drop)
            yield
            _run(make)
            _run(connection.ops.sequence_reset_sql(no_style(), list(tables)))
    finally:
        _careless(on=False)
    if connection.vendor == "postgresql":
        _run(["ANALYZE"])


def _careless(*, on: bool) -> None:
    """Nothing in a scratch database has to survive a power cut while it is filled."""
    if connection.vendor == "sqlite":
        mode, sync = ("MEMORY", "OFF") if on else ("WAL", "NORMAL")
        _run([f"PRAGMA journal_mode={mode}", f"PRAGMA synchronous={sync}"])
        if on:
            # Rows come before what they point at, and a late parent would be looked for among all children.
            connection.disable_constraint_checking()
            _run(["PRAGMA cache_size=-400000", "PRAGMA temp_store=MEMORY", "PRAGMA threads=2"])
        else:
            connection.close()  # the next connection has the settings of every other one


def _run(statements: Sequence[str]) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def _indexes(tables: Sequence[str]) -> tuple[list[str], list[str]]:
    """What drops and what makes the indexes that stand by themselves, and PostgreSQL's foreign keys."""
    quote = connection.ops.quote_name
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(
                "SELECT tbl_name, name, sql FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL"
            )
            rows: list[Any] = [row for row in cursor.fetchall() if row[0] in tables]
            return [f"DROP INDEX {quote(name)}" for _, name, _ in rows], [sql for _, _, sql in rows]
        cursor.execute(
            "SELECT conrelid::regclass::text, conname, pg_get_constraintdef(oid) FROM pg_constraint"
            " WHERE contype = 'f' AND conrelid::regclass::text = ANY(%s)",
            [list(tables)],
        )
        keys = cursor.fetchall()
        cursor.execute(
            "SELECT indexname, indexdef FROM pg_indexes WHERE tablename = ANY(%s) AND NOT EXISTS"
            " (SELECT 1 FROM pg_constraint WHERE conindid = quote_ident(indexname)::regclass AND contype <> 'f')",
            [list(tables)],
        )
        rows = cursor.fetchall()
    drop = [f"ALTER TABLE {table} DROP CONSTRAINT {quote(name)}" for table, name, _ in keys]
    make = [f"ALTER TABLE {table} ADD CONSTRAINT {quote(name)} {words}" for table, name, words in keys]
    return drop + [f"DROP INDEX {quote(name)}" for name, _ in rows], [sql for _, sql in rows] + make
