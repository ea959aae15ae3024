import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
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


def levels(count, trace_of, trials=200, quantum_k=0.0):
    """The noise found in traces with a noise of 0.1 K on them, over many seeds."""
    t_s = np.arange(float(count))
    found = []
    for seed in range(trials):
        temp = trace_of(t_s) + 0.1 * np.random.default_rng(seed).standard_normal(count)
        if quantum_k:
            temp = np.round(temp / quantum_k) * quantum_k
        found.append(noise_level(temp, quantum_k))
    return np.array(found)


def at_93(t_s):
    return np.full(len(t_s), 93.0)


def rise(t_s):
    return 93.0 - 53.0 * np.exp(-np.maximum(t_s - 10.0, 0.0) / 2.0)


def rise_and_dip(t_s):
    return rise(t_s) - 3.0 * np.exp(-(((t_s - 30.0) / 1.2) ** 2))


def test_white_noise_is_found_without_a_bias():
    found = levels(400, at_93)
    assert found.mean() == pytest.approx(0.1, rel=0.05)
    # As few as are looked at, they say it to 7 %.
    assert found.std() < 0.0085


def test_few_readings_are_all_looked_at():
    assert levels(12, at_93).mean() == pytest.approx(0.1, rel=0.2)


@pytest.mark.parametrize(("trace_of", "count"), [(rise, 40), (rise_and_dip, 60), (rise_and_dip, 40)])
def test_a_rise_and_a_dip_at_one_reading_a_second_are_no_noise(trace_of, count):
    assert levels(count, trace_of, trials=60).mean() == pytest.approx(0.1, rel=0.25)


def test_a_ramp_is_no_noise():
    assert levels(100, lambda t_s: 3.0 * t_s, trials=60).mean() == pytest.approx(0.1, rel=0.12)


def test_one_spike_in_forty_readings_is_no_noise():
    found = levels(400, lambda t_s: 93.0 + 60.0 * (t_s % 40 == 7), trials=40)
    assert found.mean() == pytest.approx(0.1, rel=0.25)


def test_an_interface_s_step_adds_its_own_noise_and_no_more():
    found = levels(400, at_93, quantum_k=0.0625)
    assert found.mean() == pytest.approx(np.hypot(0.1, 0.0625 / np.sqrt(12.0)), rel=0.06)


@pytest.mark.parametrize("count", [1, 4, 5, 30])
def test_a_flat_trace_is_never_quite_without_noise(count):
    assert noise_level(np.full(count, 93.0), 0.0) == 1e-3
    assert noise_level(np.full(count, 93.0), 0.1) == pytest.approx(0.1 / np.sqrt(12.0))


@given(
    arrays(float, st.integers(0, 80), elements=st.floats(-50.0, 160.0)),
    st.sampled_from([0.0, 0.01, 0.0625, 0.25]),
    st.floats(-20.0, 20.0),
)
def test_whatever_the_readings_their_noise_is_a_positive_number(temp, quantum_k, offset_k):
    found = noise_level(temp, quantum_k)
    assert max(1e-3, quantum_k / np.sqrt(12.0)) <= found < 400.0
    # Neither where zero lies nor which way is up matters.
    assert noise_level(-temp, quantum_k) == found
    if len(np.unique(np.abs(temp[4:] - temp[:-4]))) == max(0, len(temp) - 4):
        assert noise_level(temp + offset_k, quantum_k) == pytest.approx(found, rel=1e-3, abs=1e-6)


def test_many_spikes_do_not_pass_for_noise():
    rng = np.random.default_rng(0)
    t_s = np.arange(0.0, 60.0, 0.1)
    temp = 93.0 + 0.05 * rng.standard_normal(len(t_s))
    at = rng.choice(len(t_s), 30, replace=False)
    temp[at] += rng.choice([-1.0, 1.0], 30) * rng.uniform(20.0, 200.0, 30)
    assert clean(t_s, temp).noise_k == pytest.approx(0.05, rel=0.2)
