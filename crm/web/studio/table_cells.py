"""Columns of tables that stack on a phone."""

from __future__ import annotations

import django_tables2 as tables  # type: ignore[import-untyped]


def cell(template: str, words: str, *, on_phone: str = "") -> tables.TemplateColumn:
    """A column. On a phone a row is one block: a "named" cell says its words first, a "whole" one has its own line."""
    return tables.TemplateColumn(
        template_name=f"studio/{template}",
        verbose_name=words,
        orderable=False,
        empty_values=(),
        attrs={"td": {"class": on_phone}},
    )
