"""The table of shares left where every end is known: a published trial, and another library."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from lifelines import KaplanMeierFitter

from crm.care.kaplan_meier import Transform, kaplan_meier, median
from crm.care.observed import Observation, ObservationError, Observations
from tests.care.sample_lives import COSMESIS, NIST, NIST_FAILED, TREATED, UNTREATED

# Freireich et al. 1963, bounds as R prints them ("log"); the shares and errors also in Kleinbaum and Klein,
# chapter 2, and Venables and Ripley, MASS, 4th edition, 13.1 (the books from memory).
PUBLISHED = [
    (6, 21, 3, 0.8571, 0.0764, 0.720, 1.000),
    (7, 17, 1, 0.8067, 0.0869, 0.653, 0.996),
    (10, 15, 1, 0.7529, 0.0963, 0.586, 0.968),
    (13, 12, 1, 0.6902, 0.1068, 0.510, 0.935),
    (16, 11, 1, 0.6275, 0.1141, 0.439, 0.896),
    (22, 7, 1, 0.5378, 0.1282, 0.337, 0.858),
    (23, 6, 1, 0.4482, 0.1346, 0.249, 0.807),
]


def test_table_is_the_published_one() -> None:
    rows = kaplan_meier(TREATED, transform=Transform.LOG)
    printed = [
        (row.age, row.watched, row.ended, round(row.left, 4), round(row.error or 0, 4)) for row in rows
    ]
    assert printed == [row[:5] for row in PUBLISHED]
    assert [(round(row.low or 0, 3), round(row.high or 0, 3)) for row in rows] == [
        row[5:] for row in PUBLISHED
    ]


def test_bounds_are_others_on_another_scale() -> None:
    # lifelines 0.30.3 at 6: 0.620 to 0.952, where R's "log" has 0.720 to 1.
    first = kaplan_meier(TREATED, transform=Transform.LOG_LOG)[0]
    assert (first.low, first.high) == pytest.approx((0.620, 0.952), abs=5e-4)


def test_all_bounds_are_those_of_the_other_library() -> None:
    other = KaplanMeierFitter().fit(TREATED.low, np.isfinite(TREATED.high))
    for row in kaplan_meier(TREATED, transform=Transform.LOG_LOG):
        assert [row.low, row.high] == pytest.approx(list(other.confidence_interval_.loc[row.age]), rel=1e-9)


def test_medians_are_the_published_ones() -> None:
    # 23 and 8 weeks in the same trial.
    assert median(kaplan_meier(TREATED)) == 23
    assert median(kaplan_meier(UNTREATED)) == 8


def test_test_that_is_stopped_falls_evenly_to_a_half() -> None:
    # NIST/SEMATECH e-Handbook 8.4.1.3: 20 on test, so each of the ten failures takes 0.05.
    rows = kaplan_meier(NIST)
    assert [row.age for row in rows] == list(NIST_FAILED)
    assert [row.left for row in rows] == pytest.approx([1 - 0.05 * (at + 1) for at in range(10)])


def test_none_left_has_no_error() -> None:
    last = kaplan_meier(UNTREATED)[-1]
    assert (last.age, last.left, last.error, last.low, last.high) == (23, 0, None, None, None)


def test_rows_of_three_thirds_are_one_layer() -> None:
    third = 1 / 3
    thirds = Observations.from_columns([4, 4, 4, 6, 9], [4, 4, 4, inf, 9], [third, third, third, 1, 1])
    rows = kaplan_meier(thirds)
    assert [(row.age, row.watched, row.ended) for row in rows] == [(4, pytest.approx(3), 1), (9, 1, 1)]
    assert [row.left for row in rows] == pytest.approx([2 / 3, 0])
    assert rows[-1].error is None


def test_nobody_ended_is_an_empty_table() -> None:
    rows = kaplan_meier(Observations.of([Observation(3), Observation(7)]))
    assert rows == ()
    assert median(rows) is None


def test_lives_between_two_looks_are_refused() -> None:
    with pytest.raises(
        ObservationError, match=r"^This table needs the day on which each layer ended, or none"
    ):
        kaplan_meier(COSMESIS)
    with pytest.raises(ObservationError, match=r"^A confidence lies between 0 and 1\.$"):
        kaplan_meier(TREATED, confidence=1)
