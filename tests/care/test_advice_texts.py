"""The text set itself: complete, consistent, and in the studio's tone."""

from __future__ import annotations

import re

import pytest

from crm.care.advice_sheet import Rank
from crm.care.advice_texts import AdviceTextError, Part, Text, TextSet, _check, _text, text_set
from crm.care.terms import Circumstance, Process, ProductClass

NO_SETS: dict[str, dict[str, list[str]]] = {"classes": {}, "zones": {}}


@pytest.fixture(scope="module")
def texts() -> TextSet:
    return text_set()


def test_text_set_has_the_same_version_each_time(texts: TextSet) -> None:
    assert text_set().version == texts.version
    assert re.fullmatch(r"\d+-[0-9a-f]{8}", texts.version)


def test_text_set_speaks_of_every_class_of_product(texts: TextSet) -> None:
    spoken = {each for text in texts.of(Part.CLASSES) for when in text.when for each in when.classes}
    assert set(ProductClass) - spoken == set()


def test_text_set_speaks_of_every_circumstance(texts: TextSet) -> None:
    asked = {each for text in texts.texts for when in text.when for each in when.flags}
    by_season = {Circumstance.SALTED_ROADS}
    assert set(Circumstance) - asked == by_season


def test_text_set_has_a_washing_line_for_whoever_is_left(texts: TextSet) -> None:
    last = texts.of(Part.WASHING)[-1]
    assert [when.without for when in last.when] == [frozenset({Circumstance.NO_HOME_WASHING})]
    assert not any(last.topic in pair and "hand_only" in pair for pair in texts.contradictions)


def test_text_set_keeps_the_tone(texts: TextSet) -> None:
    banned = re.compile(r"!|—|\b(health|score|alert|lifetime|permanent|dead|guarantee)\b", re.IGNORECASE)
    faults = [text.code for text in texts.texts if banned.search(f"{text.words} {text.why} {text.headline}")]
    assert faults == []
    assert [text.code for text in texts.texts if not text.words.endswith(".") or text.why.endswith(".")] == []


def test_text_set_names_no_doses(texts: TextSet) -> None:
    dose = re.compile(r"\d+\s*(ml|%|per cent)|\b\d+\s*:\s*\d+\b|\bcapfuls?\b", re.IGNORECASE)
    assert [text.code for text in texts.texts if dose.search(text.words)] == []


def test_text_set_ranks_cautions_alone_as_safety(texts: TextSet) -> None:
    assert {text.part for text in texts.texts if text.rank is Rank.SAFETY} == {Part.SAFETY}


def _line(part: Part = Part.CLASSES, **values: object) -> Text:
    return _text(part, {"code": "x", "words": "Do.", "why": "so", "rank": "care"} | values, NO_SETS)


@pytest.mark.parametrize(
    ("values", "part"),
    [
        ({"colour": "red"}, Part.CLASSES),
        ({"why": ""}, Part.CLASSES),
        ({"rank": "safety"}, Part.CLASSES),
        ({"rank": "care"}, Part.SAFETY),
        ({"rank": "cure"}, Part.DONTS),
        ({"clocks": ["teatime"]}, Part.CLASSES),
        ({"when": [{"classes": ["butter"]}]}, Part.CLASSES),
        ({"when": [{"zones": ["@nowhere"]}]}, Part.CLASSES),
        ({"when": [{"seasons": ["monsoon"]}]}, Part.CLASSES),
        ({"when": [{"mood": ["good"]}]}, Part.CLASSES),
    ],
)
def test_text_refuses_data_that_cannot_be_meant(values: dict[str, object], part: Part) -> None:
    with pytest.raises(AdviceTextError, match="x"):
        _line(part, **values)


def test_text_reads_conditions_as_alternatives() -> None:
    text = _line(when=[{"processes": ["clay"]}, {"flags": ["dogs"]}])
    assert [when.processes for when in text.when] == [frozenset({Process.CLAY}), frozenset()]
    assert [when.flags for when in text.when] == [frozenset(), frozenset({Circumstance.DOGS})]


def test_check_refuses_doubles_strangers_and_contradicted_cautions() -> None:
    care, caution = _line(), _line(Part.SAFETY, code="y", rank="safety")
    with pytest.raises(AdviceTextError, match="used twice: x"):
        _check((care, care), frozenset())
    with pytest.raises(AdviceTextError, match="z"):
        _check((care,), frozenset({frozenset({"x", "z"})}))
    with pytest.raises(AdviceTextError, match="caution"):
        _check((care, caution), frozenset({frozenset({"x", "y"})}))
