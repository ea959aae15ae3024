"""Where exactly a plateau was left: traces of which the moment is known to the last digit."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.shots.placing import place_bend


def left(
    at_s, *, rate_hz=2.0, noise_k=0.1, fall_k_per_s=0.1, fall_s=30.0, lag_s=0.0, slope_k_per_s=0.0, seed=0
):
    """A plateau from 10 s on, left at a moment, at once or through a probe's lag; it is 93 °C there."""
    t_s = np.arange(10.0, 70.0, 1.0 / rate_hz)
    v = np.maximum(t_s - at_s, 0.0)
    fall = fall_s * np.exp(-v / fall_s) - fall_s
    if lag_s:
        fall = fall_s * ((fall_s * np.exp(-v / fall_s) - lag_s * np.exp(-v / lag_s)) / (fall_s - lag_s) - 1.0)
    temp = 93.0 + slope_k_per_s * (t_s - at_s) + fall_k_per_s * fall
    return t_s, temp + noise_k * np.random.default_rng(seed).standard_normal(len(t_s))


def trials(count, *, rough_s, spread_s, noise_k=0.1, extra=None, **more):
    """Place many ends, each sent there only roughly; return errors, stated uncertainties, temperatures."""
    rows = []
    for seed in range(count):
        rng = np.random.default_rng(1000 + seed)
        # Readings do not come at the end's own moment.
        at_s = 40.0 + rng.uniform(-0.5, 0.5)
        t_s, temp = left(at_s, seed=seed, noise_k=noise_k, **more)
        if extra is not None:
            temp = temp + extra(t_s - at_s)
        found = place_bend(t_s, temp, noise_k, 40.0 + rough_s * rng.standard_normal(), spread_s)
        rows.append((found.t_s - at_s, found.uncertainty_s, found.temp_degc))
    return np.array(rows).T


def rms(errors):
    return float(np.sqrt(np.mean(np.square(errors))))


def test_a_slow_fall_in_noise_is_placed_about_as_well_as_is_stated():
    errors, stated, temps = trials(200, rough_s=1.0, spread_s=1.3)
    assert abs(errors.mean()) < 0.35
    assert rms(errors) < 1.15
    assert 0.65 < np.median(stated) / rms(errors) < 1.3
    assert np.mean(np.abs(errors) < 2.0 * stated) > 0.84
    assert temps.mean() == pytest.approx(93.0, abs=0.02)


def test_a_slow_fall_is_placed_within_the_stated_uncertainty_at_one_reading_a_second():
    errors, stated, _ = trials(80, rough_s=1.0, spread_s=1.3, rate_hz=1.0, fall_k_per_s=0.15)
    assert abs(errors.mean()) < 0.4
    assert rms(errors) < 0.8
    assert np.mean(np.abs(errors) < 2.0 * stated) > 0.88


@pytest.mark.parametrize("fall_k_per_s", [1.5, 4.0])
def test_a_fast_fall_is_placed_to_a_tenth_of_a_second(fall_k_per_s):
    errors, stated, temps = trials(
        20, rough_s=0.4, spread_s=0.3, rate_hz=10.0, noise_k=0.05, fall_k_per_s=fall_k_per_s
    )
    assert abs(errors.mean()) < 0.1
    assert rms(errors) < 0.15
    assert np.median(stated) < 0.15
    assert temps.mean() == pytest.approx(93.0, abs=0.06)


def test_a_basket_in_a_draught_falls_steeply_at_first_and_moves_the_end_no_earlier():
    errors, _, _ = trials(60, rough_s=0.8, spread_s=0.8, fall_k_per_s=0.3, fall_s=8.0)
    assert abs(errors.mean()) < 0.4
    assert rms(errors) < 0.45


def test_a_probe_s_lag_that_shows_is_allowed_for():
    errors, _, _ = trials(
        20, rough_s=0.4, spread_s=0.3, rate_hz=10.0, noise_k=0.05, fall_k_per_s=1.5, lag_s=0.45
    )
    assert abs(errors.mean()) < 0.1
    assert rms(errors) < 0.2


