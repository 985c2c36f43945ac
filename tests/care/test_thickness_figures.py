"""The figures of thickness: the defaults, a studio's own, and what cannot be meant. Common practice, no source."""

from __future__ import annotations

from typing import Any

import pytest

from crm.care.numbers import full_words, numbers_by_path, spoken_sentence, with_number, without_number
from crm.care.paint_terms import Past
from crm.care.tables import DEFAULTS, TablesError
from crm.care.terms import Mark
from crm.care.thickness_figures import Span

OURS = {path: number for path, number in numbers_by_path().items() if path.startswith("thickness.")}


def test_the_defaults_are_those_of_common_practice() -> None:
    figures = DEFAULTS.thickness
    assert (figures.noise, figures.errors, figures.film_adds, figures.coating_adds) == (
        5,
        2,
        Span(150, 250),
        Span(0, 3),
    )
    assert figures.removal == {
        "fine_polish": Span(0.3, 1),
        "one_step_polish": Span(1, 3),
        "cut_medium": Span(2, 4),
        "cut_heavy": Span(3, 6),
        "sanding": Span(5, 12),
    }
    assert figures.before == {Past.NEW: Span(0, 0), Past.USED: Span(3, 5), Past.UNKNOWN: Span(0, 5)}
    assert (figures.limit, figures.removed, figures.cuts) == (Span(8, 12), Span(8, 10), 2)
    assert (figures.edge, figures.single_stage_edge, figures.thin, figures.thick) == (70, 80, 80, 180)


def test_every_figure_carries_its_mark_and_its_words() -> None:
    assert {path: number.mark for path, number in OURS.items() if number.mark is not Mark.RANGE} == {
        **dict.fromkeys(
            (
                "thickness.gauge.change.noise",
                "thickness.gauge.change.errors",
                "thickness.gauge.film.adds",
                "thickness.gauge.coating.adds",
            ),
            Mark.COMMON,
        ),
        **{f"thickness.before.{past}": Mark.GUESS for past in Past},
    }
    assert [path for path, number in OURS.items() if number.words == "not known"] == [
        "thickness.before.unknown"
    ]
    words = {path: full_words(number) for path, number in OURS.items()}
    assert words["thickness.removal.cut_heavy"] == "what polishing takes: heavy cut"
    assert words["thickness.gauge.film.adds"] == "paint gauge: what film adds"


def test_the_lines_of_the_bands_are_one_figure_with_a_name_for_each() -> None:
    lines = OURS["thickness.bands.limits"]
    assert dict(zip(lines.parts, lines.values, strict=True)) == {
        "stop under": 70,
        "very thin under": 80,
        "thin under": 100,
        "normal to thin under": 120,
        "usual under": 180,
        "thick under": 300,
        "filler over": 1000,
    }


@pytest.mark.parametrize("path", OURS)
def test_a_studio_may_have_its_own_figure_and_put_it_back(path: str) -> None:
    number = OURS[path]
    step = 1 if path == "thickness.again.cuts" else 0.01
    own = with_number({}, number, [value + step for value in number.values])
    changed = DEFAULTS.with_overrides(own)
    assert numbers_by_path(changed)[path].values == tuple(value + step for value in number.values)
    assert (changed == DEFAULTS, changed.thickness == DEFAULTS.thickness) == (False, False)
    assert without_number(own, number) == {}


def test_no_figure_of_thickness_moves_a_forecast() -> None:
    own = DEFAULTS.with_overrides({"thickness": {"gauge": {"change": {"noise": 6}}}})
    assert (own.version, own == DEFAULTS, hash(own) == hash(DEFAULTS)) == (DEFAULTS.version, False, False)
    assert numbers_by_path(own)["thickness.gauge.change.noise"].values == (6,)
    assert own.with_overrides({"thickness": {"gauge": {"change": {"noise": 5}}}}) == DEFAULTS


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"bands": {"limits": [70, 80, 100]}}, "thickness.bands.limits has to hold 7 numbers."),
        (
            {"bands": {"limits": [80, 80, 100, 120, 180, 300, 1000]}},
            "thickness.bands.limits has to rise from one number to the next.",
        ),
        ({"bands": {"stop": {"heaviest": "much"}}}, "“much” is not one of nothing, finishing, light, cut."),
        ({"removal": {"sanding": [12, 5]}}, "thickness.removal.sanding runs from the least to the most"),
        ({"removal": {"sanding": [5]}}, "thickness.removal.sanding has to hold two numbers"),
        ({"removal": {"sanding": [0, 5]}}, "it has to be between 0.1 and 100"),
        ({"correction": {"more": [0.9, 1]}}, "nobody can promise that every mark goes"),
        ({"again": {"cuts": 1.5}}, "thickness.again.cuts has to be a whole number."),
        ({"again": {"cuts": 0}}, "it has to be between 1 and 20"),
        ({"limit": {"mark": "sure"}}, "“sure” is not one of common, range, guess."),
        ({"gauge": {"film": {"mark": "sure"}}}, "“sure” is not one of common, range, guess."),
        ({"polish": 3}, "There is no figure called thickness.polish."),
    ],
)
def test_figures_that_cannot_be_meant_are_refused(changes: dict[str, Any], sentence: str) -> None:
    with pytest.raises(TablesError) as refused:
        DEFAULTS.with_overrides({"thickness": changes})
    assert sentence in str(refused.value)


def test_a_refusal_is_told_without_its_path() -> None:
    number = OURS["thickness.bands.limits"]
    with pytest.raises(TablesError) as refused:
        DEFAULTS.with_overrides(with_number({}, number, [80, 70, 100, 120, 180, 300, 1000]))
    assert spoken_sentence(str(refused.value), number) == "This has to rise from one number to the next."


def test_a_range_runs_upwards() -> None:
    assert Span(1, 3) + Span(0, 2) == Span(1, 5)
    with pytest.raises(ValueError, match="3 is over 1"):
        Span(3, 1)
