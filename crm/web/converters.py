"""The parts of an address that name a row. What does not have the right shape is no address at all."""

from __future__ import annotations

from datetime import date

from django.urls import register_converter

from crm.models.car import REFERENCE_LETTERS


class Reference:
    """A car's public reference; lower case is understood."""

    regex = f"[{REFERENCE_LETTERS}{REFERENCE_LETTERS.lower()}]{{7}}"

    def to_python(self, value: str) -> str:
        return value.upper()

    def to_url(self, value: str) -> str:
        return value


class Number:
    """A row's number, never larger than a database can hold."""

    regex = "[1-9][0-9]{0,17}"

    def to_python(self, value: str) -> int:
        return int(value)

    def to_url(self, value: int) -> str:
        return str(value)


class Day:
    """A day as 2026-10-05."""

    regex = "[0-9]{4}-[0-9]{2}-[0-9]{2}"

    def to_python(self, value: str) -> date:
        return date.fromisoformat(value)

    def to_url(self, value: date | str) -> str:
        return value if isinstance(value, str) else value.isoformat()


register_converter(Reference, "ref")
register_converter(Number, "number")
register_converter(Day, "day")
