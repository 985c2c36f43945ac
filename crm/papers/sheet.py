"""The shape of an aftercare sheet, as the papers take it; it is defined beside the row it is read from."""

from __future__ import annotations

from crm.selectors.sheet import (
    Advice,
    AdviceLine,
    LaidLine,
    SheetContent,
    SheetUnreadable,
    WashVisit,
    content_of,
)

__all__ = ["Advice", "AdviceLine", "LaidLine", "SheetContent", "SheetUnreadable", "WashVisit", "content_of"]
