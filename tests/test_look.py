"""Promises of the look that numbers can keep: contrast, weight, no script or style in a page, whole fonts."""

from __future__ import annotations

import gzip
import re
from itertools import product
from pathlib import Path

import pytest
from django.conf import settings
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

pytestmark = pytest.mark.alike

PROJECT: Path = settings.PROJECT
STATIC = PROJECT / "crm" / "static" / "crm"
TOKENS = (STATIC / "css" / "tokens.css").read_text(encoding="utf-8")


def _colours(block: str) -> dict[str, str]:
    return dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", block))


def _block(selector: str) -> dict[str, str]:
    return _colours(TOKENS.split(selector + " {", 1)[1].split("}", 1)[0])


LIGHT = _block(":root")
DARK = _block(':root[data-scheme="dark"]')


def _luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2, definition of relative luminance)."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.2, definition of contrast ratio)."""
    lighter, darker = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_of_known_pairs() -> None:
    """Black on white is 21 (WCAG 2.2); #767676 on white is the well-known lightest grey that passes 4.5."""
    assert _contrast("#000000", "#ffffff") == pytest.approx(21)
    assert _contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("scheme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize(
    ("ink", "ground"),
    [
        *product(("ink", "ink-soft", "teal", "amber", "rust"), ("ground", "raised", "sunk")),
        ("ink", "amber-wash"),
        ("ink", "rust-wash"),
        ("ink", "teal-wash"),
        ("rust", "rust-wash"),
        ("amber", "amber-wash"),
        ("plate-ink", "plate"),
    ],
)
def test_words_can_be_read_on_every_ground(scheme: dict[str, str], ink: str, ground: str) -> None:
    """4.5 to 1 for text (WCAG 2.2, success criterion 1.4.3)."""
    assert _contrast(scheme[ink], scheme[ground]) >= 4.5


@pytest.mark.parametrize("scheme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("ground", ["ground", "raised"])
def test_edges_of_fields_can_be_seen(scheme: dict[str, str], ground: str) -> None:
    """3 to 1 for the parts that make a control recognisable (WCAG 2.2, success criterion 1.4.11)."""
    assert _contrast(scheme["edge"], scheme[ground]) >= 3


def test_device_dark_and_chosen_dark_are_the_same() -> None:
    assert _block(':root:not([data-scheme="light"])') == DARK
    assert DARK.keys() == LIGHT.keys()


def test_first_page_stays_under_its_weight() -> None:
    """100 kB compressed with type and script; htmx is the heaviest part. Fonts are compressed already."""
    import django_htmx

    htmx = Path(str(django_htmx.__file__)).parent / "static" / "django_htmx" / "htmx-2.min.js"
    text = [*(STATIC / "css").glob("*.css"), *(STATIC / "js").glob("*.js"), STATIC / "icons.svg", htmx]
    packed = sum(len(gzip.compress(path.read_bytes(), 6)) for path in text)
    fonts = sum(path.stat().st_size for path in (STATIC / "fonts").glob("hyperlegible-latin-[47]00.woff2"))
    assert fonts > 20_000
    assert packed + fonts < 85_000  # which leaves 15 kB for the page itself


def _templates() -> list[Path]:
    return [
        path
        for path in (PROJECT / "templates").rglob("*.html")
        if not {"mail", "papers"} & set(path.relative_to(PROJECT / "templates").parts)
    ]


def test_no_page_holds_script_or_style_of_its_own() -> None:
    """The content security policy forbids them; mail and paper are no pages."""
    forbidden = re.compile(
        r"<style|\sstyle=|\son[a-z]+=|<script(?![^>]*\ssrc=)|javascript:|hx-on|[\"']js:", re.IGNORECASE
    )
    found = {
        str(path.relative_to(PROJECT)): match.group(0)
        for path in _templates()
        if (match := forbidden.search(path.read_text(encoding="utf-8")))
    }
    assert len(_templates()) > 10
    assert found == {}


@pytest.mark.parametrize(("weight", "value"), [("regular", 400), ("bold", 700)])
def test_paper_has_one_whole_face_for_each_weight(weight: str, value: int) -> None:
    font = TTFont(STATIC / "fonts" / f"hyperlegible-{weight}.ttf")
    letters = font.getBestCmap()
    wanted = "Greywater Yard, Skerrin: 17.0 °C, 61 %, £120 — “Łódź, Čapek, Şahin, Ő, ß, é, ñ, ½”"
    assert [letter for letter in wanted if ord(letter) not in letters] == []
    assert font["OS/2"].usWeightClass == value
    assert "fvar" not in font
    assert "tnum" in {record.FeatureTag for record in font["GSUB"].table.FeatureList.FeatureRecord}


def test_type_is_shipped_with_its_licence() -> None:
    licence = (STATIC / "fonts" / "OFL.txt").read_text(encoding="utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence
