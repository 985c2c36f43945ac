"""The aftercare sheet on paper: what is on the car, what not to do until when, how to wash it, what to beware of."""

from __future__ import annotations

from datetime import date
from functools import cache

from django.template.loader import render_to_string
from weasyprint import CSS, HTML
from weasyprint.text.fonts import FontConfiguration

from crm.care.advice import day_words
from crm.models import Sheet
from crm.papers.own_files import FONTS, OwnFontsOnly
from crm.selectors.sheet import SheetContent, content_of, phone_words

# One whole font file for each weight: pairs of subsets under one family name print wrong signs.
_FACES = "".join(
    f'@font-face {{ font-family: "Paper"; font-weight: {weight}; src: url("{(FONTS / name).as_uri()}"); }}'
    for weight, name in ((400, "hyperlegible-regular.ttf"), (700, "hyperlegible-bold.ttf"))
)


def aftercare_pdf(sheet: Sheet) -> bytes:
    """The sheet as a PDF (PDF/UA-1), on the studio's paper, from the frozen content alone.

    It is meant to be read in black and white. Every caution of the content stands on it, whatever its length.
    Raises SheetUnreadable where the content is not a sheet.
    """
    return paper(content_of(sheet))


def paper(content: SheetContent) -> bytes:
    """The same from content that is not stored yet, for looking before handing over."""
    return printed(render_to_string("papers/aftercare.html", _context(content)))


def printed(html: str) -> bytes:
    """A page as a PDF. Nothing that it names is fetched: it has no address, and only our typefaces are given out."""
    fonts, faces = _fonts()
    document = HTML(string=html, url_fetcher=OwnFontsOnly()).render(stylesheets=[faces], font_config=fonts)
    written = document.write_pdf(pdf_variant="pdf/ua-1")
    if not isinstance(written, bytes):
        raise TypeError("The PDF library gave back no document.")
    return written


def _context(content: SheetContent) -> dict[str, object]:
    headlines = content.advice.headlines
    local = content.handed_over_at.astimezone(content.zone)
    return {
        "sheet": content,
        "handed_over": f"{_dated(local.date())}, {local:%H:%M}",
        "not_yet": headlines[1] if len(headlines) > 1 else "",
        "washing": headlines[2] if len(headlines) > 2 else "",
        "ticks": content.waits,
        # The table of layers says it already, and in full.
        "care": [line for line in content.advice.care if line.code != "also_on_car"],
        "phone": phone_words(content.studio_phone),
        "signature": content.signature if content.signature != content.studio_name else "",
        "wash_visits": [(_dated(visit.on), visit.words) for visit in content.wash_visits],
    }


def _dated(day: date) -> str:
    """A day with its year: a sheet lies in the glove box for long."""
    return f"{day_words(day)} {day.year}"


@cache
def _fonts() -> tuple[FontConfiguration, CSS]:
    """The typefaces, loaded once for each worker."""
    fonts = FontConfiguration()
    return fonts, CSS(string=_FACES, font_config=fonts, url_fetcher=OwnFontsOnly())