def test_a_lag_that_noise_hides_is_thought_of_as_neither_sure_nor_ruled_out():
    both = [
        trials(60, rough_s=0.4, spread_s=0.3, rate_hz=4.0, noise_k=0.2, fall_k_per_s=0.8, lag_s=lag_s)
        for lag_s in (0.0, 0.45)
    ]
    (at_once, stated, _), (lagging, stated_lagging, _) = both
    assert -0.4 < at_once.mean() < 0.0 < lagging.mean() < 0.22
    assert np.mean(np.abs(at_once) < 2.0 * stated) > 0.88
    assert np.mean(np.abs(lagging) < 2.0 * stated_lagging) > 0.88


@pytest.mark.parametrize("slope_k_per_s", [-0.06, 0.06])
def test_a_plateau_may_slope(slope_k_per_s):
    errors, _, _ = trials(
        30,
        rough_s=0.5,
        spread_s=0.6,
        rate_hz=4.0,
        noise_k=0.05,
        fall_k_per_s=0.3,
        slope_k_per_s=slope_k_per_s,
    )
    assert abs(errors.mean()) < 0.4
    assert rms(errors) < 0.45


@pytest.mark.parametrize(("slope_k_per_s", "rms_s"), [(-0.05, 0.95), (0.05, 0.9)])
def test_a_slow_fall_from_a_sloping_plateau(slope_k_per_s, rms_s):
    errors, _, _ = trials(80, rough_s=1.0, spread_s=1.3, fall_k_per_s=0.15, slope_k_per_s=slope_k_per_s)
    assert abs(errors.mean()) < 0.65
    assert rms(errors) < rms_s


def test_a_slow_fall_soon_after_an_approach_that_still_goes_on():
    errors, stated, _ = trials(
        60,
        rough_s=0.8,
        spread_s=0.6,
        fall_k_per_s=0.2,
        extra=lambda v: -0.06 * np.exp(np.minimum(v / -4.0, 7.5)),
    )
    assert abs(errors.mean()) < 0.4
    assert np.mean(np.abs(errors) < 2.0 * stated) > 0.8


# -- how far and how finely it looks
# -------------------------------------------------------------------------------------------------

SHARP = {"rate_hz": 10.0, "noise_k": 0.02, "fall_k_per_s": 1.0}


def test_it_looks_a_little_further_than_what_is_known_says():
    t_s, temp = left(40.0, **SHARP)
    for rough_s in (38.4, 41.6):
        assert place_bend(t_s, temp, 0.02, rough_s, 0.0).t_s == pytest.approx(40.0, abs=0.15)


def test_its_reach_grows_with_what_is_not_known():
    t_s, temp = left(40.0, **SHARP)
    for rough_s in (35.0, 45.0):
        assert abs(place_bend(t_s, temp, 0.02, rough_s, 0.2).t_s - 40.0) > 2.0
        assert place_bend(t_s, temp, 0.02, rough_s, 2.0).t_s == pytest.approx(40.0, abs=0.4)


def test_its_reach_ends_at_six_seconds():
    t_s, temp = left(40.0, **SHARP)
    assert place_bend(t_s, temp, 0.02, 31.0, 50.0).t_s <= 37.1


def test_a_wide_search_takes_coarser_steps_and_says_so():
    t_s, temp = left(40.0, **SHARP)
    near, far = (place_bend(t_s, temp, 0.02, 40.0, spread_s) for spread_s in (0.3, 1.5))
    assert near.uncertainty_s == pytest.approx(np.hypot(0.2 / np.sqrt(12.0), 0.1), rel=0.2)
    assert far.uncertainty_s == pytest.approx(0.4 / np.sqrt(12.0), rel=0.4)


# -- how much it fits
# -------------------------------------------------------------------------------------------------


def moved(t_s, temp, rough_s, spread_s, disturbed):
    """By how much readings at other times move the end."""
    calm = place_bend(t_s, temp, 0.13, rough_s, spread_s)
    hurt = place_bend(t_s, temp + np.where(disturbed, 0.1, 0.0), 0.13, rough_s, spread_s)
    return abs(calm.t_s - hurt.t_s)


