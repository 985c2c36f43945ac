"""Layering: preparation, unknown layers, coats of one layer, and the table of rules as a whole.

Common practice, no source; products are invented.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from crm.care.bodies import Body
from crm.care.layering import Laying, Severity, Treated, concerns
from crm.care.layering_checks import CHECKS, table
from crm.care.removal import Lying
from crm.care.surfaces import PANELS, Surfaces, Zone, surfaces_of
from crm.care.terms import Paint, Prep, Process, ProductClass

C = ProductClass
BONNET = Surfaces.from_keys(["bonnet"])
WING = Surfaces.from_keys(["left_rear_wing", "left_rear_wing_lower"])
NOON = datetime(2026, 5, 3, 12, tzinfo=UTC)
LATER = datetime(2026, 7, 1, 12, tzinfo=UTC)
CLEAR = Paint.CLEAR_OVER_BASE
NOTE = Severity.NOTE


def _new(product_class: ProductClass, at: datetime = LATER, surfaces: Surfaces = BONNET) -> Laying:
    return Laying(product_class, 100, "Fulmar", surfaces, at, Prep.POLISHED_WIPED, True)


def _old(product_class: ProductClass, name: str = "Gannet", surfaces: Surfaces = PANELS) -> Lying:
    return Lying(1, product_class, 1, name, surfaces, NOON)


def _weigh(new: Laying, *old: Lying, paint: Paint = CLEAR) -> list[tuple[str, Severity]]:
    found = concerns(new, lying=old, paint=paint, body=Body.ESTATE)
    return [(concern.rule, concern.severity) for concern in found]


def _said(
    new: ProductClass | Laying, *old: Lying, paint: Paint = CLEAR, treated: Sequence[Treated] = ()
) -> list[str]:
    """The sentences that are shown."""
    laying = new if isinstance(new, Laying) else _new(new)
    found = concerns(laying, lying=old, paint=paint, body=Body.ESTATE, treated=treated)
    return [concern.words for concern in found]


def test_rule_1_notes_preparation_that_nobody_recorded() -> None:
    coating = _new(C.COATING_PROFESSIONAL)
    assert _said(replace(coating, prep=None, panel_wiped=None)) == [
        "No preparation is recorded on the bonnet: a coating wants polished and wiped paint."
    ]
    no_wipe = "No panel wipe is recorded on the bonnet: oil left from polishing keeps a coating from bonding."
    polished = [Treated(Process.FINE_POLISH, BONNET)]
    assert _said(replace(coating, prep=None, panel_wiped=None), treated=polished) == [no_wipe]
    both = [*polished, Treated(Process.PANEL_WIPE, BONNET)]
    assert _said(replace(coating, prep=None, panel_wiped=None), treated=both) == []
    assert _said(replace(coating, prep=Prep.CLAYED, panel_wiped=None))[1:] == [no_wipe]
    assert _said(replace(coating, prep=Prep.POLISHED_WIPED, panel_wiped=None)) == []
    assert _said(replace(coating, prep=None, panel_wiped=True), treated=polished) == []
    assert _weigh(replace(_new(C.POLYMER_SEALANT), prep=None, panel_wiped=None)) == []


def test_rule_1_looks_for_preparation_where_the_coating_goes() -> None:
    on_both = replace(_new(C.COATING_PROFESSIONAL, surfaces=BONNET | WING), prep=None, panel_wiped=True)
    polished = [Treated(Process.CUT, BONNET)]
    assert _said(on_both, treated=polished) == [
        "No preparation is recorded on the left rear wing: a coating wants polished and wiped paint."
    ]
    assert _said(replace(on_both, surfaces=BONNET), treated=polished) == []


def test_rule_1_asks_for_no_polish_on_matt_paint_on_film_or_on_a_first_coat() -> None:
    washed = replace(_new(C.COATING_PROFESSIONAL), prep=Prep.WASHED)
    assert _weigh(washed) == [("1", NOTE)]
    assert _weigh(washed, paint=Paint.MATT) == []
    film = replace(_old(C.PAINT_FILM), topper_from=NOON)
    assert _weigh(washed, film) == []
    second = replace(washed, product_key=1, name="Gannet", at=NOON + timedelta(hours=2), panel_wiped=None)
    assert _weigh(second, _old(C.COATING_PROFESSIONAL, surfaces=BONNET)) == []
    assert _weigh(second, _old(C.COATING_PROFESSIONAL, surfaces=WING)) == [("1", NOTE), ("1", NOTE)]


@pytest.mark.parametrize("new", [C.COATING_PROFESSIONAL, C.LIGHT_COATING, C.PAINT_FILM, C.POLYMER_SEALANT])
def test_an_unknown_old_layer_is_named_as_unknown_with_its_day(new: ProductClass) -> None:
    (words,) = _said(new, _old(C.UNKNOWN, "Old wax or sealant"))
    assert "nobody knows what Old wax or sealant of 3 May on the bonnet is." in words
    (known,) = _said(new, _old(C.NATURAL_WAX, "Curlew hand wax"))
    assert "Curlew hand wax of 3 May on the bonnet" in known
    assert "nobody knows" not in known


@pytest.mark.parametrize(
    ("coats", "gap", "expected"),
    [
        (2, 0.5, ["A second coat after 30 minutes is early: Fulmar wants about 1 hour first."]),
        (2, 1, []),
        (2, 24, []),
        (2, 25, ["Fulmar has set too far for a second coat (25 hours): re-polish first."]),
        (2, None, []),
        (1, 0.5, []),
    ],
)
def test_rule_6_holds_for_the_coats_of_one_layer(coats: int, gap: float | None, expected: list[str]) -> None:
    assert _said(replace(_new(C.COATING_PROFESSIONAL), coats=coats, coat_gap_h=gap)) == expected


def test_rule_6_names_the_first_coat_and_its_day() -> None:
    first = _old(C.POLYMER_SEALANT, surfaces=BONNET)
    again = replace(_new(C.POLYMER_SEALANT, NOON + timedelta(hours=11)), product_key=1, name="Gannet")
    assert _said(again, first) == [
        "A second coat after 11 hours is early: Gannet of 3 May on the bonnet wants about 12 hours first."
    ]


def test_rule_8_reaches_only_where_the_process_was() -> None:
    on_both = _new(C.MATT_SEALANT, surfaces=BONNET | surfaces_of(Zone.WHEELS))
    clayed_wheels = [Treated(Process.CLAY, surfaces_of(Zone.WHEELS))]
    assert _said(on_both, paint=Paint.MATT, treated=clayed_wheels) == []
    clayed = [Treated(Process.CLAY, BONNET)]
    assert _said(on_both, paint=Paint.MATT, treated=clayed) == [
        "No clay on matt paint or a wrap: a shine cannot be taken back."
    ]
    film = replace(_old(C.PAINT_FILM, "Heron clear film"), topper_from=NOON)
    assert _said(C.SILICA_TOPPER, film, treated=clayed_wheels) == []
    assert _said(C.SILICA_TOPPER, film, treated=clayed) == [
        "No clay on film or a wrap: Heron clear film of 3 May on the bonnet lies there."
    ]


_NAMES_NO_LAYER = {
    "not_polished", "prep_not_recorded", "not_wiped", "wipe_not_recorded", "fresh_paint", "gloss_on_matt",
    "harmed_matt", "single_stage_unpolished",
}  # fmt: skip
"""Tests that look at the paint or the preparation, not at a layer underneath."""


def test_the_table_has_every_rule_and_every_other_one_names_the_layer() -> None:
    rows = table()["rule"]
    assert {row["rule"] for row in rows} == {str(number) for number in range(1, 12)}
    assert {row["test"] for row in rows} == set(CHECKS)
    assert [row["test"] for row in rows if "{old}" not in row["words"]] == [
        row["test"] for row in rows if row["test"] in _NAMES_NO_LAYER
    ]


def test_rules_2_7_and_8_and_a_coating_over_anything_soft_stop_and_the_rest_only_note() -> None:
    stops = {(row["rule"], row["test"]) for row in table()["rule"] if row["severity"] == "stop"}
    assert stops == {
        ("1", "over"), ("2", "over"), ("2", "over_before_topper"), ("7", "fresh_paint"), ("8", "gloss_on_matt"),
        ("8", "over"), ("8", "harmed_matt"), ("8", "harmed_film"),
    }  # fmt: skip
