"""The bands of the lowest spot, both sides of every line. Common practice as a range, no source."""

from __future__ import annotations

import pytest

from crm.care.paint_terms import GaugeMode, Heaviest, SpotPlace
from crm.care.tables import DEFAULTS
from crm.care.thickness import PanelReadings
from crm.care.thickness_bands import band_of, coating_in_words, figures_in_words, judged
from tests.care.sample_paint import panel, spot

LINES = [
    (70, "stop", "very_thin"),
    (80, "very_thin", "thin"),
    (100, "thin", "normal_thin"),
    (120, "normal_thin", "usual"),
    (180, "usual", "refinished"),
    (300, "refinished", "heavy"),
]


@pytest.mark.parametrize(("line", "under", "over"), LINES)
def test_a_spot_on_a_line_belongs_to_the_band_above(line: float, under: str, over: str) -> None:
    assert [band_of(um).key for um in (line - 0.1, line, line + 0.1)] == [under, over, over]


def test_filler_is_only_over_its_line() -> None:
    assert [band_of(um).key for um in (999.9, 1000, 1000.1, 5000)] == ["heavy", "heavy", "filler", "filler"]


def test_the_thinnest_reading_is_a_stop() -> None:
    assert band_of(0.1).key == "stop"


def test_each_band_says_how_far_one_may_go() -> None:
    assert {band.key: band.heaviest for band in DEFAULTS.thickness.bands} == {
        "stop": Heaviest.NOTHING,
        "very_thin": Heaviest.NOTHING,
        "thin": Heaviest.LIGHT,
        "normal_thin": Heaviest.CUT,
        "usual": Heaviest.CUT,
        "refinished": Heaviest.CUT,
        "heavy": Heaviest.LIGHT,
        "filler": Heaviest.LIGHT,
    }


def test_a_panel_is_judged_by_its_lowest_spot() -> None:
    bonnet = judged(panel(92, 101, 108))
    assert bonnet.band is not None
    assert (bonnet.band.key, bonnet.words) == ("thin", "Lowest spot 92 µm. Thin for a whole paint system.")
    assert bonnet.action == "A refining polish only, no compound, and say so in writing."
    assert bonnet.remarks == ()


def test_thick_paint_is_consistent_with_refinishing_and_nothing_more_is_said() -> None:
    assert judged(panel(210)).words == (
        "Lowest spot 210 µm. Consistent with refinishing, or with heavy factory paint."
    )
    said = " ".join(f"{band.name} {band.meaning} {band.action}".lower() for band in DEFAULTS.thickness.bands)
    assert [word for word in ("accident", "crash", "damage", "repair", "hidden") if word in said] == []
    thick = [band for band in DEFAULTS.thickness.bands if band.low >= DEFAULTS.thickness.thick]
    assert [band.meaning.startswith("Consistent with ") for band in thick] == [True] * 3


def test_film_is_not_a_repaint_and_the_paint_beneath_is_not_judged() -> None:
    found = judged(PanelReadings((spot(310, 312, 308, film=True),)))
    assert (found.band, found.words) == (None, "Film, not repaint: film adds about 150 to 250 µm.")
    assert found.action == "Nothing is said of the paint beneath."


def test_film_on_a_part_leaves_the_bare_part_judged() -> None:
    found = judged(PanelReadings((spot(310, 312, 308, film=True), spot(118, 118, 118))))
    assert found.band is not None
    assert found.band.key == "normal_thin"
    assert found.remarks == ("Part of it is film, not repaint: film adds about 150 to 250 µm.",)


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        (PanelReadings((spot(),)), "Not measurable: plastic, carbon or glass-fibre."),
        (PanelReadings((spot(64, 64, 64, mode=GaugeMode.ULTRASONIC),)), "Lowest spot 64 µm by ultrasound."),
        (
            PanelReadings((spot(75, 75, 75, place=SpotPlace.EDGE),)),
            "Only edges were measured, down to 75 µm.",
        ),
        (PanelReadings(()), "Not measured."),
    ],
)
def test_without_paint_on_metal_there_is_no_band(readings: PanelReadings, words: str) -> None:
    assert (judged(readings).band, judged(readings).words) == (None, words)


@pytest.mark.parametrize(("edge", "remarks"), [(70, ()), (69.9, ("An edge is down to 69.9 µm.",))])
def test_a_thin_edge_is_said_beside_the_panel(edge: float, remarks: tuple[str, ...]) -> None:
    assert judged(panel(118, edge=edge)).remarks == remarks


def test_figures_stand_in_a_line() -> None:
    assert figures_in_words(panel(101, 92, 108)) == (
        "lowest 92, median 101, highest 108 µm, 3 spots (steel, magnetic)"
    )
    assert figures_in_words(PanelReadings((spot(),))) == "not measurable: plastic, carbon or glass-fibre"
    assert figures_in_words(PanelReadings(())) == "no figures"


def test_a_gauge_does_not_see_a_coating() -> None:
    assert coating_in_words() == "A coating adds 0 to 3 µm: a gauge does not see it."


def test_a_studio_judges_by_its_own_lines() -> None:
    own = DEFAULTS.with_overrides({"thickness": {"bands": {"limits": [75, 90, 100, 120, 180, 300, 1000]}}})
    assert [band_of(um, own.thickness).key for um in (74, 89, 90)] == ["stop", "very_thin", "thin"]
    assert band_of(74).key == "very_thin"
