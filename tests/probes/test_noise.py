from math import inf, nan, sqrt

import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.probes.noise import correlation_length, mean_of, noise_of, step_of


def test_step_of_readings():
    assert step_of(np.array([94.2, 94.6, 95.0])) == pytest.approx(0.1)
    assert step_of(np.array([94.0, 95.0])) == pytest.approx(1.0)
    assert step_of(np.array([94.25, 94.5])) == pytest.approx(0.01)
    fahrenheit = (np.array([201.9, 202.0, 202.1, 202.3]) - 32.0) / 1.8
    assert step_of(fahrenheit) == pytest.approx(0.1 / 1.8, abs=2e-6)
    assert step_of(np.array([nan])) == 0.0


def test_independent_readings_count_fully_and_others_less(bubbling):
    white = np.random.default_rng(1).normal(0.0, 1.0, 4000)
    assert correlation_length(white) == pytest.approx(1.0, abs=0.2)
    # Noise with memory e^(-1/10) per reading: (1 + r) / (1 - r) = 20.0 readings for one.
    tied = bubbling(20_000, 0.1, 1.0, memory_s=1.0)
    assert correlation_length(tied) == pytest.approx(20.0, rel=0.25)
    assert correlation_length(np.full(50, 3.0)) == 1.0


def test_mean_of_quantised_quiet_readings_keeps_their_step():
    found = mean_of(np.full(100, 94.6))
    assert found.uncertainty == pytest.approx(0.1 / np.sqrt(12.0))
    assert found.sd == 0.0
    assert found.dof == inf
    with pytest.raises(BadInput, match="no readings"):
        mean_of(np.array([nan, nan]))


def test_trimmed_mean_is_not_moved_by_stray_readings():
    values = np.full(200, 94.6) + np.random.default_rng(2).normal(0.0, 0.05, 200)
    values[::20] = 80.0
    assert mean_of(values, trimmed=True).value == pytest.approx(94.6, abs=0.02)
    assert abs(mean_of(values).value - 94.6) > 0.5


def test_noise_is_found():
    rng = np.random.default_rng(2)
    t = np.arange(0.0, 60.0, 0.1)
    rising = 60.0 + 33.0 * (1.0 - np.exp(-t / 5.0))
    assert noise_of(rising + rng.normal(0.0, 0.2, t.size)) == pytest.approx(0.2, rel=0.1)
    assert noise_of(np.full(50, 93.2)) == pytest.approx(0.1 / sqrt(12.0))
