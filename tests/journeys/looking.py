"""Looking at a screen as different people do: with a reader's rules, on a wide and on a narrow screen, in the dark."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import axe_playwright_python
from playwright.sync_api import Page

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
EVERYTHING = {
    "type": "tag",
    "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
}
COLOURS = {"type": "rule", "values": ["color-contrast"]}
LOOKS = ((1280, "light", EVERYTHING), (390, "light", EVERYTHING), (390, "dark", COLOURS))
NARROWEST = 320
"""CSS pixels at which nothing may need scrolling sideways (WCAG 2.2, 1.4.10 Reflow)."""

_RUN = "only => axe.run({runOnly: only, resultTypes: ['violations']})"
# A page of many tables is folded in many places, all made alike.
_UNFOLD = (
    "() => [...document.querySelectorAll('main details')].slice(0, 8).forEach(part => { part.open = true; })"
)
_TOO_WIDE = """width => document.documentElement.scrollWidth <= width ? [] :
  [...document.querySelectorAll('body *')].filter(part => part.getBoundingClientRect().right > width + 1)
    .slice(0, 3).map(part => part.outerHTML.slice(0, 120))"""

_SCROLLS = """() => [...document.querySelectorAll('main *')].filter(part =>
    ['auto', 'scroll'].includes(getComputedStyle(part).overflowX) && part.scrollWidth > part.clientWidth + 1)
  .slice(0, 3).map(part => part.outerHTML.slice(0, 120))"""
FINGER = 44
"""CSS pixels that everything to be pressed is high at least; a link in the run of a sentence is as high as its line."""
_TOO_SMALL = """least => [...document.querySelectorAll(
    'main :is(a, button, summary, select, textarea, label:has(> input), input:not([type=hidden]))')].filter(part => {
  const box = part.getBoundingClientRect(), look = getComputedStyle(part);
  if (!box.width || !box.height || part.closest('.unseen, svg') || look.visibility === 'hidden') return false;
  if (part.matches('input') && part.closest('label')) return false;
  if (part.matches('a') && look.display === 'inline' && part.parentElement.innerText.trim() !== part.innerText.trim())
    return false;
  return box.height < least - 0.5;
}).slice(0, 3).map(part => `${Math.round(part.getBoundingClientRect().height)} px ` + part.outerHTML.slice(0, 120))"""


def faults(page: Page) -> list[str]:
    """What is wrong with the screen as it stands, with what is folded on it unfolded; empty where nothing is."""
    page.evaluate(_UNFOLD)
    page.evaluate(AXE)
    found = []
    for width, scheme, rules in LOOKS:
        _stretch(page, width)
        page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
        found += [f"{width} {scheme}: {_said(fault)}" for fault in page.evaluate(_RUN, rules)["violations"]]
        found += [f"{width}: too small for a finger: {part}" for part in page.evaluate(_TOO_SMALL, FINGER)]
    page.set_viewport_size({"width": NARROWEST, "height": 568})
    found += [f"{NARROWEST}: too wide: {part}" for part in page.evaluate(_TOO_WIDE, NARROWEST)]
    found += [f"{NARROWEST}: scrolls sideways: {part}" for part in page.evaluate(_SCROLLS)]
    page.emulate_media(color_scheme="light")
    page.set_viewport_size({"width": 1280, "height": 844})
    return found


def _stretch(page: Page, width: int) -> None:
    """Make the window as high as the page, so that no bar which stays put hides half of a button."""
    page.set_viewport_size({"width": width, "height": 844})
    height = int(page.evaluate("document.documentElement.scrollHeight"))
    page.set_viewport_size({"width": width, "height": max(844, height)})


def _said(fault: dict[str, Any]) -> str:
    where = "; ".join(str(node["target"]) for node in fault["nodes"][:3])
    return f"{fault['id']} ({fault['help']}) at {where}"
