"""The shipped figures, each against the common practice it was taken from (no source), and a studio's own."""

from __future__ import annotations

from typing import Any

import pytest

from crm.care.factors import Family, Influence
from crm.care.life import Life
from crm.care.surfaces import CABIN, Zone, by_zone
from crm.care.tables import DEFAULTS, TablesError
from crm.care.terms import Air, Mark, Parking, Prep, Process, ProductClass, Wash
from crm.care.winter_figures import Work

# class: low, likely, high in reference months, mark
LIVES = {
    "glaze": (0.25, 0.75, 1.5, "common"),
    "quick_detailer": (0.25, 0.75, 1.5, "common"),
    "natural_wax": (1, 2, 3, "common"),
    "durable_wax": (2.5, 4, 6, "range"),
    "rinse_on": (1, 2, 4, "range"),
    "polymer_sealant": (4, 6, 9, "range"),
    "silica_topper": (1.5, 3, 5, "range"),
    "light_coating": (4, 8, 12, "range"),
    "coating_enthusiast": (12, 18, 30, "range"),
    "coating_professional": (18, 30, 48, "range"),
    "coating_multi": (24, 42, 66, "guess"),
    "paint_film": (48, 84, 120, "range"),
    "colour_wrap": (36, 60, 84, "range"),
    "matt_sealant": (2, 3.5, 6, "range"),
    "wheel_wax": (0.75, 1.5, 3, "common"),
    "wheel_sealant": (1.5, 3, 5, "common"),
    "wheel_coating": (6, 12, 24, "range"),
    "caliper_coating": (6, 12, 24, "range"),
    "rain_repellent": (1, 2, 3, "common"),
    "glass_coating": (4, 9, 15, "range"),
    "trim_dressing": (0.25, 0.75, 1.5, "common"),
    "trim_sealant": (2, 4, 6, "common"),
    "trim_coating": (9, 18, 30, "range"),
    "lamp_sealant": (3, 6, 12, "range"),
    "lamp_clear": (18, 36, 60, "range"),
    "lamp_film": (36, 60, 96, "range"),
    "tyre_water_dressing": (0.25, 0.4, 0.75, "common"),
    "tyre_gel": (0.5, 0.75, 1.25, "common"),
    "tyre_coating": (2, 4, 6, "range"),
    "leather_cream": (1, 3, 5, "common"),
    "leather_coating": (6, 12, 18, "range"),
    "suede_protector": (1, 3, 5, "common"),
    "fabric_guard": (4, 8, 12, "range"),
    "soft_top_proofer": (4, 8, 12, "common"),
    "vinyl_top_protectant": (1, 2, 4, "common"),
    "seal_conditioner": (2, 4, 6, "common"),
    "metal_sealant": (1, 2, 3, "common"),
    "engine_bay_dressing": (2, 4, 6, "common"),
    "cavity_wax": (12, 24, 36, "range"),
}
# family: hand, lance with mitt, lance brush, touch-free, tunnel; salted months, hot months
WEAR = {
    Family.WAX: (1.0, 1.15, 1.4, 2.0, 1.6, 1.6, 1.3),
    Family.DURABLE_WAX: (1.0, 1.1, 1.3, 1.8, 1.5, 1.4, 1.2),
    Family.TOPPER: (1.0, 1.1, 1.3, 1.6, 1.5, 1.4, 1.2),
    Family.SEALANT: (1.0, 1.1, 1.3, 1.6, 1.5, 1.4, 1.15),
    Family.LIGHT_COATING: (1.0, 1.05, 1.2, 1.4, 1.4, 1.25, 1.1),
    Family.COATING: (1.0, 1.05, 1.15, 1.2, 1.3, 1.15, 1.05),
    Family.FILM: (1.0, 1.0, 1.05, 1.05, 1.1, 1.05, 1.05),
}
WASHES = (Wash.HAND_NEUTRAL, Wash.LANCE_OWN_MITT, Wash.LANCE_BRUSH, Wash.TOUCH_FREE, Wash.TUNNEL)
# family: tunnel, touch-free, strip wash, tar remover, clay
LUMPS = {
    Family.WAX: (0.15, 0.20, 0.60, 0.50, 1.0),
    Family.DURABLE_WAX: (0.15, 0.20, 0.60, 0.50, 1.0),
    Family.SEALANT: (0.08, 0.10, 0.30, 0.20, 1.0),
    Family.TOPPER: (0.08, 0.10, 0.30, 0.20, 1.0),
    Family.LIGHT_COATING: (0.05, 0.05, 0.12, 0.08, 0.50),
    Family.COATING: (0.015, 0.01, 0.03, 0.01, 0.15),
}
LUMP_EVENTS = (
    Process.TUNNEL_WASH,
    Process.TOUCH_FREE_WASH,
    Process.STRIP_WASH,
    Process.TAR_REMOVER,
    Process.CLAY,
)


def test_tables_hold_a_life_for_every_class_but_the_unknown() -> None:
    assert {*LIVES, "unknown"} == {str(product_class) for product_class in DEFAULTS.lives}
    assert DEFAULTS.lives[ProductClass.UNKNOWN].life is None


@pytest.mark.parametrize(("name", "figures"), LIVES.items())
def test_tables_hold_the_life_of_a_class_with_its_mark(
    name: str, figures: tuple[float, float, float, str]
) -> None:
    entry = DEFAULTS.lives[ProductClass(name)]
    assert entry.life == Life(*figures[:3])
    assert entry.mark == Mark(figures[3])


@pytest.mark.parametrize(
    ("zone", "wear", "salt"),
    [
        (Zone.TOPS, 1.15, 1.0),
        (Zone.UPPER_SIDES, 1.0, 1.0),
        (Zone.LOWER_SIDES, 1.1, 1.3),
        (Zone.FRONT, 1.2, 1.0),
        (Zone.SHUTS, 1.0, 1.0),  # the shuts live 1.4 times as long instead
    ],
)
def test_tables_hold_the_wear_of_paint_zones(zone: Zone, wear: float, salt: float) -> None:
    assert (DEFAULTS.zones[zone].wear, DEFAULTS.zones[zone].salt) == (wear, salt)


@pytest.mark.parametrize(("family", "figures"), WEAR.items())
def test_tables_hold_washing_and_seasons_by_family(family: Family, figures: tuple[float, ...]) -> None:
    wear = DEFAULTS.wear
    assert tuple(wear.wash[family][wash] for wash in WASHES) == tuple((f, f, f) for f in figures[:5])
    assert wear.wash[family][Wash.HARDLY_EVER] == (1.2, 1.2, 1.2)
    assert (wear.salt[family], wear.hot[family]) == figures[5:]


@pytest.mark.parametrize(("family", "shares"), LUMPS.items())
def test_tables_hold_what_single_events_cost(family: Family, shares: tuple[float, ...]) -> None:
    assert tuple(DEFAULTS.wear.lumps[family][event] for event in LUMP_EVENTS) == shares


def test_tables_hold_parking_distance_plan_and_limits() -> None:
    wear = DEFAULTS.wear
    assert {answer: factors[1] for answer, factors in wear.parking.items() if answer} == {
        Parking.GARAGE: 0.80,
        Parking.CARPORT: 0.90,
        Parking.OUTDOORS: 1.00,
        Parking.TREES_OR_INDUSTRY: 1.20,
        Parking.NEAR_SEA: 1.15,
    }
    assert (wear.distance_limits, wear.distance) == ((4999, 15000, 30000), (0.85, 1.0, 1.15, 1.35))
    assert (wear.plan, wear.slowest, wear.fastest) == (0.9, 0.5, 2.5)


def test_tables_hold_the_qualities_of_laying() -> None:
    wear = DEFAULTS.wear
    assert wear.air == {
        None: (0.8, 1.0, 1.0),
        Air.INSIDE: (1.0, 1.0, 1.0),
        Air.MARGINAL: (0.85, 0.85, 0.85),
        Air.OUTSIDE: (0.65, 0.65, 0.65),
    }
    assert wear.got_wet_early == 0.70
    assert (wear.prep[Family.SEALANT][Prep.CLAYED][1], wear.prep[Family.SEALANT][Prep.WASHED][1]) == (
        0.9,
        0.7,
    )
    assert (wear.prep[Family.COATING][Prep.CLAYED][1], wear.prep[Family.COATING][Prep.WASHED][1]) == (
        0.75,
        0.5,
    )


def test_tables_keep_weather_and_washing_out_of_the_cabin() -> None:
    for zone in by_zone(CABIN):
        assert DEFAULTS.zones[zone].acts == {Influence.DISTANCE, Influence.PLAN}


def test_tables_mark_every_table_of_factors() -> None:
    groups = {name.partition(".")[0] for name in DEFAULTS.wear.marks}
    assert groups == {
        "clamp",
        "parking",
        "distance",
        "plan",
        "stored",
        "off_the_car",
        "exposure",
        "wash",
        "season",
        "air",
        "prep",
        "lumps",
        "ends",
    }
    assert len(DEFAULTS.wear.marks) == 9 + 4 * len(Family)


def test_overrides_replace_one_figure_and_leave_the_rest() -> None:
    own = DEFAULTS.with_overrides(
        {"lives": {"polymer_sealant": {"life": [5, 7, 10]}}, "wear": {"parking": {"garage": 0.85}}}
    )
    assert own.lives[ProductClass.POLYMER_SEALANT].life == Life(5, 7, 10)
    assert own.wear.parking[Parking.GARAGE] == (0.85, 0.85, 0.85)
    assert own.wear.parking[Parking.CARPORT] == (0.9, 0.9, 0.9)
    assert DEFAULTS.lives[ProductClass.POLYMER_SEALANT].life == Life(4, 6, 9)


def test_overrides_may_add_a_life_in_a_further_zone() -> None:
    site = {"life": [2, 4, 8], "mark": "guess"}
    own = DEFAULTS.with_overrides({"lives": {"glass_coating": {"sites": {"lamps": site}}}})
    assert own.lives[ProductClass.GLASS_COATING].sites[Zone.LAMPS].life == Life(2, 4, 8)
    assert own.lives[ProductClass.GLASS_COATING].sites[Zone.GLASS].life == Life(12, 18, 30)


def test_overrides_change_the_version_and_no_overrides_keep_it() -> None:
    assert DEFAULTS.with_overrides({}) == DEFAULTS
    assert hash(DEFAULTS.with_overrides({})) == hash(DEFAULTS)
    changed = DEFAULTS.with_overrides({"wear": {"plan": {"factor": 0.95}}})
    assert changed != DEFAULTS
    assert changed.version != DEFAULTS.version
    assert changed.with_overrides({"wear": {"plan": {"factor": 0.9}}}) == DEFAULTS


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"wear": {"parking": {"barn": 0.7}}}, "There is no figure called wear.parking.barn."),
        ({"lifes": {}}, "There is no figure called lifes."),
        ({"wear": {"parking": 0.7}}, "wear.parking has to be a table of entries."),
        ({"wear": {"plan": {"factor": {"a": 1}}}}, "wear.plan.factor has to be a single entry."),
        ({"wear": {"plan": {"factor": "fast"}}}, "wear.plan.factor has to be a number."),
        ({"wear": {"plan": {"factor": True}}}, "wear.plan.factor has to be a number."),
        ({"wear": {"plan": {"factor": float("nan")}}}, "wear.plan.factor has to be a number."),
        ({"wear": {"plan": {"factor": 0}}}, "wear.plan.factor is 0; it has to be between 0.1 and 5."),
        (
            {"wear": {"parking": {"unknown": [1, 1]}}},
            "wear.parking.unknown has to hold three numbers, not 2.",
        ),
        ({"wear": {"distance": {"limits": [9, 5, 7]}}}, "wear.distance.limits has to rise from"),
        ({"wear": {"distance": {"limits": 5}}}, "wear.distance.limits has to be a list of numbers."),
        ({"wear": {"ends": {"processes": ["wishing"]}}}, "“wishing” is not one of"),
        ({"lives": {"natural_wax": {"life": [3, 2, 1]}}}, "lives.natural_wax.life: A life runs from low"),
        ({"lives": {"natural_wax": {"mark": "sure"}}}, "“sure” is not one of common, range, guess."),
        ({"lives": {"natural_wax": {"home": []}}}, "lives.natural_wax.home has to name at least one zone."),
        ({"lives": {"natural_wax": {"sites": 5}}}, "lives.natural_wax.sites has to be a table of entries."),
        (
            {"lives": {"natural_wax": {"sites": {"lamps": {"life": [1, 2, 3]}}}}},
            "lives.natural_wax.sites.lamps.mark is missing.",
        ),
        ({"lives": {"unknown": {"life": [1, 2, 3]}}}, "There is no figure called lives.unknown.life."),
    ],
)
def test_overrides_that_cannot_be_meant_are_refused_with_a_sentence(
    changes: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(TablesError) as refusal:
        DEFAULTS.with_overrides(changes)
    assert sentence in str(refusal.value)


@pytest.mark.parametrize(
    "changes",
    [
        {"wear": {"parking": {"unknown": [1.2, 1.0, 0.9]}}},
        {"wear": {"distance": {"unknown": [1.2, 1.0, 0.9]}}},
        {"wear": {"wash": {"coating": {"unknown": [1.2, 1.1, 1.05]}}}},
        {"wear": {"air": {"unknown": [0.8, 0.9, 0.9]}}},
    ],
)
def test_overrides_may_not_let_the_unknown_narrow_a_window(changes: dict[str, Any]) -> None:
    with pytest.raises(TablesError, match="not knowing would narrow the window"):
        DEFAULTS.with_overrides(changes)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"wear": {"parking": {"unknown": [0.7, 0.8, 0.8]}}}, "must not rise"),
        ({"wear": {"air": {"unknown": [1.0, 0.9, 1.0]}}}, "must not fall"),
    ],
)
def test_overrides_keep_the_three_clocks_in_order(changes: dict[str, Any], sentence: str) -> None:
    with pytest.raises(TablesError, match=sentence):
        DEFAULTS.with_overrides(changes)


def test_no_figure_of_the_winter_round_moves_a_forecast() -> None:
    own = DEFAULTS.with_overrides({"winter": {"packages": {"top_up": {"hours": 4}}}})
    assert (own.version, own == DEFAULTS, hash(own) == hash(DEFAULTS)) == (DEFAULTS.version, False, False)
    assert (own.winter.packages[Work.TOP_UP].hours, DEFAULTS.winter.packages[Work.TOP_UP].hours) == (4, 3.5)
    assert own.with_overrides({"winter": {"packages": {"top_up": {"hours": 3.5}}}}) == DEFAULTS


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"week": {"reserve": 2}}, "winter.week.reserve is 2; it has to be between 0 and 0.9."),
        ({"snow": {"days": 2}}, "There is no figure called winter.snow."),
        ({"week": 3}, "winter.week has to be a table of entries."),
        ({"bare": {"counts": ["roof"]}}, "winter.bare.counts: “roof” is not one of"),
    ],
)
def test_winter_figures_that_cannot_be_are_refused_with_a_sentence(
    changes: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(TablesError) as refused:
        DEFAULTS.with_overrides({"winter": changes})
    assert sentence in str(refused.value)
