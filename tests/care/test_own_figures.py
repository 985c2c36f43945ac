"""A studio's own figures when the defaults under them are no longer there."""

from __future__ import annotations

from typing import Any

import pytest

from crm.care.own_figures import OwnFigure, sorted_out
from crm.care.tables import DEFAULTS

GARAGE = {"wear": {"parking": {"garage": 0.9}}}
SITE = {"life": [1, 2, 3], "mark": "guess"}


def merged(*tables: dict[str, Any]) -> dict[str, Any]:
    """Nested tables laid over each other."""
    whole: dict[str, Any] = {}
    for table in tables:
        for key, entry in table.items():
            inner = whole.get(key)
            whole[key] = (
                merged(inner, entry) if isinstance(entry, dict) and isinstance(inner, dict) else entry
            )
    return whole


@pytest.mark.parametrize(
    "overrides",
    [
        {},
        GARAGE,
        {"lives": {"natural_wax": {"life": [1.5, 2.5, 4]}}},
        merged(GARAGE, {"wear": {"clamp": {"low": 0.4}}}),
        merged(GARAGE, {"winter": {"acceptance": {"chances": [0.5, 0.3, 0.1]}, "places": {"tops": 0}}}),
    ],
)
def test_figures_that_have_a_place_are_all_used(overrides: dict[str, Any]) -> None:
    own = sorted_out(overrides)
    assert (own.used, own.unused) == (overrides, ())
    assert DEFAULTS.with_overrides(own.used) == DEFAULTS.with_overrides(overrides)


@pytest.mark.parametrize(
    ("leftover", "path", "value"),
    [
        # Renamed or dropped, at every depth.
        ({"wear": {"parking": {"cellar": 0.8}}}, ("wear", "parking", "cellar"), 0.8),
        ({"wear": {"tides": {"high": 1.2}}}, ("wear", "tides", "high"), 1.2),
        ({"weather": {"rain": 2}}, ("weather", "rain"), 2),
        ({"lives": {"sugar": {"life": [1, 2, 3]}}}, ("lives", "sugar", "life"), [1, 2, 3]),
        # Of another kind than it was: one number, several, a table.
        ({"wear": {"parking": {"street": [1, 2, 3]}}}, ("wear", "parking", "street"), [1, 2, 3]),
        ({"lives": {"natural_wax": {"life": 3}}}, ("lives", "natural_wax", "life"), 3),
        ({"zones": 3}, ("zones",), 3),
        # Outside what is allowed now.
        ({"wear": {"clamp": {"high": 1e9}}}, ("wear", "clamp", "high"), 1e9),
        ({"lives": {"glaze": {"life": [1, 2]}}}, ("lives", "glaze", "life"), [1, 2]),
        ({"winter": {"week": {"reserve": 2}}}, ("winter", "week", "reserve"), 2),
        ({"winter": {"booked": {"polish": 3}}}, ("winter", "booked", "polish"), 3),
        # Inside a table to which may be added, as a whole.
        (
            {"lives": {"natural_wax": {"sites": {"sunroof": SITE}}}},
            ("lives", "natural_wax", "sites", "sunroof"),
            SITE,
        ),
    ],
)
def test_a_figure_without_a_place_is_named_and_the_others_count(
    leftover: dict[str, Any], path: tuple[str, ...], value: object
) -> None:
    own = sorted_out(merged(GARAGE, leftover))
    assert own.unused == (OwnFigure(path, value),)
    assert own.used == GARAGE
    assert DEFAULTS.with_overrides(own.used).version != DEFAULTS.version


def test_figures_that_are_only_possible_together_stay_together() -> None:
    # Not knowing where a car stands may not narrow the window: its best case follows the best known answer.
    pair = {"wear": {"parking": {"garage": 0.7, "unknown": [1.2, 1.0, 0.7]}}}
    own = sorted_out(merged(pair, {"wear": {"parking": {"cellar": 0.8}}}))
    assert own.used == pair
    assert [figure.path[-1] for figure in own.unused] == ["cellar"]


def test_winter_figures_that_are_only_possible_together_stay_together() -> None:
    pair = {"winter": {"round": {"notice_days": 40, "ask_ahead_days": 50}}}
    own = sorted_out(merged(pair, {"winter": {"round": {"moon": 1}}}))
    assert own.used == pair
    assert own.unused == (OwnFigure(("winter", "round", "moon"), 1),)