@pytest.mark.parametrize("between_s", [(10.0, 25.0), (55.0, 70.0)])
def test_what_happened_long_before_or_after_a_well_known_end_says_nothing(between_s):
    t_s, temp = left(40.0)
    disturbed = (t_s > between_s[0]) & (t_s < between_s[1])
    assert moved(t_s, temp, 40.0, 0.3, disturbed) == 0.0
    assert moved(t_s, temp, 40.0, 0.5, disturbed) > 0.0


def test_where_the_model_does_not_fit_less_of_the_trace_is_taken():
    # The portafilter is taken out seven seconds after the pump went off.
    errors, _, temps = trials(
        20,
        rough_s=0.3,
        spread_s=0.5,
        rate_hz=10.0,
        noise_k=0.03,
        fall_k_per_s=0.3,
        extra=lambda v: -2.0 * np.maximum(v - 7.0, 0.0),
    )
    assert rms(errors) < 0.2
    assert temps.mean() == pytest.approx(93.0, abs=0.05)


def test_another_bend_at_the_end_of_what_is_fitted_hardly_moves_a_well_known_end():
    errors, _, _ = trials(
        20,
        rough_s=0.2,
        spread_s=0.3,
        rate_hz=10.0,
        noise_k=0.03,
        fall_k_per_s=0.8,
        extra=lambda v: -2.0 * np.maximum(v - 4.2, 0.0),
    )
    assert rms(errors) < 0.3


def test_noise_that_was_thought_too_small_widens_what_is_stated():
    t_s, temp = left(40.0, rate_hz=4.0, noise_k=0.2, fall_k_per_s=0.3)
    known, unknown = (place_bend(t_s, temp, noise_k, 40.0, 0.8) for noise_k in (0.2, 0.05))
    assert unknown.uncertainty_s > 0.6 * known.uncertainty_s


# -- too little, and anything at all
# -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("count", [1, 2, 5])
def test_of_too_few_readings_the_rough_end_is_returned(count):
    t_s = np.arange(float(count))
    found = place_bend(t_s, 93.0 - 0.5 * t_s, 0.1, 0.25 * (count - 1), 0.5)
    assert found.t_s == 0.25 * (count - 1)
    assert found.uncertainty_s == 1.0
    assert found.temp_degc == pytest.approx(93.0 - 0.5 * found.t_s)


def test_readings_far_away_are_too_few_as_well():
    t_s = np.concatenate((np.arange(10.0), 500.0 + np.arange(10.0)))
    found = place_bend(t_s, np.full(20, 93.0), 0.1, 250.0, 2.0)
    assert (found.t_s, found.uncertainty_s, found.temp_degc) == (250.0, 2.0, 93.0)


@st.composite
def traces(draw):
    """Ramps, holds and gaps, with noise that may be other than what is said of it; and that noise."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    count, noise_k = draw(st.integers(1, 120)), draw(st.floats(1e-3, 3.0))
    steps_s = rng.uniform(0.2, 1.8, count) * rng.choice([1.0, 1.0, 1.0, 20.0], count)
    t_s = draw(st.floats(-1e5, 1e5)) + np.cumsum(steps_s) / draw(st.sampled_from([0.3, 1.0, 4.0, 20.0]))
    corners = np.linspace(t_s[0], t_s[-1] + 1e-3, 6)
    temp = np.interp(t_s, corners, rng.choice([25.0, 60.0, 90.0, 92.8, 93.0, 93.2, 140.0], 6))
    return t_s, temp + rng.choice([0.0, noise_k, 5.0]) * rng.standard_normal(count), noise_k


@given(traces(), st.floats(0.0, 1.0), st.floats(0.0, 20.0))
def test_whatever_the_trace_an_end_within_it_is_returned(trace, rough_share, spread_s):
    t_s, temp, noise_k = trace
    rough_s = float(t_s[0] + rough_share * (t_s[-1] - t_s[0]))
    found = place_bend(t_s, temp, noise_k, rough_s, spread_s)
    assert t_s[0] - 1e-6 <= found.t_s <= t_s[-1] + 1e-6
    assert abs(found.t_s - rough_s) < 6.01
    assert 0.0 < found.uncertainty_s <= max(12.0, spread_s)
    assert np.isfinite(found.temp_degc)
