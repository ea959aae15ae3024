import numpy as np
import pytest
from numpy.testing import assert_array_equal

from benchtemp.shots.trace import clean, noise_level, step_size


def steady(count=200, noise_k=0.05, seed=0, rate_hz=10.0):
    rng = np.random.default_rng(seed)
    return np.arange(count) / rate_hz, 93.0 + noise_k * rng.standard_normal(count)


def test_spikes_are_set_aside_and_counted():
    t_s, temp = steady()
    temp[[20, 80, 81, 150]] += [300.0, -40.0, -42.0, 1.5]
    trace = clean(t_s, temp)
    assert_array_equal(trace.spikes_s, t_s[[20, 80, 81, 150]])
    assert len(trace) == 196
    assert abs(trace.temp_degc - 93.0).max() < 0.3


def test_a_spike_beside_a_spike_the_other_way_goes_too():
    t_s, temp = steady(rate_hz=1.0)
    temp[50], temp[51] = -120.0, 400.0
    assert_array_equal(clean(t_s, temp).spikes_s, t_s[[50, 51]])


def test_a_rise_is_no_spike():
    t_s = np.arange(0.0, 30.0)
    temp = np.where(t_s < 5, 30.0, 93.0 - 63.0 * np.exp(-(t_s - 5) / 0.8))
    assert len(clean(t_s, temp).spikes_s) == 0


def test_a_sharp_dip_at_a_slow_rate_is_no_spike():
    temp = np.full(40, 94.0)
    temp[20:24] = [93.2, 92.2, 93.1, 93.6]
    assert len(clean(np.arange(40.0), temp).spikes_s) == 0


def test_missing_readings_are_kept_as_times():
    t_s, temp = steady()
    temp[30:40] = np.nan
    trace = clean(t_s, temp)
    assert_array_equal(trace.missing_s, t_s[30:40])
    assert len(trace) == 190


def test_time_that_does_not_move_forward_is_left_out():
    t_s, temp = steady(count=8)
    t_s[3], t_s[5], t_s[6] = t_s[2], 0.0, np.nan
    trace = clean(t_s, temp)
    assert trace.out_of_order == 3
    assert_array_equal(trace.t_s, t_s[[0, 1, 2, 4, 7]])


def test_impossible_values_are_faults_not_readings():
    t_s, temp = steady(count=20)
    temp[[0, 19]] = [1370.0, -270.0]
    assert len(clean(t_s, temp).spikes_s) == 2


@pytest.mark.parametrize("noise_k", [0.02, 0.05, 0.2])
def test_noise_is_found_beneath_a_rise_and_spikes(noise_k):
    t_s, temp = steady(count=600, noise_k=noise_k)
    temp = temp - 60.0 * np.exp(-t_s / 3.0)
    temp[100] += 50.0
    assert noise_level(temp, 0.0) == pytest.approx(noise_k, rel=0.12)


@pytest.mark.parametrize("quantum_k", [0.0625, 0.1, 0.25, 5.0 / 90.0])
def test_the_interface_s_step_is_found(quantum_k):
    _, temp = steady(count=400, noise_k=0.1)
    assert step_size(np.round(temp / quantum_k) * quantum_k) == pytest.approx(quantum_k, rel=1e-6)


def test_free_values_have_no_step():
    _, temp = steady(count=400, noise_k=0.1)
    assert step_size(temp) == 0.0


def test_rounding_alone_still_is_noise():
    assert noise_level(np.full(50, 93.25), 0.25) == pytest.approx(0.25 / np.sqrt(12))
