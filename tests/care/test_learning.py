"""What is learned of lives: published values, another library, and what holds whatever was seen."""

from __future__ import annotations

from itertools import pairwise
from math import inf, isfinite, log, sqrt

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from lifelines import WeibullFitter
from lifelines.datasets import load_diabetes

from crm.care.censored import CensoredWeibull
from crm.care.learning import SPREAD, Learned, LearningError, Spread, learn, log_likelihood
from crm.care.life import STEEPEST_SHAPE, Life, Weibull, life_window
from crm.care.observed import Observation, ObservationError, Observations
from tests.care.sample_lives import COSMESIS, NIST, TREATED, UNTREATED

SEALANT = Life(4, 6, 9)
NOTHING = Observations.of([])
FAST = settings(max_examples=60, deadline=None)


def likeliest(observations: Observations) -> Learned:
    return learn(SEALANT, observations, spread=None)


def repeated(observations: Observations, times: float) -> Observations:
    """As if the same had been seen of so many times as many layers."""
    return Observations.from_columns(observations.low, observations.high, observations.weight * times)


# Published values.


def test_right_censored_lives_have_the_published_law() -> None:
    # NIST/SEMATECH e-Handbook 8.4.1.3: shape 1.7208, scale 606.5280 (read in a data file that cites the page).
    law = likeliest(NIST).law
    assert law.shape == pytest.approx(1.7208, abs=5e-5)
    assert law.scale == pytest.approx(606.5280, abs=1e-3)


def test_right_censored_lives_have_the_window_that_follows() -> None:
    # Derived from the same fit with scipy 1.17.1: logL -75.1346, B10 164.02, median 490.17, S(500) 0.4881.
    found = likeliest(NIST)
    assert found.log_likelihood == pytest.approx(-75.1346, abs=5e-5)
    assert found.window[:2] == pytest.approx((164.02, 490.17), abs=5e-3)
    assert found.law.survival(500) == pytest.approx(0.4881, abs=5e-5)
    chance = 1 - found.law.survival(600) / found.law.survival(500)
    assert chance == pytest.approx(0.2323, abs=5e-5)


def test_lives_between_two_visits_have_the_known_law() -> None:
    # Breast cosmesis, radiation: scale 57.513, shape 1.1216, logL -64.7315, median 41.48 (lifelines 0.30.3).
    found = likeliest(COSMESIS)
    assert (found.law.scale, found.law.shape) == pytest.approx((57.513, 1.1216), rel=1e-4)
    assert found.log_likelihood == pytest.approx(-64.7315, abs=5e-5)
    assert found.window[1] == pytest.approx(41.48, abs=5e-3)


def test_both_arms_of_a_trial_have_the_known_laws() -> None:
    # Freireich et al. 1963: 33.765 and 1.3537, logL -41.659; 9.482 and 1.3705 (lifelines 0.30.3).
    treated, untreated = likeliest(TREATED), likeliest(UNTREATED)
    assert (treated.law.scale, treated.law.shape) == pytest.approx((33.765, 1.3537), rel=1e-4)
    assert treated.log_likelihood == pytest.approx(-41.659, abs=5e-4)
    assert (untreated.law.scale, untreated.law.shape) == pytest.approx((9.482, 1.3705), rel=1e-4)


def test_likelihood_is_that_of_two_other_programs() -> None:
    # lifelines' load_diabetes(), 731 rows: scale 18.3197, shape 2.82628, coefficient of gender 0.04576,
    # logL -2027.196, in R's flexsurv and icenReg as in lifelines.
    rows = load_diabetes()
    first, last = (rows[rows["gender"] == word] for word in ("female", "male"))
    total = 0.0
    for group, scale in ((first, 18.3197), (last, 18.3197 * np.exp(0.04576))):
        found = Observations.from_columns(group["left"], group["right"])
        total += log_likelihood(Weibull(2.82628, scale), found)
    assert total == pytest.approx(-2027.196, abs=2e-3)


