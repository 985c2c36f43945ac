"""The files that go with an aftercare note."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.text import slugify

from crm.models import Sheet
from crm.papers.aftercare import aftercare_pdf
from crm.papers.calendar import aftercare_ics
from crm.selectors.sheet import content_of


@dataclass(frozen=True, slots=True)
class PaperFile:
    """A file with its name and its type."""

    name: str
    content: bytes
    mimetype: str


def aftercare_files(sheet: Sheet) -> tuple[PaperFile, PaperFile]:
    """The sheet as PDF and its calendar file, named after the car as one speaks of it."""
    name = f"aftercare-{slugify(content_of(sheet).car_words) or 'car'}"
    return (
        PaperFile(f"{name}.pdf", aftercare_pdf(sheet), "application/pdf"),
        PaperFile(f"{name}.ics", aftercare_ics(sheet), "text/calendar"),
    )
