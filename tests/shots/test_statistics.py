import numpy as np
import pytest
import scipy.stats
from hypothesis import assume, given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.testing import assert_allclose

from benchtemp.shots.statistics import (
    lag1_autocorrelation,
    mean,
    median,
    standard_deviation,
    straight_line,
    time_weights,
)

temperatures = arrays(np.float64, st.integers(2, 60), elements=st.floats(20.0, 110.0))


@given(temperatures)
def test_scipy_gives_the_same_mean_and_spread(values):
    assume(np.ptp(values) > 1e-3)
    described = scipy.stats.describe(values)
    assert mean(values) == pytest.approx(described.mean, abs=1e-10)
    assert standard_deviation(values) == pytest.approx(np.sqrt(described.variance), abs=1e-9)


@given(temperatures, st.integers(0, 2**32 - 1))
def test_scipy_gives_the_same_line(values, seed):
    assume(np.ptp(values) > 1e-3)
    t_s = np.cumsum(np.random.default_rng(seed).uniform(0.05, 1.0, len(values)))
    second_opinion = scipy.stats.linregress(t_s, values)
    fitted = straight_line(t_s, values)
    # Two points 0.05 s apart make slopes of thousands: compare on the scale of the spread over the length.
    scale = (np.ptp(values) + 1.0) / np.ptp(t_s)
    assert fitted.slope == pytest.approx(second_opinion.slope, abs=1e-9 * scale)
    if len(values) > 2:
        assert fitted.slope_uncertainty == pytest.approx(second_opinion.stderr, abs=1e-6 * scale)


def test_hand_worked_line():
    fitted = straight_line(np.array([0.0, 1.0, 2.0, 3.0]), np.array([1.0, 3.0, 5.0, 8.0]))
    assert fitted.slope == pytest.approx(2.3, abs=1e-12)
    assert fitted.at_zero == pytest.approx(0.8, abs=1e-12)
    assert fitted.residual_sd == pytest.approx(np.sqrt(0.3 / 2), abs=1e-12)


def test_what_cannot_be_computed_is_not_a_number():
    assert np.isnan(mean(np.empty(0)))
    assert np.isnan(standard_deviation(np.array([93.0])))
    assert np.isnan(lag1_autocorrelation(np.array([93.0, 93.0])))
    with pytest.raises(ValueError, match="two different x"):
        straight_line(np.array([1.0, 1.0]), np.array([1.0, 2.0]))


def test_alternating_readings_are_anticorrelated():
    assert lag1_autocorrelation(np.tile([92.0, 94.0], 500)) == pytest.approx(-1.0, abs=2e-3)


def test_weights_follow_time_not_number():
    # Ten readings crowd into the first second, one stands for the nine that follow.
    t_s = np.append(np.linspace(0.0, 1.0, 10), 10.0)
    weights = time_weights(t_s, 0.0, 10.0)
    assert weights.sum() == pytest.approx(1.0)
    assert weights[-1] == pytest.approx(0.45)
    assert_allclose(weights[1:9], 1.0 / 90.0)


def test_a_single_reading_carries_everything():
    assert time_weights(np.array([3.0]), 0.0, 10.0) == pytest.approx([1.0])


@pytest.mark.parametrize("count", [1, 2, 3, 8, 101, 256])
def test_the_median_is_numpy_s_to_the_last_bit(count):
    values = np.random.default_rng(count).normal(93.0, 0.3, count)
    assert median(values) == np.median(values)
    counts = np.arange(count)[::-1].copy()
    assert median(counts) == np.median(counts)