def test_law_of_all_rows_is_that_of_the_other_library() -> None:
    rows = load_diabetes()
    found = likeliest(Observations.from_columns(rows["left"], rows["right"]))
    # Its own exact rows are those whose two ages are equal, as ours.
    other = WeibullFitter().fit_interval_censoring(rows["left"], rows["right"], fit_options={"ftol": 1e-16})
    assert (found.law.scale, found.law.shape) == pytest.approx((other.lambda_, other.rho_), rel=1e-5)
    assert found.log_likelihood >= other.log_likelihood_ - 1e-9


def test_uncertainty_is_that_of_the_other_library() -> None:
    found = likeliest(COSMESIS)
    other = WeibullFitter().fit_interval_censoring(COSMESIS.low, COSMESIS.high, fit_options={"ftol": 1e-16})
    own = [
        error / value for error, value in zip(other.summary["se(coef)"], other.summary["coef"], strict=True)
    ]
    assert [sqrt(found.covariance[at][at]) for at in (0, 1)] == pytest.approx(own, rel=1e-4)


# Slopes and errors.


@given(log_scale=st.floats(0.5, 3), log_shape=st.floats(-1, 1.6), seed=st.integers(0, 2**32 - 1))
@FAST
def test_slopes_are_those_of_small_differences(log_scale: float, log_shape: float, seed: int) -> None:
    hill, step = CensoredWeibull(drawn(seed, 40)), 1e-5
    here = hill.slopes(log_scale, log_shape)
    assume(here.value > -1e6)
    around = [
        (hill.slopes(log_scale + step * by[0], log_shape + step * by[1]), by[0] + by[1])
        for by in ((1, 0), (-1, 0), (0, 1), (0, -1))
    ]
    for at in (0, 1):
        more, less = around[2 * at][0], around[2 * at + 1][0]
        size = 1e-5 * (abs(here.gradient).max() + abs(here.value) + 1)
        assert (more.value - less.value) / (2 * step) == pytest.approx(here.gradient[at], abs=size)
        size = 1e-5 * (abs(here.hessian).max() + 1)
        assert (more.gradient - less.gradient) / (2 * step) == pytest.approx(here.hessian[at], abs=size)


def test_errors_cover_the_truth_as_often_as_they_say() -> None:
    truth = Weibull(2.5, 8.0).window
    rounds = 300
    inside = np.zeros(3)
    for seed in range(rounds):
        pairs = likeliest(visited(seed, 150)).between(0.9)
        inside += [low <= value <= high for (low, high), value in zip(pairs, truth, strict=True)]
    # 90 % of 300 is 270, with a standard deviation of 5.2.
    assert (inside >= 250).all()
    assert (inside <= 290).all()


def test_error_of_the_scale_alone_is_that_of_the_window() -> None:
    # ln of a percentile p is ln scale + ln(-ln(1 - p)) / shape; at 63.2 % the shape has no part in it.
    found = learn(Weibull(2.0, 6.0), NOTHING, spread=(0.2, 0.1))
    reaches = [log(-log(1 - share)) for share in (0.1, 0.5, 0.9)]
    assert found.errors == pytest.approx([sqrt(0.2**2 + (reach / 2 * 0.1) ** 2) for reach in reaches])


# The shelf and what moves it.


@given(
    numbers=st.tuples(st.floats(0.5, 100), st.floats(1, 3), st.floats(1, 2)),
    silent=st.integers(0, 3),
    spread=st.tuples(st.floats(0.05, 2), st.floats(0.05, 2)),
)
@FAST
def test_nothing_seen_is_exactly_the_shelf(
    numbers: tuple[float, float, float], silent: int, spread: Spread
) -> None:
    low, up, further = numbers
    shelf = Life(low, low * up, low * up * further)
    found = learn(shelf, Observations.of([Observation(0)] * silent), spread=spread)
    assert found.law == shelf.weibull
    assert found.window == life_window(shelf)
    assert found.covariance == pytest.approx(np.diag(np.square(spread)))


