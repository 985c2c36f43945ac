"""The parts of an address that name a row. What does not have the right shape is no address at all."""

from __future__ import annotations

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


register_converter(Reference, "ref")
register_converter(Number, "number")
