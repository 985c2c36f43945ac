"""What became of a spot between two visits: noise, a change, or nothing that may be compared."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from crm.care.paint_change import (
    PaintBreak,
    PassSet,
    Verdict,
    change,
    event_of,
    event_of_layer,
    spot_history,
)
from crm.care.paint_terms import GaugeMode, PaintEvent, SpotPlace
from crm.care.tables import DEFAULTS
from crm.care.terms import Process, ProductClass
from crm.care.thickness import Reading, Spot
from tests.care.sample_paint import moment, spot

FIRST, NEXT, LAST = date(2022, 5, 3), date(2023, 5, 8), date(2025, 10, 2)


def _pair(before: tuple[float, ...], after: tuple[float, ...]) -> tuple[Spot, Spot]:
    return spot(*before, on=FIRST), spot(*after, on=NEXT)


def test_four_micrometres_are_noise_however_clear_the_figures() -> None:
    # Arithmetic: s = 1.53 on both days, s.e. = sqrt(1.53²/3 + 1.53²/3) = 1.25, so 3.2 errors, and still under 5.
    found = change(*_pair((118, 121, 119), (114, 117, 115)))
    assert (found.verdict, round(found.error or 0, 2)) == (Verdict.NOISE, 1.25)
    assert found.delta == pytest.approx(-4)
    assert found.words == "119.3 to 115.3 µm: too little to tell from the noise of measuring."


def test_two_micrometres_are_never_said_to_have_been_removed() -> None:
    found = change(*_pair((118, 118, 118), (116, 116, 116)))
    assert (found.verdict, found.error) == (Verdict.NOISE, 0)
    assert "thinner" not in found.words


@pytest.mark.parametrize(
    ("after", "verdict"),
    [
        ((115.0, 115.0, 115.0), Verdict.NOISE),  # 5 is not over 5
        ((114.9, 114.9, 114.9), Verdict.THINNER),
        ((125.0, 125.0, 125.0), Verdict.NOISE),
        ((125.1, 125.1, 125.1), Verdict.THICKER),
    ],
)
def test_a_change_has_to_exceed_five(after: tuple[float, ...], verdict: Verdict) -> None:
    assert change(*_pair((120, 120, 120), after)).verdict is verdict


def test_five_in_thirds_is_not_over_five() -> None:
    assert change(*_pair((119, 119, 120), (114, 114, 115))).verdict is Verdict.NOISE


@pytest.mark.parametrize(
    # Readings a, 0, -a about their mean on both days: s = a, s.e. = a * sqrt(2/3); for 6 the line is 2 s.e. = 9.80.
    ("fall", "verdict"),
    [(9.7, Verdict.NOISE), (9.9, Verdict.THINNER)],
)
def test_a_change_has_to_exceed_two_standard_errors(fall: float, verdict: Verdict) -> None:
    before, after = (126.0, 120.0, 114.0), (126 - fall, 120 - fall, 114 - fall)
    found = change(*_pair(before, after))
    assert (found.verdict, round(2 * (found.error or 0), 2)) == (verdict, 9.80)


def test_a_change_is_said_plainly() -> None:
    assert change(*_pair((120, 120, 120), (111, 111, 111))).words == "120 to 111 µm: thinner by about 9 µm."
    assert change(*_pair((120, 120, 120), (180, 180, 180))).words == (
        "120 to 180 µm: thicker by about 60 µm. Paint does not grow: ask what was done to it, and measure again."
    )


STEEL, LATER = spot(120, 120, 120, on=FIRST), spot(120, 120, 120, on=LAST)


@pytest.mark.parametrize(
    ("unlike", "why"),
    [
        (spot(114, 114, 114, on=NEXT, mode=GaugeMode.EDDY), "the gauge measured in another mode"),
        (spot(114, 114, 114, on=NEXT, gauge="the old one"), "another gauge"),
        (spot(114, 114, on=NEXT), "too few readings to be a spot"),
        (spot(on=NEXT), "nothing was measurable"),
        (spot(310, 310, 310, on=NEXT, film=True), "film lay on it"),
    ],
)
def test_what_is_not_alike_is_not_compared(unlike: Spot, why: str) -> None:
    for found in (change(STEEL, unlike), change(unlike, LATER)):
        assert (found.verdict, found.why_not, found.delta) == (Verdict.NOT_COMPARED, why, None)
        assert found.words == f"Not compared: {why}."


def test_readings_of_two_kinds_at_one_spot_are_not_compared() -> None:
    both = replace(LATER, readings=(*LATER.readings, Reading(140, GaugeMode.EDDY)))
    assert change(both, replace(both, at=moment(LAST, 10))).why_not == "the gauge measured in another mode"
    assert (
        spot_history([STEEL, both])
        == "120 -> unclear (2025, not compared: the gauge measured in another mode)"
    )


@pytest.mark.parametrize(
    "other", [spot(1, 1, 1, label="2", on=NEXT), spot(1, 1, 1, place=SpotPlace.EDGE, on=NEXT)]
)
def test_only_the_same_spot_is_compared(other: Spot) -> None:
    with pytest.raises(ValueError, match="Only the same spot"):
        change(spot(120, 120, 120, on=FIRST), other)


def test_the_earlier_visit_comes_first() -> None:
    with pytest.raises(ValueError, match="the earlier visit first"):
        change(LATER, spot(120, 120, 120, on=FIRST))


@pytest.mark.parametrize(
    ("event", "words"),
    [
        (PaintEvent.RESPRAYED, "Not compared: the panel was resprayed on 12 June 2022."),
        (PaintEvent.REPLACED, "Not compared: the panel was replaced on 12 June 2022."),
        (PaintEvent.FILM_LAID, "Not compared: the panel was covered with film on 12 June 2022."),
        (PaintEvent.FILM_REMOVED, "Not compared: the panel was freed of its film on 12 June 2022."),
    ],
)
def test_a_baseline_ends_with_what_was_done_to_the_panel(event: PaintEvent, words: str) -> None:
    breaks = [PaintBreak(date(2022, 6, 12), event)]
    assert change(*_pair((120, 120, 120), (210, 210, 210)), breaks=breaks).words == words


@pytest.mark.parametrize(
    ("brk", "compared"),
    [
        (PaintBreak(date(2022, 5, 2), PaintEvent.RESPRAYED), True),
        (PaintBreak(FIRST, PaintEvent.RESPRAYED), False),  # before or after the reading, nobody knows
        (PaintBreak(NEXT, PaintEvent.RESPRAYED), False),
        (PaintBreak(date(2023, 5, 9), PaintEvent.RESPRAYED), True),
        (PaintBreak(FIRST, PaintEvent.FILM_REMOVED, at=moment(FIRST, 9)), True),
        (PaintBreak(FIRST, PaintEvent.FILM_REMOVED, at=moment(FIRST, 10)), False),
        (PaintBreak(NEXT, PaintEvent.FILM_LAID, at=moment(NEXT, 9)), False),
        (PaintBreak(NEXT, PaintEvent.FILM_LAID, at=moment(NEXT, 10)), True),
    ],
)
def test_a_baseline_holds_on_either_side_of_a_break(brk: PaintBreak, compared: bool) -> None:
    found = change(*_pair((120, 120, 120), (119, 119, 119)), breaks=[brk])
    assert (found.verdict is Verdict.NOISE) == compared


def test_the_last_break_is_the_one_that_is_said() -> None:
    breaks = [
        PaintBreak(date(2023, 1, 9), PaintEvent.FILM_LAID),
        PaintBreak(date(2022, 6, 12), PaintEvent.RESPRAYED),
    ]
    found = change(*_pair((120, 120, 120), (119, 119, 119)), breaks=breaks)
    assert found.why_not == "the panel was covered with film on 9 January 2023"


def test_processes_and_layers_say_whether_they_end_a_baseline() -> None:
    ends = {process: event_of(process) for process in Process if event_of(process)}
    assert ends == {
        Process.RESPRAY: PaintEvent.RESPRAYED,
        Process.PANEL_REPLACED: PaintEvent.REPLACED,
        Process.FILM_REMOVED: PaintEvent.FILM_REMOVED,
    }
    covers = [kind for kind in ProductClass if event_of_layer(kind)]
    assert covers == [ProductClass.PAINT_FILM, ProductClass.COLOUR_WRAP]


def test_a_spot_is_told_through_the_years() -> None:
    spots = [
        spot(114, 114, 114, on=date(2025, 10, 2)),
        spot(118, 118, 118, on=date(2023, 5, 3)),
        spot(115, 115, 115, on=date(2023, 5, 4)),
    ]
    passes = [PassSet(date(2023, 5, 3), Process.ONE_STEP_POLISH)]
    assert spot_history(spots, passes=passes) == "118 -> 115 (one-step, 2023) -> 114 (2025, noise)"


def test_work_of_a_day_stands_once_and_after_the_reading_of_that_day() -> None:
    spots = [spot(um, um, um, on=on) for um, on in ((130, FIRST), (128, NEXT), (118, LAST))]
    by_day = [PassSet(NEXT, Process.CUT), PassSet(NEXT, Process.FINE_POLISH), PassSet(NEXT, Process.CUT)]
    assert spot_history(spots, passes=by_day) == (
        "130 -> 128 (2023, noise) -> 118 (cut, 2023; finishing, 2023; thinner)"
    )
    by_hour = [PassSet(NEXT, Process.CUT, at=moment(NEXT, 8))]
    assert spot_history(spots, passes=by_hour) == "130 -> 128 (cut, 2023) -> 118 (2025, thinner)"
    before_and_after = [PassSet(date(2020, 1, 1), Process.CUT), PassSet(LAST, Process.CUT)]
    assert spot_history(spots, passes=before_and_after) == "130 -> 128 (2023, noise) -> 118 (2025, thinner)"


def test_work_between_two_readings_of_one_day_stands_between_them() -> None:
    spots = [spot(92, 92, 92, on=NEXT, hour=9), spot(91, 91, 91, on=NEXT, hour=17), spot(90, 90, 90, on=LAST)]
    passes = [PassSet(NEXT, Process.ONE_STEP_POLISH)]
    assert spot_history(spots, passes=passes) == "92 -> 91 (one-step, 2023) -> 90 (2025, noise)"


def test_a_history_says_where_it_breaks_off() -> None:
    spots = [spot(96, 96, 96, on=FIRST), spot(210, 210, 210, on=NEXT), spot(on=LAST)]
    breaks = [PaintBreak(date(2022, 6, 12), PaintEvent.RESPRAYED)]
    assert spot_history(spots, breaks=breaks) == (
        "96 -> 210 (2023, not compared: the panel was resprayed on 12 June 2022) -> not measurable"
        " (2025, not compared: nothing was measurable)"
    )
    assert (spot_history([]), spot_history(spots[:1])) == ("", "96")


def test_work_that_takes_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match=r"^Clay takes no paint away\.$"):
        PassSet(FIRST, Process.CLAY)


def test_a_studio_may_trust_its_gauge_less() -> None:
    own = DEFAULTS.with_overrides({"thickness": {"gauge": {"change": {"noise": 8}}}}).thickness
    pair = _pair((120, 120, 120), (113, 113, 113))
    assert (change(*pair).verdict, change(*pair, figures=own).verdict) == (Verdict.THINNER, Verdict.NOISE)