@given(seed=st.integers(0, 2**32 - 1), rows=st.integers(1, 25))
@FAST
def test_more_of_the_same_leads_from_the_shelf_to_the_likeliest(seed: int, rows: int) -> None:
    seen = drawn(seed, rows)
    prior = np.log((SEALANT.weibull.scale, SEALANT.weibull.shape))
    off, likelihoods = [0.0], [log_likelihood(SEALANT.weibull, seen)]
    for times in (0.1, 1, 3, 10, 100):
        found = learn(SEALANT, repeated(seen, times))
        off.append(float(np.hypot(*((np.log((found.law.scale, found.law.shape)) - prior) / SPREAD))))
        likelihoods.append(log_likelihood(found.law, seen))
    assert all(later >= sooner - 1e-6 for sooner, later in pairwise(off))
    assert all(later >= sooner - 1e-6 for sooner, later in pairwise(likelihoods))


def test_distance_to_the_likeliest_shrinks_to_nothing() -> None:
    seen = visited(7, 30)
    goal = likeliest(seen).law
    apart = [
        abs(log(learn(SEALANT, repeated(seen, times)).law.scale / goal.scale))
        + abs(log(learn(SEALANT, repeated(seen, times)).law.shape / goal.shape))
        for times in (1, 3, 10, 30, 100, 1000, 10_000)
    ]
    assert apart == sorted(apart, reverse=True)
    assert apart[-1] < 1e-4


def test_one_car_moves_the_shelf_a_little_and_the_right_way() -> None:
    shelf = life_window(SEALANT)
    whole = learn(SEALANT, Observations.of([Observation(8)]))
    gone = learn(SEALANT, Observations.of([Observation(0, 3)]))
    assert gone.window[1] < shelf[1] < whole.window[1] < 1.3 * shelf[1]
    assert gone.window[1] > shelf[1] / 1.4
    assert whole.errors[1] < learn(SEALANT, NOTHING).errors[1]


def test_half_a_layer_counts_as_half() -> None:
    twice = Observations.of([Observation(3, 5, 0.5), Observation(3, 5, 0.5)])
    assert learn(SEALANT, twice).law.scale == pytest.approx(
        learn(SEALANT, Observations.of([Observation(3, 5)])).law.scale, rel=1e-12
    )


def test_narrow_bounds_come_to_the_same_as_an_exact_end() -> None:
    near = learn(SEALANT, Observations.of([Observation(5, 5 * (1 + 1e-12))] * 7))
    assert near.law.scale == pytest.approx(learn(SEALANT, Observations.of([Observation(5, 5)] * 7)).law.scale)


@given(seed=st.integers(0, 2**32 - 1), rows=st.integers(1, 30), times=st.floats(0.01, 100))
@FAST
def test_another_unit_of_time_changes_nothing_but_the_unit(seed: int, rows: int, times: float) -> None:
    seen = drawn(seed, rows)
    other = Observations.from_columns(seen.low * times, seen.high * times, seen.weight)
    law = SEALANT.weibull
    found, scaled = learn(law, seen), learn(Weibull(law.shape, law.scale * times), other)
    assert scaled.law.shape == pytest.approx(found.law.shape, rel=1e-7)
    assert scaled.window == pytest.approx([months * times for months in found.window], rel=1e-7)
    assert scaled.errors == pytest.approx(found.errors, rel=1e-6)


# Whatever was seen.

ages = st.one_of(st.just(0.0), st.floats(1e-6, 1e6), st.integers(1, 40).map(float))
rows = st.lists(
    st.tuples(ages, st.one_of(ages, st.just(inf), st.floats(1e6, 1e300)), st.floats(1e-3, 1e6))
    .map(lambda row: (min(row[:2]), max(row[:2]), row[2]))
    .filter(lambda row: row[1] > 0),
    max_size=12,
)


