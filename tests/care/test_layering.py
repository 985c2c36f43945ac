"""Layering rules, each from both sides of its line. Common practice, no source; products are invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from crm.care.bodies import Body, painted_panels
from crm.care.layering import Concern, FreshPaint, Laying, Severity, Treated, concerns, may_coat_from
from crm.care.removal import Lying
from crm.care.surfaces import EVERYTHING, PANELS, Surfaces, Zone, surfaces_of
from crm.care.terms import Paint, Prep, Process, ProductClass

C = ProductClass
BONNET = Surfaces.from_keys(["bonnet"])
WING = Surfaces.from_keys(["left_rear_wing", "left_rear_wing_lower"])
NOON = datetime(2026, 5, 3, 12, tzinfo=UTC)
LATER = datetime(2026, 7, 1, 12, tzinfo=UTC)
CLEAR = Paint.CLEAR_OVER_BASE


def _new(product_class: ProductClass, at: datetime = LATER, surfaces: Surfaces = BONNET) -> Laying:
    return Laying(product_class, 100, "Fulmar", surfaces, at, Prep.POLISHED_WIPED, True)


def _old(
    product_class: ProductClass, name: str = "Gannet", key: int = 1, surfaces: Surfaces = PANELS
) -> Lying:
    return Lying(key, product_class, key, name, surfaces, NOON)


def _rules(found: tuple[Concern, ...]) -> list[tuple[str, Severity]]:
    return [(concern.rule, concern.severity) for concern in found]


def _weigh(
    new: ProductClass | Laying,
    *old: ProductClass | Lying,
    processes: tuple[Process, ...] = (),
    paint: Paint = CLEAR,
) -> list[tuple[str, Severity]]:
    laying = new if isinstance(new, Laying) else _new(new)
    lying = [each if isinstance(each, Lying) else _old(each) for each in old]
    treated = [Treated(process, EVERYTHING) for process in processes]
    return _rules(concerns(laying, lying=lying, paint=paint, body=Body.ESTATE, treated=treated))


STOP, NOTE = Severity.STOP, Severity.NOTE


def test_sentence_names_the_layer_its_day_and_its_place() -> None:
    (found,) = concerns(
        _new(C.COATING_PROFESSIONAL, surfaces=PANELS),
        lying=[_old(C.POLYMER_SEALANT, "Gannet paint sealant", surfaces=BONNET)],
        paint=CLEAR,
        body=Body.ESTATE,
    )
    assert found == Concern(
        "1",
        STOP,
        "A coating wants bare, polished and wiped ground: "
        "Gannet paint sealant of 3 May on the bonnet still lies there.",
        BONNET,
    )


def test_sentence_names_the_year_of_an_older_layer_and_all_panels_of_the_body() -> None:
    doors = painted_panels(Body.COUPE)
    (found,) = concerns(
        _new(C.PAINT_FILM, LATER.replace(year=2027), doors),
        lying=[_old(C.NATURAL_WAX, "Tern wax")],
        paint=CLEAR,
        body=Body.COUPE,
    )
    assert (
        found.words
        == "Film wants bare paint: Tern wax of 3 May 2026 on all painted panels has to come off first."
    )


@pytest.mark.parametrize(
    ("new", "old", "expected"),
    [
        # 1: coatings want bare ground.
        (C.COATING_PROFESSIONAL, C.GLAZE, [("1", STOP)]),
        (C.COATING_PROFESSIONAL, C.NATURAL_WAX, [("1", STOP)]),
        (C.COATING_ENTHUSIAST, C.POLYMER_SEALANT, [("1", STOP)]),
        (C.COATING_MULTI, C.SILICA_TOPPER, [("1", STOP)]),
        (C.COATING_PROFESSIONAL, C.UNKNOWN, [("1", STOP)]),
        (C.WHEEL_COATING, C.WHEEL_WAX, [("1", STOP)]),
        (C.TRIM_COATING, C.TRIM_DRESSING, [("1", STOP)]),
        (C.COATING_PROFESSIONAL, C.COATING_ENTHUSIAST, [("1", NOTE)]),
        (C.COATING_PROFESSIONAL, C.LIGHT_COATING, [("1", NOTE)]),
        (C.LIGHT_COATING, C.NATURAL_WAX, [("1", NOTE)]),
        (C.LIGHT_COATING, C.UNKNOWN, [("1", NOTE)]),
        (C.LIGHT_COATING, C.COATING_PROFESSIONAL, []),
        (C.TRIM_SEALANT, C.TRIM_DRESSING, [("1", NOTE)]),
        (C.TRIM_SEALANT, C.TRIM_SEALANT, []),
        # 2: film before coating.
        (C.PAINT_FILM, C.COATING_PROFESSIONAL, [("2", STOP)]),
        (C.PAINT_FILM, C.NATURAL_WAX, [("2", STOP)]),
        (C.PAINT_FILM, C.UNKNOWN, [("2", STOP)]),
        (C.COLOUR_WRAP, C.LIGHT_COATING, [("2", STOP)]),
        (C.PAINT_FILM, C.TRIM_DRESSING, [("2", STOP)]),
        (C.PAINT_FILM, C.CAVITY_WAX, []),
        # 3: sealant, then wax.
        (C.POLYMER_SEALANT, C.NATURAL_WAX, [("3", NOTE)]),
        (C.RINSE_ON, C.QUICK_DETAILER, [("3", NOTE)]),
        (C.POLYMER_SEALANT, C.UNKNOWN, [("3", NOTE)]),
        (C.POLYMER_SEALANT, C.SILICA_TOPPER, []),
        (C.NATURAL_WAX, C.POLYMER_SEALANT, []),
        (C.NATURAL_WAX, C.UNKNOWN, []),
        # 4: wax over a coating.
        (C.DURABLE_WAX, C.COATING_PROFESSIONAL, [("4", NOTE)]),
        (C.NATURAL_WAX, C.LIGHT_COATING, [("4", NOTE)]),
        (C.QUICK_DETAILER, C.COATING_PROFESSIONAL, []),
        (C.NATURAL_WAX, C.DURABLE_WAX, []),
        # 5: topper over a set coating, on anything else nothing to say.
        (C.SILICA_TOPPER, C.COATING_PROFESSIONAL, []),
        (C.SILICA_TOPPER, C.POLYMER_SEALANT, []),
    ],
)
def test_rules_for_one_layer_over_another(
    new: ProductClass, old: ProductClass, expected: list[tuple[str, Severity]]
) -> None:
    assert _weigh(new, old) == expected


@pytest.mark.parametrize("product_class", ProductClass)
def test_no_class_raises_a_concern_on_bare_well_prepared_paint(product_class: ProductClass) -> None:
    assert _weigh(product_class) == []


@pytest.mark.parametrize("new", [C.COATING_PROFESSIONAL, C.PAINT_FILM, C.NATURAL_WAX])
def test_a_layer_elsewhere_is_no_concern(new: ProductClass) -> None:
    assert _weigh(new, _old(C.POLYMER_SEALANT, surfaces=WING)) == []


def test_rule_1_asks_for_polish_and_wipe_under_a_true_coating() -> None:
    coating = _new(C.COATING_PROFESSIONAL)
    assert _weigh(replace(coating, prep=Prep.CLAYED)) == [("1", NOTE)]
    assert _weigh(replace(coating, prep=Prep.WASHED, panel_wiped=False)) == [("1", NOTE), ("1", NOTE)]
    assert _weigh(replace(coating, prep=Prep.WASHED), processes=(Process.FINE_POLISH,)) == []
    assert _weigh(replace(_new(C.POLYMER_SEALANT), prep=Prep.WASHED, panel_wiped=False)) == []
    assert _weigh(replace(_new(C.WHEEL_COATING, surfaces=surfaces_of(Zone.WHEELS)), panel_wiped=False)) == []


@pytest.mark.parametrize(("days", "expected"), [(29, [("2", STOP)]), (30, [])])
def test_rule_2_waits_for_the_film_before_coating_it(days: int, expected: list[tuple[str, Severity]]) -> None:
    assert _weigh(_new(C.COATING_PROFESSIONAL, NOON + timedelta(days=days)), C.PAINT_FILM) == expected


def test_rule_2_prefers_the_films_own_wait() -> None:
    film = replace(_old(C.PAINT_FILM), topper_from=NOON + timedelta(days=7))
    assert _weigh(_new(C.COATING_PROFESSIONAL, NOON + timedelta(days=7)), film) == []
    (early,) = concerns(
        _new(C.COATING_PROFESSIONAL, NOON + timedelta(days=6)), lying=[film], paint=CLEAR, body=Body.ESTATE
    )
    assert early.words.endswith("Gannet of 3 May on the bonnet may be coated from 10 May.")


@pytest.mark.parametrize(("days", "expected"), [(20, [("5", NOTE)]), (21, [])])
def test_rule_5_waits_for_the_full_cure(days: int, expected: list[tuple[str, Severity]]) -> None:
    assert _weigh(_new(C.SILICA_TOPPER, NOON + timedelta(days=days)), C.COATING_PROFESSIONAL) == expected


@pytest.mark.parametrize(
    ("product_class", "hours", "expected"),
    [
        (C.COATING_PROFESSIONAL, 0.5, [("6", NOTE)]),
        (C.COATING_PROFESSIONAL, 1, []),
        (C.COATING_PROFESSIONAL, 24, []),
        (C.COATING_PROFESSIONAL, 25, [("6", NOTE)]),
        (C.POLYMER_SEALANT, 11, [("6", NOTE)]),
        (C.POLYMER_SEALANT, 12, []),
        (C.NATURAL_WAX, 3.9, [("6", NOTE)]),
        (C.NATURAL_WAX, 4, []),
        (C.QUICK_DETAILER, 0, []),
    ],
)
def test_rule_6_keeps_second_coats_in_their_interval(
    product_class: ProductClass, hours: float, expected: list[tuple[str, Severity]]
) -> None:
    second = replace(
        _new(product_class, NOON + timedelta(hours=hours)), product_key=1, name="Gannet", prep=None
    )
    assert _weigh(second, _old(product_class, surfaces=BONNET)) == expected


def test_rule_6_is_content_once_the_old_coat_was_polished() -> None:
    second = replace(_new(C.COATING_PROFESSIONAL, NOON + timedelta(days=9)), product_key=1, prep=None)
    assert _weigh(second, _old(C.COATING_PROFESSIONAL, surfaces=BONNET)) == [("6", NOTE)]
    assert _weigh(second, _old(C.COATING_PROFESSIONAL, surfaces=BONNET), processes=(Process.CUT,)) == []


PAINTED = date(2026, 6, 12)


@pytest.mark.parametrize(
    ("product_class", "baked", "expected"),
    [
        (C.COATING_PROFESSIONAL, True, date(2026, 7, 12)),
        (C.COATING_PROFESSIONAL, None, date(2026, 8, 11)),
        (C.COATING_PROFESSIONAL, False, date(2026, 9, 10)),
        (C.LIGHT_COATING, True, date(2026, 7, 12)),
        (C.PAINT_FILM, True, date(2026, 6, 19)),
        (C.PAINT_FILM, False, date(2026, 9, 10)),
        (C.POLYMER_SEALANT, True, date(2026, 6, 26)),
        (C.SILICA_TOPPER, True, date(2026, 6, 26)),
        (C.NATURAL_WAX, False, date(2026, 9, 10)),
    ],
)
def test_may_coat_from_counts_from_the_day_of_painting(
    product_class: ProductClass, baked: bool | None, expected: date
) -> None:
    assert may_coat_from(FreshPaint(WING, PAINTED, baked), product_class) == expected


@pytest.mark.parametrize(
    ("at", "surfaces", "stopped"),
    [
        (datetime(2026, 7, 11, 12, tzinfo=UTC), PANELS, True),
        (datetime(2026, 7, 12, 12, tzinfo=UTC), PANELS, False),
        (datetime(2026, 7, 11, 12, tzinfo=UTC), PANELS - WING, False),
        (datetime(2026, 6, 11, 12, tzinfo=UTC), PANELS, False),
    ],
)
def test_rule_7_stops_on_fresh_paint_until_its_day(at: datetime, surfaces: Surfaces, stopped: bool) -> None:
    fresh = [FreshPaint(WING, PAINTED, True)]
    found = concerns(
        _new(C.COATING_PROFESSIONAL, at, surfaces), lying=(), paint=CLEAR, body=Body.ESTATE, fresh_paint=fresh
    )
    assert _rules(found) == ([("7", STOP)] if stopped else [])
    assert [concern.surfaces for concern in found] == ([WING] if stopped else [])


def test_rule_7_says_who_decides() -> None:
    fresh = [FreshPaint(WING, PAINTED, None)]
    (found,) = concerns(
        _new(C.COATING_PROFESSIONAL, surfaces=WING),
        lying=(),
        paint=CLEAR,
        body=Body.ESTATE,
        fresh_paint=fresh,
    )
    assert found.words == (
        "Painted on 12 June, baking not known: "
        "the left rear wing may take this from 11 August, if the painter agrees."
    )


@pytest.mark.parametrize("paint", [Paint.MATT, Paint.WRAPPED])
def test_rule_8_keeps_gloss_and_abrasives_off_matt_paint(paint: Paint) -> None:
    assert _weigh(C.NATURAL_WAX, paint=paint) == [("8", STOP)]
    assert _weigh(C.GLAZE, paint=paint) == [("8", STOP)]
    assert _weigh(C.MATT_SEALANT, paint=paint) == []
    assert _weigh(C.MATT_SEALANT, paint=paint, processes=(Process.CLAY, Process.CUT)) == [
        ("8", STOP),
        ("8", STOP),
    ]
    assert _weigh(C.MATT_SEALANT, paint=paint, processes=(Process.CONTACT_WASH,)) == []
    wheels = _new(C.NATURAL_WAX, surfaces=surfaces_of(Zone.WHEELS))
    assert _weigh(wheels, paint=paint) == []


def test_rule_8_keeps_gloss_and_abrasives_off_film() -> None:
    assert _weigh(C.NATURAL_WAX, C.PAINT_FILM) == [("8", STOP)]
    assert _weigh(C.SILICA_TOPPER, C.PAINT_FILM) == []
    assert _weigh(C.SILICA_TOPPER, C.COLOUR_WRAP, processes=(Process.FINE_POLISH,)) == [("8", STOP)]
    assert _weigh(C.NATURAL_WAX, paint=CLEAR, processes=(Process.CLAY,)) == []


def test_rule_9_asks_for_polish_under_a_seal_on_single_stage_paint() -> None:
    washed = replace(_new(C.POLYMER_SEALANT), prep=Prep.WASHED)
    assert _weigh(washed, paint=Paint.SINGLE_STAGE) == [("9", NOTE)]
    assert _weigh(replace(washed, prep=Prep.POLISHED_WIPED), paint=Paint.SINGLE_STAGE) == []
    assert _weigh(replace(washed, prep=None), paint=Paint.SINGLE_STAGE) == []
    assert _weigh(washed, paint=CLEAR) == []
    assert _weigh(replace(washed, surfaces=surfaces_of(Zone.WHEELS)), paint=Paint.SINGLE_STAGE) == []


def test_rule_10_notes_makers_that_differ_and_only_where_both_are_known() -> None:
    topper = replace(_new(C.SILICA_TOPPER), maker="Skua")
    coating = replace(_old(C.COATING_PROFESSIONAL), maker="Petrel")
    assert _weigh(topper, coating) == [("10", NOTE)]
    assert _weigh(topper, replace(coating, maker="SKUA")) == []
    assert _weigh(topper, replace(coating, maker="")) == []
    (found,) = concerns(topper, lying=[coating], paint=CLEAR, body=Body.ESTATE)
    assert (
        found.words
        == "Fulmar and Gannet of 3 May on the bonnet come from different makers: untested together."
    )


def test_rule_11_keeps_a_patch_as_its_own_layer() -> None:
    patch = replace(_new(C.POLYMER_SEALANT), product_key=1, name="Gannet")
    (found,) = concerns(
        patch, lying=[_old(C.POLYMER_SEALANT, surfaces=PANELS - BONNET)], paint=CLEAR, body=Body.ESTATE
    )
    assert (found.rule, found.severity, found.surfaces) == ("11", NOTE, BONNET)
    assert found.words == (
        "Kept as a layer of its own on the bonnet, with its own date; "
        "Gannet of 3 May on all painted panels except bonnet stays as it is elsewhere."
    )


def test_rule_11_is_silent_for_a_renewal_a_second_coat_or_another_product() -> None:
    whole = _old(C.POLYMER_SEALANT)
    renewal = replace(_new(C.POLYMER_SEALANT, surfaces=PANELS), product_key=1)
    assert _weigh(renewal, whole) == []
    assert _weigh(replace(renewal, surfaces=BONNET, at=NOON + timedelta(hours=24)), whole) == []
    assert _weigh(replace(renewal, surfaces=BONNET, product_key=2), whole) == []


def test_stops_come_before_notes() -> None:
    washed = replace(_new(C.COATING_PROFESSIONAL), prep=Prep.WASHED)
    assert _weigh(washed, C.NATURAL_WAX) == [("1", STOP), ("1", NOTE)]


def test_products_without_a_key_are_the_same_by_class_and_name() -> None:
    second = replace(_new(C.COATING_PROFESSIONAL, NOON + timedelta(hours=2)), product_key=None, name="Gannet")
    earlier = _old(C.COATING_PROFESSIONAL, surfaces=BONNET)
    assert _weigh(second, earlier) == []
    assert _weigh(replace(second, name="Fulmar"), earlier) == [("1", NOTE)]
