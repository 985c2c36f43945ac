"""Estimates of a correction. The shares are common practice as ranges, no source."""

from __future__ import annotations

from typing import Any

import pytest

from crm.care.correction import CorrectionEstimate, NotAnEstimate, expected_words, stages_of
from crm.care.paint_terms import Light, Stages
from crm.care.tables import DEFAULTS
from crm.care.terms import Process
from crm.care.thickness_figures import Span

GOOD: dict[str, Any] = {
    "low": 0.65,
    "high": 0.75,
    "lights": frozenset({Light.HAND_LAMP}),
    "method": "15 mm orbit, firm foam, speed 4, four passes",
    "wiped": True,
}


def test_shares_are_those_of_the_trade() -> None:
    # One stage takes some 70 to 80 % of the marks: common practice, no source.
    assert DEFAULTS.thickness.correction == {
        Stages.ENHANCEMENT: Span(0.5, 0.7),
        Stages.ONE: Span(0.7, 0.8),
        Stages.TWO: Span(0.8, 0.9),
        Stages.MORE: Span(0.9, 0.95),
    }


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "65 to 75 % of the marks, estimated, by eye, after panel wipe, under hand lamp"),
        ({"high": 0.65}, "about 65 % of the marks, estimated, by eye, after panel wipe, under hand lamp"),
        (
            {"wiped": False, "lights": frozenset({Light.HAND_LAMP, Light.SUN, Light.BAY_LIGHTS})},
            (
                "65 to 75 % of the marks, estimated, by eye, without panel wipe, so oils may hide marks,"
                " under direct sun, hand lamp and bay lights"
            ),
        ),
        (
            {"wiped": None},
            "65 to 75 % of the marks, estimated, by eye, panel wipe not recorded, under hand lamp",
        ),
    ],
)
def test_an_estimate_always_says_what_it_is(changes: dict[str, Any], words: str) -> None:
    assert CorrectionEstimate(**{**GOOD, **changes}).words == words


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"high": 1.0}, "Nobody can say that every mark went"),
        ({"low": 1.2, "high": 0.8}, "Nobody can say that every mark went"),
        ({"low": -0.1}, "has to be a number from 0 to under 100 %"),
        ({"low": float("nan")}, "has to be a number"),
        ({"low": 0.8}, "the first is over the second"),
        ({"lights": frozenset()}, "Say which light it was seen under"),
        ({"method": "  "}, "Say how it was done, so that it can be done again"),
        ({"method": "x" * 201}, "in 200 characters or fewer"),
    ],
)
def test_an_estimate_that_cannot_be_kept_is_refused(changes: dict[str, Any], sentence: str) -> None:
    with pytest.raises(NotAnEstimate) as refused:
        CorrectionEstimate(**{**GOOD, **changes})
    assert sentence in str(refused.value)


def test_almost_everything_is_never_shown_as_everything() -> None:
    almost = CorrectionEstimate(**{**GOOD, "low": 0.0, "high": 0.999})
    assert almost.words.startswith("0 to 99 % of the marks")
    CorrectionEstimate(**{**GOOD, "method": "x" * 200})


@pytest.mark.parametrize(
    ("high", "doubt"),
    [
        (0.8, ""),
        (0.81, "That is more than one stage usually takes (70 to 80 %): look again under another light."),
    ],
)
def test_more_than_the_stages_usually_take_is_doubted(high: float, doubt: str) -> None:
    assert CorrectionEstimate(**{**GOOD, "high": high, "stages": Stages.ONE}).doubt() == doubt
    assert CorrectionEstimate(**{**GOOD, "high": high}).doubt() == ""


def test_a_doubt_is_by_the_figures_of_the_studio() -> None:
    own = DEFAULTS.with_overrides({"thickness": {"correction": {"two": [0.8, 0.85]}}}).thickness
    two = CorrectionEstimate(**{**GOOD, "high": 0.9, "stages": Stages.TWO})
    assert (two.doubt(), two.doubt(own)) == (
        "",
        "That is more than two stages usually take (80 to 85 %): look again under another light.",
    )


@pytest.mark.parametrize(
    ("processes", "stages"),
    [
        ([], None),
        ([Process.CLAY, Process.PANEL_WIPE], None),
        ([Process.FINE_POLISH], Stages.ENHANCEMENT),
        ([Process.ONE_STEP_POLISH, Process.PANEL_WIPE], Stages.ONE),
        ([Process.CUT, Process.CUT], Stages.ONE),
        ([Process.CUT, Process.FINE_POLISH], Stages.TWO),
        ([Process.SANDING, Process.CUT, Process.FINE_POLISH], Stages.MORE),
    ],
)
def test_stages_are_counted_from_what_was_done(processes: list[Process], stages: Stages | None) -> None:
    assert stages_of(processes) is stages


def test_what_may_be_said_before_the_work_is_no_promise() -> None:
    assert expected_words(Stages.ONE) == (
        "One stage usually takes 70 to 80 % of the marks, estimated, by eye, after panel wipe. You will see the"
        " difference; that every mark goes, nobody can promise."
    )
    for stages in Stages:
        assert "100" not in expected_words(stages)
    assert expected_words(Stages.TWO).startswith("Two stages usually take 80 to 90 % of the marks,")