@given(rows=rows, shelf=st.sampled_from([SEALANT, Life(1, 1, 1), Life(48, 84, 120), Life(0.1, 5, 600)]))
@settings(max_examples=100, deadline=None)
def test_any_observations_have_an_answer(rows: list[tuple[float, float, float]], shelf: Life) -> None:
    found = learn(shelf, Observations.of([Observation(*row) for row in rows]))
    low, likely, high = found.window
    assert 0 < low <= likely <= high < inf
    assert all(isfinite(error) and error >= 0 for error in found.errors)
    assert not np.isnan(found.log_likelihood)


@pytest.mark.parametrize(
    "seen",
    [
        [Observation(1e6)] * 3,
        [Observation(0, 1e-6)] * 3,
        [Observation(1e6), Observation(0, 1e-6)],
        [Observation(5, 5)] * 10_000,
        [Observation(0, 1e300)],
        [Observation(1e6, 1e6), Observation(1e-6, 1e-6)],
        [Observation(4, 4 + 1e-15, 1e6)],
    ],
    ids=["all whole", "all gone", "at odds", "one day", "far out", "exact and far", "hair's breadth"],
)
@pytest.mark.parametrize("shelf", [SEALANT.weibull, Weibull(STEEPEST_SHAPE, 1.0), Weibull(0.3, 600.0)])
def test_extremes_have_an_answer(seen: list[Observation], shelf: Weibull) -> None:
    found = learn(shelf, Observations.of(seen))
    assert 0 < found.window[0] <= found.window[1] <= found.window[2] < inf
    assert all(map(isfinite, found.errors))


def test_shape_is_held_where_thousands_agree_to_the_day() -> None:
    found = learn(SEALANT, Observations.of([Observation(5, 5, 1e6)]))
    assert found.law.shape == pytest.approx(STEEPEST_SHAPE, rel=1e-5)
    assert list(found.covariance[1]) == [0, 0]
    assert found.window[1] == pytest.approx(5, rel=0.01)


def test_mode_is_the_highest_place_of_a_fine_grid() -> None:
    seen = Observations.of([Observation(0, 0.1, 6), Observation(40, inf, 6), Observation(5, 6, 2)])
    hill, law = CensoredWeibull(seen), SEALANT.weibull

    def height(log_scale: float, log_shape: float) -> float:
        off = (log_scale - log(law.scale)) / SPREAD[0], (log_shape - log(law.shape)) / SPREAD[1]
        return hill.slopes(log_scale, log_shape).value - (off[0] ** 2 + off[1] ** 2) / 2

    found = learn(SEALANT, seen).law
    best = max(height(a, b) for a in np.linspace(-1, 6, 57) for b in np.linspace(-3, 3, 49))
    top = height(log(found.scale), log(found.shape))
    assert best <= top < best + 0.5


# What the observations alone leave open.


@pytest.mark.parametrize(
    ("seen", "words"),
    [
        ([], "Every layer was still whole when it was last seen"),
        ([Observation(3), Observation(7)], "Every layer was still whole when it was last seen"),
        ([Observation(0, 3), Observation(0, 9)], "Every layer was gone at the first look"),
        ([Observation(3, 7)], "One age fits every layer"),
        ([Observation(5, 5)] * 4, "One age fits every layer"),
        ([Observation(0, 4), Observation(4)], "One age fits every layer"),
        ([Observation(0, 1), Observation(10)], "Young layers are gone and old ones whole without any order"),
    ],
)
def test_flat_prior_refuses_what_the_observations_leave_open(seen: list[Observation], words: str) -> None:
    with pytest.raises(LearningError, match=f"^{words}"):
        likeliest(Observations.of(seen))


def test_flat_prior_takes_the_least_that_decides() -> None:
    found = likeliest(Observations.of([Observation(0, 4), Observation(5), Observation(0, 6), Observation(3)]))
    assert 3 < found.window[1] < 7


@given(seed=st.integers(0, 2**32 - 1), rows=st.integers(2, 40))
@FAST
def test_flat_prior_finds_a_level_place_wherever_lives_overlap(seed: int, rows: int) -> None:
    overlapping = [Observation(2, 4), Observation(6, 9), Observation(3, 8), Observation(5), Observation(0, 7)]
    some = drawn(seed, rows)
    seen = Observations.from_columns(
        [*some.low, *(one.low for one in overlapping)],
        [*some.high, *(one.high for one in overlapping)],
        [*some.weight, *(one.weight for one in overlapping)],
    )
    law = likeliest(seen).law
    gradient = CensoredWeibull(seen).slopes(log(law.scale), log(law.shape)).gradient
    assert abs(gradient).max() < 1e-8 * (1 + seen.weight.sum())


