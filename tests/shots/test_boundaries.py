"""Where a plateau begins and ends, and how well that is known."""

import numpy as np
import pytest
from scipy.stats import norm

from benchtemp.shots.approach import _normal_share, find_start, noise_excess
from benchtemp.shots.climbs import last_climb
from benchtemp.shots.departure import find_departure


def approach(tau_s, noise_k, rate_hz, seed, slope_k_per_s=0.0):
    """An exponential approach and where, exactly, it slows to 0.25 °C/s."""
    rng = np.random.default_rng(seed)
    t_s = np.arange(0.0, 40.0, 1.0 / rate_hz)
    temp = 93.0 + slope_k_per_s * t_s - 50.0 * np.exp(-t_s / tau_s) + noise_k * rng.standard_normal(len(t_s))
    return t_s, temp, tau_s * np.log(50.0 / tau_s / (0.25 - slope_k_per_s))


def start_of(t_s, temp, noise_k):
    climb = last_climb(t_s, temp, noise_k, 0.0)
    return find_start(t_s, temp, noise_k, climb)


@pytest.mark.parametrize("slope_k_per_s", [-0.1, 0.0, 0.1])
@pytest.mark.parametrize("tau_s", [1.0, 2.0, 4.0, 6.0])
def test_the_start_of_an_exponential_approach(tau_s, slope_k_per_s):
    t_s, temp, true_s = approach(tau_s, 0.01, 10.0, 0, slope_k_per_s)
    found = start_of(t_s, temp, 0.01)
    assert found.t_s == pytest.approx(true_s, abs=0.1)
    assert found.temp_degc == pytest.approx(
        93.0 + slope_k_per_s * true_s - 50.0 * np.exp(-true_s / tau_s), abs=0.05
    )


def test_the_start_s_uncertainty_is_what_repeated_trials_scatter():
    errors, stated = [], []
    for seed in range(120):
        t_s, temp, true_s = approach(3.0, 0.1, 4.0, seed)
        found = start_of(t_s, temp, 0.1)
        errors.append(found.t_s - true_s)
        stated.append(found.uncertainty_s)
    scatter = float(np.sqrt(np.mean(np.square(errors))))
    assert abs(np.mean(errors)) < 0.08
    # It is widened for what a model misses, so it may be larger than the scatter, not smaller.
    assert 0.8 * scatter < np.median(stated) < 2.5 * scatter


def test_more_noise_and_fewer_readings_make_it_less_certain():
    def stated(noise_k, rate_hz):
        return np.median(
            [start_of(*approach(3.0, noise_k, rate_hz, seed)[:2], noise_k).uncertainty_s for seed in range(9)]
        )

    assert stated(0.02, 10.0) < stated(0.1, 10.0) < stated(0.2, 1.0)


@pytest.mark.parametrize("seed", range(4))
def test_a_trace_that_goes_on_climbing_almost_as_fast_as_the_limit_starts_soon(seed):
    t_s, temp, _ = approach(2.0, 0.2, 2.0, seed, 0.24)
    climb = last_climb(t_s, temp, 0.2, 0.0)
    assert find_start(t_s, temp, 0.2, climb).t_s <= climb.middle_s + 9.0


def test_a_steep_finite_difference_is_no_climb():
    rng = np.random.default_rng(1)
    t_s = np.arange(0.0, 60.0, 0.1)
    assert last_climb(t_s, 93.0 + 0.2 * rng.standard_normal(600), 0.2, 0.0) is None


def departure(fall_k_per_s, noise_k, rate_hz, seed, *, sag_k_per_s=0.0, lag_s=0.0):
    """A plateau left 30 s after its climb, at t = 40 s."""
    rng = np.random.default_rng(seed)
    t_s = np.arange(10.0, 70.0, 1.0 / rate_hz)
    v = np.maximum(t_s - 40.0, 0.0)
    fall = fall_k_per_s * 30.0 * (1.0 - np.exp(-v / 30.0))
    if lag_s:
        fall = np.maximum(fall - fall_k_per_s * lag_s * (1.0 - np.exp(-v / lag_s)), 0.0)
    return t_s, 93.0 - sag_k_per_s * (t_s - 10.0) - fall + noise_k * rng.standard_normal(len(t_s))


