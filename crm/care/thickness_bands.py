"""What a panel's readings say, by its lowest spot on metal: the band, the words, and what to do.

The words never say how a panel came to be as it is: readings are consistent with refinishing, and prove nothing.
Bands are common practice as a range, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from crm.care.paint_terms import MODE_NAMES, GaugeMode, Heaviest
from crm.care.tables import DEFAULTS
from crm.care.thickness import PanelReadings, um
from crm.care.thickness_figures import Band, ThicknessFigures

LETTERS: dict[Heaviest, str] = {
    Heaviest.CUT: "A",
    Heaviest.LIGHT: "B",
    Heaviest.FINISHING: "C",
    Heaviest.NOTHING: "D",
}
"""A letter for a band, by the hardest work that it still allows: to be read where colours are not told apart."""

LETTER_WORDS: dict[str, str] = {
    "A": "any work",
    "B": "light work at most",
    "C": "finishing at most",
    "D": "no machine polishing",
}

NOT_A_MEASURE = "A gauge gives the whole film, not the clear: every figure of what is left is an estimate."


@dataclass(frozen=True, slots=True)
class Judged:
    """What a panel's readings say: the band (None where none applies), the words, and what to do.

    `words` never say how a panel came to be as it is.
    """

    band: Band | None
    words: str
    action: str
    remarks: tuple[str, ...]


def band_of(um: float, figures: ThicknessFigures = DEFAULTS.thickness) -> Band:
    """The band of a lowest spot on metal, µm.

    A value on a line belongs to the band above it (80 is thin, not very thin), except on the last line, which
    has to be passed. Common practice as a range, no source.
    """
    found = next(band for band in reversed(figures.bands) if um >= band.low)
    return figures.bands[-2] if found is figures.bands[-1] and um == found.low else found


def judged(panel: PanelReadings, figures: ThicknessFigures = DEFAULTS.thickness) -> Judged:
    """What the readings of a panel say, by the lowest spot on metal."""
    lowest = panel.on_metal
    if lowest is None:
        return Judged(None, *_no_band(panel, figures), panel.remarks)
    band = band_of(lowest, figures)
    remarks = list(panel.remarks)
    if panel.under_film:
        remarks.append(f"Part of it is film, not repaint: {_film(figures)}")
    if panel.edge is not None and panel.edge < figures.edge:
        remarks.append(f"An edge is down to {um(panel.edge)} µm.")
    return Judged(band, f"Lowest spot {um(lowest)} µm. {band.meaning}", band.action, tuple(remarks))


def figures_in_words(panel: PanelReadings) -> str:
    """The figures of a panel in a line: "lowest 92, median 101, highest 108 µm, 9 spots (steel, magnetic)"."""
    if panel.minimum is None or panel.median is None or panel.maximum is None:
        return MODE_NAMES[GaugeMode.NOT_MEASURABLE] if panel.not_measurable else "no figures"
    return (
        f"lowest {um(panel.minimum)}, median {um(panel.median)}, highest {um(panel.maximum)} µm,"
        f" {panel.n} spot{'s' * (panel.n > 1)} ({'; '.join(MODE_NAMES[mode] for mode in sorted(panel.modes))})"
    )


def coating_in_words(figures: ThicknessFigures = DEFAULTS.thickness) -> str:
    """Why a coating is not looked for with a gauge."""
    adds = figures.coating_adds
    return f"A coating adds {adds.low:g} to {adds.high:g} µm: a gauge does not see it."


def _no_band(panel: PanelReadings, figures: ThicknessFigures) -> tuple[str, str]:
    if panel.under_film:
        return f"Film, not repaint: {_film(figures)}", "Nothing is said of the paint beneath."
    if panel.not_measurable:
        words = MODE_NAMES[GaugeMode.NOT_MEASURABLE]
        return (
            f"{words[:1].upper()}{words[1:]}.",
            "Work gently: plastic heats up and often carries less clear.",
        )
    if panel.minimum is not None:
        return (
            f"Lowest spot {um(panel.minimum)} µm by ultrasound.",
            "Kept, not judged: the bands are for paint on metal.",
        )
    if panel.edge is not None:
        return f"Only edges were measured, down to {um(panel.edge)} µm.", "Measure the flat of the panel."
    return "Not measured.", "Measure before any machine work."


def _film(figures: ThicknessFigures) -> str:
    adds = figures.film_adds
    return f"film adds about {adds.low:g} to {adds.high:g} µm."
