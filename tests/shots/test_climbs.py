"""The last climb of a trace: ways out of dips that are found, and noise that is taken for none."""

import numpy as np
import pytest

from benchtemp.shots.climbs import last_climb


def trace(*, period_s=1.0, noise_k=0.1, seed=0, depth_k=0.0, middle_s=24.0, width_s=1.0):
    """A climb at 10 s and a plateau until 45 s, with a dip in it."""
    t_s = np.arange(0.0, 45.0, period_s)
    temp = 93.0 - 53.0 * np.exp(-np.maximum(t_s - 10.0, 0.0) / 1.5)
    temp -= depth_k * np.exp(-(((t_s - middle_s) / width_s) ** 2))
    return t_s, temp + noise_k * np.random.default_rng(seed).standard_normal(len(t_s))


def ways_out_found(count, *, middle_s, noise_k, **more):
    """In how many traces the last climb is the way out of the dip."""
    found = 0
    for seed in range(count):
        climb = last_climb(*trace(middle_s=middle_s, noise_k=noise_k, seed=seed, **more), noise_k, 0.0)
        found += climb is not None and middle_s < climb.middle_s < middle_s + 4.0
    return found


@pytest.mark.parametrize(("middle_s", "width_s"), [(24.75, 0.8), (24.0, 1.0)])
def test_the_way_into_a_short_dip_speaks_for_the_way_out(middle_s, width_s):
    # At one reading a second the way out alone is a single step between two readings.
    assert ways_out_found(20, depth_k=1.0, middle_s=middle_s, width_s=width_s, noise_k=0.15) >= 16


def test_a_doubtful_way_out_keeps_the_climb_beyond_doubt():
    climb = last_climb(*trace(depth_k=1.0, middle_s=24.0, noise_k=0.15), 0.15, 0.0)
    assert climb.middle_s == pytest.approx(25.0, abs=1.5)
    assert climb.sure is not None
    assert climb.sure.middle_s < 19.0
    assert climb.sure.sure is None


@pytest.mark.parametrize("period_s", [1.0, 1.1, 1.3])
def test_one_reading_on_either_side_of_a_step_is_enough(period_s):
    found = ways_out_found(12, period_s=period_s, depth_k=1.5, middle_s=24.3, width_s=1.5, noise_k=0.1)
    assert found == 12


def test_noise_on_a_plateau_makes_no_climb():
    doubtful = 0
    for seed in range(240):
        t_s, temp = trace(period_s=(1.0, 0.5, 0.25)[seed % 3], noise_k=0.15, seed=seed)
        climb = last_climb(t_s, temp, 0.15, 0.0)
        doubtful += climb.sure is not None
    assert doubtful <= 1


def test_a_step_of_the_interface_is_no_climb():
    t_s, temp = trace(noise_k=0.0)
    temp = np.where((t_s >= 27.0) & (t_s < 30.0), temp - 0.5, temp)
    assert last_climb(t_s, temp, 0.05, 0.0).middle_s == pytest.approx(30.0, abs=1.0)
    assert last_climb(t_s, temp, 0.05, 0.5).middle_s < 19.0


@pytest.mark.parametrize("count", [0, 1, 2])
def test_of_too_few_readings_there_is_no_climb(count):
    t_s = np.arange(float(count))
    assert last_climb(t_s, 50.0 + 10.0 * t_s, 0.1, 0.0) is None


def test_a_trace_that_never_climbs_that_fast_has_none():
    t_s = np.arange(0.0, 40.0)
    assert last_climb(t_s, 90.0 + 0.2 * t_s, 0.05, 0.0) is None
