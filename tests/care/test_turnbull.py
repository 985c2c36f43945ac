"""The step curve without any law: published estimates, and what makes an estimate the right one."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crm.care.kaplan_meier import kaplan_meier
from crm.care.observed import Observation, Observations
from crm.care.turnbull import GAP, WORST_GAP, Stretch, turnbull
from tests.care.sample_lives import COSMESIS, SEVEN_ROWS, TREATED

FAST = settings(max_examples=60, deadline=None)


def test_seven_rows_have_the_published_masses() -> None:
    # Fay and Shaw 2010, 6.3 and table 2: 2/7, 2/7, 3/14, 3/14, printed to eight digits.
    found = turnbull(SEVEN_ROWS)
    assert [(each.low, each.high) for each in found.stretches] == [(2, 3), (5, 6), (9, 10), (10, 12)]
    assert [each.mass for each in found.stretches] == pytest.approx([2 / 7, 2 / 7, 3 / 14, 3 / 14], abs=1e-9)


def test_cosmesis_rows_have_the_published_masses() -> None:
    # Fay and Shaw 2010, the radiation group of Finkelstein and Wolfe 1985.
    found = turnbull(COSMESIS)
    masses = {(each.low, each.high): round(each.mass, 4) for each in found.stretches}
    assert masses == {
        (4, 5): 0.0463,
        (6, 7): 0.0334,
        (7, 8): 0.0887,
        (11, 12): 0.0708,
        (24, 25): 0.0926,
        (33, 34): 0.0818,
        (38, 40): 0.1209,
        (46, 48): 0.4656,
    }
    # Computed with a plain EM written apart from this one.
    assert found.log_likelihood == pytest.approx(-58.0600, abs=5e-5)


def test_curve_falls_at_the_end_of_each_stretch() -> None:
    curve = turnbull(SEVEN_ROWS).curve
    assert [age for age, _ in curve] == [0, 3, 6, 10, 12]
    assert [share for _, share in curve] == pytest.approx([1, 5 / 7, 3 / 7, 3 / 14, 0], abs=1e-9)


@pytest.mark.parametrize(
    ("age", "least", "most"),
    [
        (0, 1, 1),
        (2, 1, 1),
        (2.5, 5 / 7, 1),
        (3, 5 / 7, 5 / 7),
        (10, 3 / 14, 3 / 14),
        (11, 0, 3 / 14),
        (99, 0, 0),
    ],
)
def test_share_left_is_open_only_inside_a_stretch(age: float, least: float, most: float) -> None:
    assert turnbull(SEVEN_ROWS).left(age) == pytest.approx((least, most), abs=1e-9)


def test_nothing_seen_is_an_empty_estimate() -> None:
    found = turnbull(Observations.of([]))
    assert list(found.stretches) == []
    assert list(found.curve) == [(0, 1)]
    assert found.left(5) == (1, 1)


@pytest.mark.parametrize(
    ("seen", "stretches"),
    [
        ([Observation(3), Observation(7)], (Stretch(7, inf, 1.0),)),
        ([Observation(0, 3), Observation(0, 7)], (Stretch(0, 3, 1.0),)),
        ([Observation(5, 5)] * 3, (Stretch(5, 5, 1.0),)),
        ([Observation(0)], (Stretch(0, inf, 1.0),)),
        ([Observation(0, 4), Observation(4)], (Stretch(0, 4, 0.5), Stretch(4, inf, 0.5))),
        ([Observation(4, 4), Observation(4)], (Stretch(4, 4, 0.5), Stretch(4, inf, 0.5))),
        ([Observation(4, 4), Observation(2, 4)], (Stretch(4, 4, 1.0),)),
    ],
    ids=["all whole", "all gone", "one day", "no news", "met at 4", "above 4 is not 4", "by 4 may be 4"],
)
def test_simple_cases_are_plain(seen: list[Observation], stretches: tuple[Stretch, ...]) -> None:
    assert turnbull(Observations.of(seen)).stretches == stretches


def test_where_every_end_is_known_it_is_the_other_table() -> None:
    rows, corners = kaplan_meier(TREATED), turnbull(TREATED).curve[1:]
    assert [age for age, _ in corners] == [row.age for row in rows]
    assert [share for _, share in corners] == pytest.approx([row.left for row in rows], abs=1e-8)


observed = st.lists(
    st.tuples(
        st.integers(0, 12), st.integers(0, 6) | st.just(inf), st.sampled_from([0.125, 0.5, 1.0, 2.0])
    ).filter(lambda row: row[0] + row[1] > 0),
    min_size=1,
    max_size=25,
)


@given(rows=observed)
@FAST
def test_ends_that_are_known_or_to_come_give_the_other_table(rows: list[tuple[int, float, float]]) -> None:
    seen = Observations.of(
        Observation(low + 1, inf if high == inf else low + 1, weight) for low, high, weight in rows
    )
    found = turnbull(seen)
    for row in kaplan_meier(seen):
        assert found.left(row.age)[0] == pytest.approx(row.left, abs=1e-6)
        assert found.left(row.age)[1] == pytest.approx(row.left, abs=1e-6)


@given(rows=observed, seed=st.integers(0, 2**32 - 1))
@FAST
def test_no_other_masses_are_likelier(rows: list[tuple[int, float, float]], seed: int) -> None:
    seen = Observations.of(Observation(low, low + high, weight) for low, high, weight in rows)
    found = turnbull(seen)
    assert found.gap <= WORST_GAP * seen.weight.sum()
    masses = np.array([stretch.mass for stretch in found.stretches])
    assert masses.sum() == pytest.approx(1)
    within = np.array(
        [
            [
                (
                    low < each.low
                    or low <= each.low < each.high
                    or (low == low + high == each.high == each.low)
                )
                and each.high <= low + high
                for each in found.stretches
            ]
            for low, high, _ in rows
        ]
    )
    assert found.log_likelihood == pytest.approx(float(seen.weight @ np.log(within @ masses)), abs=1e-8)
    others = np.random.default_rng(seed).dirichlet(np.ones(masses.size), size=20)
    for share in (1e-3, 0.1, 1):
        for other in others:
            held = within @ (masses * (1 - share) + other * share)
            if held.min() > 0:
                assert float(seen.weight @ np.log(held)) <= found.log_likelihood + found.gap + 1e-9


def test_thousands_of_rows_come_to_rest() -> None:
    dice = np.random.default_rng(11)
    lives = 20 * dice.weibull(2.5, 5000)
    looks = np.sort(dice.uniform(0, 40, (5000, 3)), axis=1)
    bounds = np.column_stack((np.zeros(5000), looks, np.full(5000, inf)))
    passed, each = (lives[:, None] > bounds).sum(axis=1), np.arange(5000)
    found = turnbull(Observations.from_columns(bounds[each, passed - 1], bounds[each, passed]))
    assert found.gap <= GAP * 5000
    # The law that the lives were drawn from: the estimate strays by some hundredths, far less than 0.1.
    for age in (10, 20, 30):
        least, most = found.left(age)
        assert least - 0.1 < np.exp(-((age / 20) ** 2.5)) < most + 0.1
