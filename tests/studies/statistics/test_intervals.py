import math

import numpy as np
import pytest
from scipy import stats

from benchtemp.studies.statistics.intervals import (
    around,
    mean_interval,
    next_value_interval,
    pooled_sd,
    sd_interval,
    sd_ratio_interval,
    share_interval,
    t_factor,
    t_test_p,
)

SHOTS = np.array([92.4, 93.1, 92.8, 92.6, 93.3, 92.9, 92.7])


def test_mean_interval_is_scipys():
    expected = stats.t.interval(0.95, 6, loc=SHOTS.mean(), scale=stats.sem(SHOTS))
    found = mean_interval(SHOTS)
    assert (found.low, found.high) == pytest.approx(expected, rel=1e-12)


def test_next_shot_lies_in_a_wider_interval_than_the_mean():
    half = stats.t.ppf(0.975, 6) * SHOTS.std(ddof=1) * math.sqrt(1 + 1 / 7)
    assert next_value_interval(SHOTS).half_width == pytest.approx(half, rel=1e-12)


@pytest.mark.parametrize("values", [np.array([]), np.array([93.0])])
def test_one_shot_or_none_bounds_nothing(values):
    for interval in (mean_interval(values), next_value_interval(values)):
        assert not interval.bounded
        assert interval.low == -math.inf
        assert interval.high == math.inf


def test_sd_interval_is_chi_squared():
    sd = SHOTS.std(ddof=1)
    expected = [sd * math.sqrt(6 / stats.chi2.ppf(q, 6)) for q in (0.975, 0.025)]
    found = sd_interval(sd, 6)
    assert [found.low, found.high] == pytest.approx(expected, rel=1e-10)


def test_sd_ratio_interval_is_f():
    found = sd_ratio_interval(0.3, 7, 0.2, 9)
    expected = [1.5 / math.sqrt(stats.f.ppf(q, 7, 9)) for q in (0.975, 0.025)]
    assert [found.low, found.high] == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize(("hits", "count"), [(0, 5), (5, 5), (9, 10), (37, 60)])
def test_share_interval_is_wilsons(hits, count):
    expected = stats.binomtest(hits, count).proportion_ci(0.95, method="wilson")
    found = share_interval(hits, count)
    assert (found.low, found.high) == pytest.approx((expected.low, expected.high), abs=1e-12)


def test_nothing_seen_leaves_any_share_possible():
    assert (share_interval(0, 0).low, share_interval(0, 0).high) == (0.0, 1.0)


def test_t_factor_tends_to_the_normal_one():
    assert t_factor(math.inf) == pytest.approx(1.959964, abs=1e-6)
    assert t_factor(0) == math.inf


def test_chance_of_a_slope_is_scipys():
    order = np.arange(7.0)
    fitted = stats.linregress(order, SHOTS)
    assert t_test_p(fitted.slope, fitted.stderr, 5) == pytest.approx(fitted.pvalue, rel=1e-10)
    assert math.isnan(t_test_p(1.0, 0.0, 5))


def test_unknown_uncertainty_bounds_nothing():
    assert not around(93.0, math.nan, 5).bounded
    assert around(93.0, 0.1, 5).holds(93.0)


def test_pooled_scatter_weighs_by_degrees_of_freedom():
    sd, dof = pooled_sd([np.array([1.0, 3.0]), np.array([5.0]), np.array([1.0, 2.0, 3.0])])
    assert dof == 3
    assert sd == pytest.approx(math.sqrt((2.0 + 2.0) / 3))
