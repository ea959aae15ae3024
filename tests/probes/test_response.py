from math import nan, sqrt

import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.probes.response import TimeConstant, mean_time_constant, measure_time_constant


def plunge(
    tau_s, *, period_s=0.25, noise_k=0.05, step_k=0.1, seed=1, start=21.3, end=95.0, at_s=5.0, length_s=None
):
    rng = np.random.default_rng(seed)
    t = np.arange(0.0, at_s + (12.0 * tau_s + 5.0 if length_s is None else length_s), period_s)
    met = at_s + rng.uniform(0.0, period_s)
    temp = np.where(t < met, start, end - (end - start) * np.exp(-np.maximum(t - met, 0.0) / tau_s))
    temp = temp + rng.normal(0.0, noise_k, t.size)
    return t, (np.round(temp / step_k) * step_k if step_k else temp), met


@pytest.mark.parametrize("tau_s", [0.8, 2.0, 5.0])
@pytest.mark.parametrize("period_s", [0.1, 0.25])
@pytest.mark.parametrize(("start", "end"), [(21.3, 95.0), (95.0, 1.0)])
def test_time_constant_is_found(tau_s, period_s, start, end):
    t, temp, met = plunge(tau_s, period_s=period_s, start=start, end=end)
    found = measure_time_constant(t, temp, measured="2027-01-01")
    assert found.tau_s == pytest.approx(tau_s, abs=5.0 * found.uncertainty_s + 1e-3)
    assert found.uncertainty_s < 0.01 * tau_s
    assert found.plunge_s == pytest.approx(met, abs=0.05)
    assert found.crossing_s == pytest.approx(tau_s, abs=0.03 + 0.02 * tau_s)
    assert (found.start_degc, found.end_degc) == pytest.approx((start, end), abs=0.1)
    assert found.first_order
    assert found.measured == "2027-01-01"


def test_stated_uncertainty_is_the_scatter_of_many_plunges():
    errors = []
    for seed in range(60):
        t, temp, _ = plunge(1.5, noise_k=0.1, seed=seed)
        found = measure_time_constant(t, temp)
        errors.append((found.tau_s - 1.5) / found.uncertainty_s)
    assert 0.7 < np.std(errors) < 1.4
    assert abs(np.mean(errors)) < 0.5


def test_marked_plunge_is_used_for_the_crossing():
    t, temp, met = plunge(2.0)
    assert measure_time_constant(t, temp, plunge_s=met).crossing_s == pytest.approx(2.0, abs=0.05)
    assert measure_time_constant(t, temp, plunge_s=met - 0.5).crossing_s == pytest.approx(2.5, abs=0.05)


def test_missing_readings_are_left_out():
    t, temp, _ = plunge(2.0)
    temp[::9] = nan
    assert measure_time_constant(t, temp).tau_s == pytest.approx(2.0, abs=0.03)


def test_a_probe_of_two_layers_is_told_apart():
    """A sheath around the junction: two time constants in a row, no single exponential."""
    t = np.arange(0.0, 60.0, 0.1)
    since = np.maximum(t - 5.0, 0.0)
    slow, quick = 3.0, 2.0
    rest = (slow * np.exp(-since / slow) - quick * np.exp(-since / quick)) / (slow - quick)
    found = measure_time_constant(t, np.round(95.0 - 74.0 * rest, 1))
    assert not found.first_order


@pytest.mark.parametrize(
    ("trace", "sentence"),
    [
        (plunge(0.05, period_s=0.5, length_s=30.0), "sends too seldom"),
        (plunge(20.0, length_s=25.0), "ends before the reading has settled"),
        (plunge(2.0, start=21.0, end=24.0), "moved only from"),
        (plunge(2.0, at_s=0.0, noise_k=0.0), "begins on the way"),
        ((np.arange(5.0), np.full(5, 20.0)), "too few readings"),
        ((np.arange(50.0), np.full(50, nan)), "too few readings"),
        ((np.arange(50.0), np.full(50, 20.0)), "moved only from"),
    ],
)
def test_traces_that_tell_nothing_are_told(trace, sentence):
    with pytest.raises(BadInput, match=sentence):
        measure_time_constant(trace[0], trace[1])


def test_mean_of_several_plunges():
    def one(tau_s, u):
        return TimeConstant(
            tau_s=tau_s,
            uncertainty_s=u,
            crossing_s=tau_s,
            plunge_s=5.0,
            start_degc=21.0,
            end_degc=95.0,
            scatter_k=0.1,
        )

    several = mean_time_constant([one(1.0, 0.01), one(1.2, 0.01), one(1.4, 0.01)])
    assert several.tau_s == pytest.approx(1.2)
    assert several.uncertainty_s == pytest.approx(0.2 / sqrt(3.0))
    single = mean_time_constant([one(1.0, 0.01)])
    assert single.uncertainty_s == pytest.approx(0.01)
    with pytest.raises(BadInput, match="plunge the probe first"):
        mean_time_constant([])