def end_of(t_s, temp, noise_k):
    return find_departure(t_s, temp, noise_k, climbed_s=10.0, rise_s=8.0)


@pytest.mark.parametrize("sag_k_per_s", [-0.1, 0.0, 0.1])
@pytest.mark.parametrize("fall_k_per_s", [0.3, 0.8, 2.0])
def test_the_end_of_a_plateau(fall_k_per_s, sag_k_per_s):
    t_s, temp = departure(fall_k_per_s, 0.03, 10.0, 0, sag_k_per_s=sag_k_per_s)
    assert end_of(t_s, temp, 0.03).end.t_s == pytest.approx(40.0, abs=0.4)


def test_a_probe_s_lag_rounds_the_end_but_hardly_moves_it():
    t_s, temp = departure(1.5, 0.02, 10.0, 0, lag_s=0.6)
    assert end_of(t_s, temp, 0.02).end.t_s == pytest.approx(40.0, abs=0.4)


def test_the_end_s_uncertainty_is_what_repeated_trials_scatter():
    errors, stated = [], []
    for seed in range(120):
        found = end_of(*departure(0.6, 0.1, 4.0, seed), 0.1).end
        errors.append(found.t_s - 40.0)
        stated.append(found.uncertainty_s)
    scatter = float(np.sqrt(np.mean(np.square(errors))))
    # Allowing for a probe's lag, where there is none, takes the end a little early.
    assert -0.25 < np.mean(errors) < 0.1
    assert 0.6 * scatter < np.median(stated) < 2.0 * scatter


def ends_of(fall_k_per_s, noise_k, rate_hz, *, too_k_per_s=0.0, too_s=70.0):
    """Errors and stated uncertainties of ends before which, or behind which, the trace bends once more."""
    rows = []
    for seed in range(20):
        t_s, temp = departure(fall_k_per_s, noise_k, rate_hz, seed)
        found = end_of(t_s, temp - too_k_per_s * np.maximum(t_s - too_s, 0.0), noise_k).end
        rows.append((found.t_s - 40.0, found.uncertainty_s))
    return np.array(rows).T


def test_an_end_that_can_only_be_in_one_place_is_as_certain_as_that_place():
    errors, stated = ends_of(0.1, 0.1, 2.0)
    assert np.median(stated) < 0.9
    assert np.median(stated) > 0.5 * np.sqrt(np.mean(np.square(errors)))


def test_an_end_that_may_be_in_either_of_two_places_is_uncertain_by_the_way_between_them():
    errors, stated = ends_of(0.06, 0.2, 1.0, too_k_per_s=0.05, too_s=26.0)
    assert 3.5 < np.median(stated) < 9.0
    assert np.mean(np.abs(errors) < 2.0 * stated) > 0.65


def test_a_plateau_that_goes_on_has_no_end():
    rng = np.random.default_rng(4)
    t_s = np.arange(10.0, 32.0, 0.1)
    assert end_of(t_s, 93.0 + 0.05 * rng.standard_normal(len(t_s)), 0.05).end is None


def test_taking_the_portafilter_out_is_not_the_end():
    t_s, temp = departure(0.4, 0.05, 10.0, 2)
    temp = temp - 2.5 * np.maximum(t_s - 50.0, 0.0)
    assert end_of(t_s, temp, 0.05).end.t_s == pytest.approx(40.0, abs=0.8)


def test_residuals_correct_the_noise_known_beforehand():
    assert noise_excess(100.0, 100) == pytest.approx(1.0)
    assert noise_excess(400.0, 100) == pytest.approx(410 / 110)
    assert 0.05 < noise_excess(0.0, 100) < 0.1
    assert noise_excess(50.0, -3) == pytest.approx(6.0)


def test_the_normal_distribution_is_near_enough():
    z = np.linspace(-6.0, 6.0, 400)
    assert np.abs(_normal_share(z) - norm.cdf(z)).max() < 2e-4
