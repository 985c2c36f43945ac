"""What was changed in the studio's settings, when and by whom."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from crm.models import Studio

SHOWN = 10


@dataclass(frozen=True)
class StudioChange:
    """One saving of the settings: what was changed in it, from what to what."""

    at: datetime
    by: str
    what: tuple[str, ...]


def studio_changes(studio: Studio) -> tuple[StudioChange, ...]:
    """The newest changes first. Figures of the engine have a history of their own."""
    columns = [
        column
        for column in Studio._meta.concrete_fields  # noqa: SLF001 - Django's own way to list columns
        if column.name not in ("id", "engine_overrides")
    ]
    rows = list(
        studio.history.select_related("history_user").order_by("-history_date", "-history_id")[
            : SHOWN * 3 + 1
        ]
    )
    found = []
    for new, old in pairwise(rows):
        what = tuple(
            f"{column.verbose_name}: {_words(getattr(old, column.attname))} to {_words(getattr(new, column.attname))}"
            for column in columns
            if getattr(old, column.attname) != getattr(new, column.attname)
        )
        if what:
            found.append(StudioChange(new.history_date, str(new.history_user or ""), what))
    return tuple(found[:SHOWN])


def _words(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"“{value}”" if value not in ("", None) else "nothing"
