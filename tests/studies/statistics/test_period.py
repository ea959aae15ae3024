import math

import numpy as np
import pytest

from benchtemp.studies.statistics.period import mean_period


def test_exact_moments_give_the_exact_period():
    found = mean_period([100.0 * np.arange(8)], 0.05)
    assert found.period_s == pytest.approx(100.0, abs=1e-9)
    assert found.count == 7
    assert found.interval.half_width < 0.1


def test_runs_are_not_joined_across_what_disturbed_them():
    found = mean_period([100.0 * np.arange(4), 5_000.0 + 100.0 * np.arange(4)], 0.05)
    assert found.period_s == pytest.approx(100.0)
    assert found.count == 6


def test_one_period_says_nothing_of_its_scatter():
    found = mean_period([np.array([0.0, 130.0])], 0.1)
    assert found.period_s == 130.0
    assert not found.interval.bounded
    assert math.isnan(mean_period([], 0.1).period_s)


@pytest.mark.parametrize(
    ("jitter_s", "timing_s", "least"), [(1.0, 0.05, 0.92), (1.0, 0.5, 0.92), (0.0, 0.5, 0.95)]
)
def test_interval_covers(rng, jitter_s, timing_s, least):
    hits = 0
    for _ in range(60):
        moments = np.cumsum(rng.normal(100, jitter_s, 11)) + rng.normal(0, timing_s, 11)
        hits += mean_period([moments], timing_s).interval.holds(100.0)
    assert hits / 60 >= least - 0.05