@pytest.mark.parametrize("spread", [(0, 0.3), (0.3, -1), (0.3, inf), (float("nan"), 0.3)])
def test_spread_has_to_be_a_distance(spread: Spread) -> None:
    with pytest.raises(LearningError, match=r"^How far a product may lie from its shelf is a number from"):
        learn(SEALANT, NOTHING, spread=spread)


@pytest.mark.parametrize("confidence", [0, 1, 1.5])
def test_confidence_lies_between_nothing_and_everything(confidence: float) -> None:
    with pytest.raises(LearningError, match=r"^A confidence lies between 0 and 1\.$"):
        learn(SEALANT, NOTHING).between(confidence)


# Observations.


def test_kinds_of_observations_are_counted() -> None:
    seen = [Observation(3), Observation(0, 4, 0.5), Observation(2, 5), Observation(6, 6), Observation(1, 2)]
    counts = learn(SEALANT, Observations.of(seen)).counts
    assert (counts.alive, counts.finished, counts.between, counts.exact) == (1, 1, 2, 1)
    assert (counts.total, counts.weight) == (5, 4.5)


@pytest.mark.parametrize(
    ("low", "high", "weight", "words"),
    [
        (-1, 4, 1, "A layer is seen whole at no age below nothing"),
        (2e6, inf, 1, "A layer is seen whole at no age below nothing"),
        (0, 0, 1, "A layer cannot be finished before it was laid"),
        (5, 4, 1, "A layer cannot be finished before it was last seen whole"),
        (1, 4, 0, "A weight lies between"),
        (1, 4, inf, "A weight lies between"),
        (float("nan"), 4, 1, "An age is a number of months"),
    ],
)
def test_observation_that_cannot_be_meant_is_refused(
    low: float, high: float, weight: float, words: str
) -> None:
    with pytest.raises(ObservationError, match=f"^{words}"):
        Observation(low, high, weight)
    with pytest.raises(ObservationError, match=f"^{words}"):
        Observations.from_columns([1, low], [2, high], [1, weight])


def test_columns_are_of_one_length_and_stay_as_they_are() -> None:
    with pytest.raises(
        ObservationError, match=r"^The three columns of observations have to be of one length\.$"
    ):
        Observations.from_columns([1, 2], [3, 4], [1])
    with pytest.raises(ValueError, match="read-only"):
        NIST.low[0] = 3


def drawn(seed: int, rows: int) -> Observations:
    """Lives round the sealant's, of every kind of observation, with weights."""
    dice = np.random.default_rng(seed)
    lives = 7 * dice.weibull(2.5, rows)
    before, after = lives * dice.uniform(0.1, 1, rows), lives * dice.uniform(1, 3, rows)
    kind = dice.integers(0, 4, rows)
    low = np.select([kind == 0, kind == 1], [0 * lives, lives], before)
    high = np.select([kind == 1, kind == 2], [lives, np.full(rows, inf)], after)
    return Observations.from_columns(low, high, dice.choice([0.25, 0.5, 1.0], rows))


def visited(seed: int, rows: int) -> Observations:
    """Lives of shape 2.5 and scale 8, known by three looks at each layer on days of their own."""
    dice = np.random.default_rng(seed)
    lives = 8 * dice.weibull(2.5, rows)
    looks = np.sort(dice.uniform(0, 16, (rows, 3)), axis=1)
    bounds = np.column_stack((np.zeros(rows), looks, np.full(rows, inf)))
    passed = (lives[:, None] > bounds).sum(axis=1)
    each = np.arange(rows)
    return Observations.from_columns(bounds[each, passed - 1], bounds[each, passed])
