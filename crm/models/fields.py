"""Columns of our own."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.core.exceptions import ValidationError
from django.db import models

from crm.care.surfaces import Surfaces

if TYPE_CHECKING:
    _SurfacesColumn = models.Field[Surfaces, Surfaces]
    _TextColumn = models.CharField[str, str]
else:
    _SurfacesColumn = models.Field
    _TextColumn = models.CharField


class SurfaceSetField(_SurfacesColumn):
    """A set of surfaces in one signed 64-bit column, one bit a surface."""

    description = "A set of surfaces of a car"

    def get_internal_type(self) -> str:
        return "BigIntegerField"

    def from_db_value(self, value: int | None, expression: object, connection: object) -> Surfaces | None:
        """A stored number as a set."""
        return None if value is None else Surfaces(value)

    def to_python(self, value: object) -> Surfaces | None:
        """A set from whatever a form, a fixture or code hands over."""
        if value is None or isinstance(value, Surfaces):
            return value
        try:
            return Surfaces(int(str(value)))
        except ValueError as error:
            raise ValidationError("That is not a set of surfaces.", code="surfaces") from error

    def get_prep_value(self, value: Any) -> int | None:
        """The number to store."""
        value = self.to_python(value)
        return None if value is None else value.bits

    def value_to_string(self, obj: models.Model) -> str:
        """The number, for fixtures."""
        return str(self.get_prep_value(self.value_from_object(obj)))


class KeyField(_TextColumn):
    """A short text that is looked up by how it begins, with an index, on every database."""


@KeyField.register_lookup
class Begins(models.Lookup):
    """`key__begins="ab"`: a range where text is ordered by code point, LIKE where an index serves LIKE."""

    lookup_name = "begins"
    prepare_rhs = False

    def as_sql(self, compiler: Any, connection: Any) -> tuple[str, tuple[Any, ...]]:
        """A half-open range of keys."""
        column, params = self.process_lhs(compiler, connection)
        start = str(self.rhs)
        return f"({column} >= %s AND {column} < %s)", (*params, *params, start, start + "\U0010ffff")

    def as_postgresql(self, compiler: Any, connection: Any) -> tuple[str, tuple[Any, ...]]:
        """LIKE, which the index's pattern operators serve in any locale."""
        column, params = self.process_lhs(compiler, connection)
        return f"{column} LIKE %s", (*params, connection.ops.prep_for_like_query(str(self.rhs)) + "%")


@KeyField.register_lookup
class BeginsAmongFew(models.Lookup):
    """`key__begins_among_few="ab"`: the same question to rows that another condition makes few.

    SQLite takes a range of keys for narrower than it is, and would walk all of it for each of those rows: no index
    serves this form.
    """

    lookup_name = "begins_among_few"
    prepare_rhs = False

    def as_sql(self, compiler: Any, connection: Any) -> tuple[str, tuple[Any, ...]]:
        """The start of the key, cut off and compared."""
        column, params = self.process_lhs(compiler, connection)
        start = str(self.rhs)
        return f"substr({column}, 1, {len(start)}) = %s", (*params, start)
