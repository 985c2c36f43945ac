"""What a panel can still stand, and every reason to do less, on both sides of its line.

Removals, allowances and limits are common practice as ranges, no source.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.paint_budget import (
    FIRST_COSTS_MOST,
    MEASURE_AGAIN,
    NOT_MEASURED,
    PLASTIC,
    Counts,
    PaintBudget,
    paint_budget,
    removed_by,
    removed_from,
)
from crm.care.paint_change import POLISHES, PaintBreak, PassSet
from crm.care.paint_terms import CutWeight, Finish, Heaviest, PaintEvent, Past
from crm.care.polish_rules import PanelRecord, cuts_of
from crm.care.tables import DEFAULTS
from crm.care.terms import Paint, Process
from crm.care.thickness import PanelReadings
from crm.care.thickness_bands import NOT_A_MEASURE
from crm.care.thickness_figures import Span
from tests.care.sample_paint import moment, panel, spot

MEASURED, TODAY = date(2025, 5, 3), date(2026, 1, 15)
LIGHT, FINE, CUT, SANDING = Process.ONE_STEP_POLISH, Process.FINE_POLISH, Process.CUT, Process.SANDING


def _done(*processes: Process, weight: CutWeight | None = CutWeight.MEDIUM) -> tuple[PassSet, ...]:
    """Each a year after the other, and all of them before the panel was measured."""
    return tuple(
        PassSet(date(2018 + year, 3, 1), process, weight if process is CUT else None)
        for year, process in enumerate(processes)
    )


def _budget(past: Past = Past.NEW, **facts: Any) -> PaintBudget:
    facts.setdefault("readings", panel(130, 135, 140))
    return paint_budget(PanelRecord(past, **facts), today=TODAY)


def _keys(found: PaintBudget) -> list[str]:
    return [reason.key for reason in found.reasons]


@pytest.mark.parametrize(
    ("work", "takes"),
    [
        (PassSet(MEASURED, FINE), Span(0.3, 1)),
        (PassSet(MEASURED, LIGHT), Span(1, 3)),
        (PassSet(MEASURED, CUT, CutWeight.MEDIUM), Span(2, 4)),
        (PassSet(MEASURED, CUT, CutWeight.HEAVY), Span(3, 6)),
        (PassSet(MEASURED, CUT), Span(2, 6)),  # either
        (PassSet(MEASURED, SANDING), Span(5, 12)),
    ],
)
def test_each_kind_of_work_takes_its_range(work: PassSet, takes: Span) -> None:
    assert removed_by(work) == takes


@pytest.mark.parametrize(
    ("past", "processes", "gone", "left"),
    [
        (Past.NEW, (), Span(0, 0), Span(8, 12)),
        (Past.USED, (), Span(3, 5), Span(3, 9)),
        (Past.UNKNOWN, (), Span(0, 5), Span(3, 12)),
        (Past.NEW, (CUT, FINE), Span(2.3, 5), Span(3, 9.7)),
        (Past.USED, (LIGHT,), Span(4, 8), Span(0, 8)),
        (Past.USED, (CUT, CUT), Span(7, 13), Span(0, 5)),  # never less than nothing
    ],
)
def test_what_is_left_is_a_range(past: Past, processes: tuple[Process, ...], gone: Span, left: Span) -> None:
    found = _budget(past, passes=_done(*processes))
    assert [found.removed.low, found.removed.high] == pytest.approx([gone.low, gone.high])
    assert [found.left.low, found.left.high] == pytest.approx([left.low, left.high])


def test_sanding_includes_the_cut_that_clears_its_marks() -> None:
    day = date(2024, 3, 1)
    sanded = PassSet(day, SANDING)
    assert removed_from(PanelRecord(Past.NEW, passes=(sanded, PassSet(day, CUT)))) == Span(5, 12)
    # Of two cuts the lighter one cleared the marks, whichever was written down first.
    heavy, medium = PassSet(day, CUT, CutWeight.HEAVY), PassSet(day, CUT, CutWeight.MEDIUM)
    for cuts in ((heavy, medium), (medium, heavy)):
        assert removed_from(PanelRecord(Past.NEW, passes=(*cuts, sanded))) == Span(8, 18)
    assert removed_from(PanelRecord(Past.NEW, passes=(PassSet(day, CUT), sanded, PassSet(day, CUT)))) == Span(
        7, 18
    )
    later = PassSet(day + timedelta(days=1), CUT)
    assert removed_from(PanelRecord(Past.NEW, passes=(sanded, later))) == Span(7, 18)
    assert [cuts_of(work) for work in ((sanded, PassSet(day, CUT)), (sanded, later))] == [1, 2]


def test_the_careful_count_is_said_in_words() -> None:
    used = _budget(Past.USED)
    assert (used.careful, used.generous) == (Counts(3, 1, 0), Counts(30, 9, 2))
    assert used.words("bonnet") == "one light, no more cuts on this bonnet"
    new = _budget()
    assert new.careful == Counts(finishing=8, light=2, cuts=2)
    assert new.words("roof") == "two cuts or two light on this roof, not both"
    assert new.generous_words("roof") == "two cuts or 12 light on this roof, not both"


@pytest.mark.parametrize(
    ("past", "facts", "words"),
    [
        (Past.NEW, {"passes": _done(CUT)}, "one cut or one light on this bonnet, not both"),
        (Past.NEW, {"passes": _done(CUT, FINE)}, "one light, no more cuts on this bonnet"),
        (Past.NEW, {"readings": panel(92, 101)}, "two light, no cuts on this bonnet"),
        (Past.USED, {"passes": _done(FINE, FINE)}, "one finishing, nothing heavier on this bonnet"),
        (Past.USED, {"passes": _done(LIGHT)}, "no more polishing on this bonnet"),
        (Past.NEW, {"readings": panel(78)}, "no more polishing on this bonnet"),
    ],
)
def test_every_count_has_its_words(past: Past, facts: dict[str, Any], words: str) -> None:
    assert _budget(past, **facts).words("bonnet") == words


def test_nothing_speaks_against_healthy_paint() -> None:
    found = _budget()
    assert (found.reasons, found.heaviest, found.instead) == ((), Heaviest.CUT, ())
    assert found.notes == (NOT_A_MEASURE, FIRST_COSTS_MOST)


@pytest.mark.parametrize(
    ("lowest", "keys", "heaviest"),
    [
        (69.9, ["stop"], Heaviest.NOTHING),
        (70.0, ["very_thin"], Heaviest.NOTHING),
        (79.9, ["very_thin"], Heaviest.NOTHING),
        (80.0, ["thin"], Heaviest.LIGHT),
        (99.9, ["thin"], Heaviest.LIGHT),
        (100.0, [], Heaviest.CUT),
        (179.9, [], Heaviest.CUT),
        (180.0, ["refinish"], Heaviest.NOTHING),
    ],
)
def test_the_lowest_spot_bounds_the_work(lowest: float, keys: list[str], heaviest: Heaviest) -> None:
    found = _budget(readings=panel(lowest, 200, 200))
    assert (_keys(found), found.heaviest) == (keys, heaviest)


def test_under_the_stop_nothing_is_left_but_protection() -> None:
    found = _budget(readings=panel(66))
    assert found.reasons[0].words == (
        "Its lowest spot is 66 µm. No abrasives. A coating or film only, and signed for."
    )
    assert found.instead == ("leave it", "protect it with a coating", "lay protective film")
    assert found.generous == Counts(0, 0, 0)


@pytest.mark.parametrize(
    ("processes", "keys"),
    [((CUT,), []), ((CUT, CUT), ["cuts"]), ((SANDING,), ["removed"]), ((FINE, FINE, LIGHT), [])],
)
def test_two_cuts_are_enough(processes: tuple[Process, ...], keys: list[str]) -> None:
    assert _keys(_budget(passes=_done(*processes))) == keys


def test_a_count_of_cuts_never_goes_past_two_in_all() -> None:
    assert _budget(passes=_done(CUT)).generous.cuts == 1
    own = DEFAULTS.with_overrides({"thickness": {"again": {"cuts": 4}}}).thickness
    record = PanelRecord(Past.NEW, passes=_done(CUT), readings=panel(130))
    assert paint_budget(record, today=TODAY, figures=own).generous.cuts == 3


@pytest.mark.parametrize(
    ("edge", "paint", "keys"),
    [
        (69.9, Paint.CLEAR_OVER_BASE, ["edge"]),
        (70.0, Paint.CLEAR_OVER_BASE, []),
        (69.9, Paint.SINGLE_STAGE, ["edge"]),
        (79.9, Paint.SINGLE_STAGE, ["single_stage_edge"]),
        (80.0, Paint.SINGLE_STAGE, []),
        (None, Paint.SINGLE_STAGE, []),
    ],
)
def test_thin_edges_end_the_work(edge: float | None, paint: Paint, keys: list[str]) -> None:
    assert _keys(_budget(readings=panel(130, edge=edge), paint=paint)) == keys


@pytest.mark.parametrize(
    ("finish", "lowest", "keys"),
    [
        (None, 130, []),
        (None, 210, ["refinish"]),
        (Finish.FACTORY, 210, []),
        (Finish.REFINISH_SOUND, 210, []),
        (Finish.REFINISH_UNKNOWN, 130, ["refinish"]),
        (Finish.FAILING, 130, ["failing"]),
        (Finish.REFINISH_SOUND, 400, ["heavy"]),
        (Finish.REFINISH_SOUND, 1000, ["heavy"]),
        (Finish.REFINISH_SOUND, 1000.5, ["filler"]),
    ],
)
def test_a_refinish_of_unknown_quality_is_left(finish: Finish | None, lowest: float, keys: list[str]) -> None:
    assert _keys(_budget(readings=panel(lowest), finish=finish)) == keys


def test_no_reason_says_how_a_panel_came_to_be_thick() -> None:
    words = " ".join(reason.words for reason in _budget(readings=panel(1200)).reasons)
    assert "consistent with refinishing or heavy factory paint" in words
    assert [word for word in ("accident", "crash", "damage") if word in words.lower()] == []


@pytest.mark.parametrize(
    ("baked", "days"),
    # Thirty days for baked paint, ninety for air-dried, sixty where nobody knows.
    [(True, 30), (None, 60), (False, 90)],
)
def test_fresh_paint_is_left_until_it_has_set(baked: bool | None, days: int) -> None:
    def keys(age: int) -> list[str]:
        sprayed = PaintBreak(TODAY - timedelta(days=age), PaintEvent.RESPRAYED, baked=baked)
        return _keys(_budget(breaks=(sprayed,), finish=Finish.REFINISH_SOUND, readings=None))

    assert (keys(days - 1), keys(days)) == (["fresh"], [])


def test_fresh_paint_says_until_when() -> None:
    sprayed = PaintBreak(date(2026, 1, 2), PaintEvent.RESPRAYED, baked=True)
    found = _budget(breaks=(sprayed,), finish=Finish.REFINISH_SOUND)
    assert found.reasons[0].words == (
        "Its paint is fresh, resprayed on 2 January 2026: not before 1 February 2026, and only if the painter agrees."
    )
    assert found.instead == ("wait until 1 February 2026",)


@pytest.mark.parametrize(
    ("facts", "keys"),
    [
        ({"paint": Paint.MATT}, ["matt"]),
        ({"paint": Paint.WRAPPED}, ["film"]),
        ({"paint": Paint.TRI_COAT}, []),
        ({"breaks": (PaintBreak(date(2025, 1, 1), PaintEvent.FILM_LAID),)}, ["film"]),
        (
            {
                "breaks": (
                    PaintBreak(date(2025, 2, 1), PaintEvent.FILM_REMOVED),
                    PaintBreak(date(2025, 1, 1), PaintEvent.FILM_LAID),
                )
            },
            [],
        ),
        ({"readings": PanelReadings((spot(310, 310, 310, film=True),))}, ["film"]),
        ({"readings": PanelReadings((spot(310, 310, 310, film=True), spot(130, 130, 130)))}, []),
    ],
)
def test_matt_paint_and_film_are_not_polished(facts: dict[str, Any], keys: list[str]) -> None:
    assert _keys(_budget(**facts)) == keys


def test_what_has_gone_in_all_ends_the_work() -> None:
    # Eight at the most is not over eight: an allowance of 5 and a one-step of 3.
    assert _keys(_budget(Past.USED, passes=_done(LIGHT))) == []
    over = _budget(Past.USED, passes=_done(LIGHT, FINE))
    assert (over.reasons[0].key, over.reasons[0].words) == (
        "removed",
        "As much as 9 µm may have gone already, and 8 to 10 are enough.",
    )


@pytest.mark.parametrize(
    ("processes", "words"),
    [
        ((SANDING, LIGHT, LIGHT), "As much as 23 µm may have gone already, and 8 to 10 are enough."),
        ((SANDING, LIGHT, LIGHT, FINE), "At least 10.3 µm have gone already, over the 10 that are enough."),
    ],
)
def test_what_has_surely_gone_is_told_from_what_may_have(processes: tuple[Process, ...], words: str) -> None:
    # An allowance of 3 to 5, sanding 5 to 12, each one-step 1 to 3, a finishing 0.3 to 1.
    assert _budget(Past.USED, passes=_done(*processes)).reasons[0].words == words


def test_new_paint_starts_a_new_budget() -> None:
    sprayed = PaintBreak(date(2024, 6, 12), PaintEvent.RESPRAYED)
    old, same_day = PassSet(date(2024, 6, 11), CUT), PassSet(date(2024, 6, 12), LIGHT)
    record = PanelRecord(Past.USED, passes=(old, same_day), breaks=(sprayed,))
    assert removed_from(record) == Span(1, 3)
    part = PaintBreak(date(2024, 6, 12), PaintEvent.REPLACED)
    assert removed_from(PanelRecord(Past.USED, passes=(old,), breaks=(part,))) == Span(0, 5)
    film = PaintBreak(date(2024, 6, 12), PaintEvent.FILM_REMOVED)
    assert removed_from(PanelRecord(Past.NEW, passes=(old, same_day), breaks=(film,))) == Span(3, 9)


def test_readings_from_before_the_paint_was_renewed_do_not_count() -> None:
    sprayed = PaintBreak(date(2025, 6, 12), PaintEvent.RESPRAYED, baked=True)
    found = _budget(readings=panel(75), breaks=(sprayed,), finish=Finish.REFINISH_SOUND)
    assert (_keys(found), found.notes[1]) == ([], NOT_MEASURED)
    at_ten = PaintBreak(MEASURED, PaintEvent.FILM_REMOVED, at=moment(MEASURED, 10))
    both = PanelReadings((spot(75, 75, 75, hour=9), spot(130, 130, 130, hour=10)))
    assert _keys(_budget(readings=both, breaks=(at_ten,))) == []


@pytest.mark.parametrize(
    ("facts", "note"),
    [
        ({"readings": None}, NOT_MEASURED),
        ({"readings": PanelReadings((spot(),))}, PLASTIC),
        ({"passes": (PassSet(MEASURED, LIGHT),)}, MEASURE_AGAIN),
        ({"passes": (PassSet(MEASURED, LIGHT, at=moment(MEASURED, 10)),)}, MEASURE_AGAIN),
    ],
)
def test_what_the_count_rests_on_is_said(facts: dict[str, Any], note: str) -> None:
    assert _budget(**facts).notes[:2] == (NOT_A_MEASURE, note)


@pytest.mark.parametrize("at", [moment(MEASURED, 8), moment(MEASURED, 9)])
def test_what_was_measured_after_the_last_polish_need_not_be_measured_again(at: Any) -> None:
    assert _budget(passes=(PassSet(MEASURED, LIGHT, at=at),)).notes == (NOT_A_MEASURE,)


def test_the_strictest_reason_comes_first_and_what_to_do_instead_stands_once() -> None:
    found = _budget(readings=panel(92, edge=60), passes=_done(CUT, CUT))
    assert _keys(found) == ["edge", "cuts", "thin"]
    assert found.instead == (
        "leave it",
        "touch it in",
        "lay protective film",
        "fill the marks with a glaze",
        "protect it with a coating",
    )


works = st.builds(
    PassSet,
    st.dates(date(2019, 1, 1), date(2019, 1, 3)),
    st.sampled_from(POLISHES),
    st.sampled_from([None, *CutWeight]),
)
pasts = st.sampled_from(Past)
several = st.lists(works, max_size=6)
broken = st.lists(
    st.builds(PaintBreak, st.dates(date(2018, 12, 30), date(2019, 1, 6)), st.sampled_from(PaintEvent)),
    max_size=2,
)


@settings(max_examples=80, deadline=None)
@given(pasts, several, broken, works)
def test_more_work_never_leaves_more(
    past: Past, done: list[PassSet], breaks: list[PaintBreak], more: PassSet
) -> None:
    def budget(passes: list[PassSet]) -> PaintBudget:
        record = PanelRecord(past, passes=tuple(passes), breaks=tuple(breaks), readings=panel(130))
        return paint_budget(record, today=TODAY)

    before, after = budget(done), budget([*done, more])
    assert 0 <= after.left.low <= after.left.high
    assert (after.left.low <= before.left.low, after.left.high <= before.left.high) == (True, True)
    assert after.heaviest <= before.heaviest
    for ours, theirs in ((after.careful, before.careful), (after.generous, before.generous)):
        assert ours.finishing <= theirs.finishing
        assert ours.cuts <= theirs.cuts
        assert ours.light <= theirs.light
    assert (after.careful.cuts <= after.generous.cuts, after.careful.light <= after.generous.light) == (
        True,
        True,
    )


@settings(max_examples=60, deadline=None)
@given(pasts, several, st.randoms(use_true_random=False))
def test_the_order_of_the_record_does_not_matter(past: Past, done: list[PassSet], random: Any) -> None:
    turned = random.sample(done, len(done))
    one = removed_from(PanelRecord(past, passes=tuple(done)))
    other = removed_from(PanelRecord(past, passes=tuple(turned)))
    assert [other.low, other.high] == pytest.approx([one.low, one.high])
