"""How alike the noise of neighbouring readings is, and what the stated uncertainty makes of it."""

import numpy as np
import pytest

from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.shots.likeness import UNALIKE, likeness_of
from benchtemp.shots.plateau import find_pulls
from benchtemp.shots.trace import clean, noise_level, step_size


def noise(count, alike, seed, sd_k=0.1):
    """A first-order autoregressive series of standard deviation `sd_k`."""
    rng = np.random.default_rng(seed)
    fresh = sd_k * rng.standard_normal(count)
    series = fresh.copy()
    for i in range(1, count):
        series[i] = alike * series[i - 1] + np.sqrt(1.0 - alike**2) * fresh[i]
    return series


def told(values):
    quantum_k = step_size(values)
    return likeness_of(values, noise_level(values, quantum_k), quantum_k)


@pytest.mark.parametrize("alike", [0.0, 0.3, 0.5, 0.7])
def test_many_readings_tell_the_coefficient_the_noise_and_what_a_mean_is_worth(alike):
    values = 93.0 + noise(20_000, alike, seed=4)
    found = told(values)
    assert found.coefficient == pytest.approx(alike, abs=0.06)
    assert noise_level(values, 0.0) * found.hidden == pytest.approx(0.1, rel=0.06)
    assert found.readings_for_one == pytest.approx((1.0 + alike) / (1.0 - alike), rel=0.25)
    assert found.evident == (alike > 0.0)


def test_rounding_does_not_make_noise_look_less_alike():
    values = np.round((93.0 + noise(20_000, 0.5, seed=5)) / 0.1) * 0.1
    assert told(values).coefficient == pytest.approx(0.5, abs=0.08)


def test_levels_and_slopes_are_no_likeness():
    values = noise(20_000, 0.0, seed=6)
    sloping = values + 0.05 * np.arange(len(values))
    assert told(93.0 + sloping).coefficient == pytest.approx(told(values).coefficient, abs=0.01)


def test_a_few_readings_are_weighed_against_what_is_usual():
    for seed in range(20):
        for alike in (0.0, 0.8):
            found = told(93.0 + noise(40, alike, seed))
            assert 0.0 < found.coefficient < 0.7
            assert 1.0 < found.readings_for_one < 7.0


@pytest.mark.parametrize(
    "values",
    [
        np.full(500, 93.0),
        np.full(10, 93.0),
        np.round(93.0 + noise(500, 0.5, seed=7, sd_k=0.02) / 0.25) * 0.25,
    ],
    ids=["constant", "few", "nothing but the step"],
)
def test_where_nothing_can_be_told_nothing_is_claimed(values):
    assert told(values) == UNALIKE


def test_values_no_model_explains_give_finite_answers():
    drifting = np.cumsum(noise(2000, 0.0, seed=8))
    alternating = 93.0 + np.tile([0.1, -0.1], 500)
    for values in (drifting, alternating):
        found = told(values)
        assert all(np.isfinite(found[:3]))
    assert told(alternating).coefficient < 0.05
    assert told(drifting).coefficient > 0.5


def shot(alike, seed, rate_hz=4.0):
    """A shot on a plateau of exactly 93 °C from 10 s to 40 s, and its readings."""
    t_s = np.arange(0.0, 60.0, 1.0 / rate_hz)
    rise = 30.0 + 63.0 * (1.0 - np.exp(-np.maximum(t_s - 5.0, 0.0) / 0.8))
    temp_degc = np.where(t_s > 40.0, 93.0 - np.minimum(2.0 * (t_s - 40.0), 40.0), rise)
    return t_s, temp_degc + noise(len(t_s), alike, seed)


MARKS = (Mark(5.0, MarkKind.PUMP_ON), Mark(40.0, MarkKind.PUMP_OFF))


@pytest.mark.parametrize("alike", [0.0, 0.5])
def test_twice_the_stated_uncertainty_holds_the_truth_about_as_often_as_it_should(alike):
    inside = []
    for seed in range(200):
        t_s, temp_degc = shot(alike, seed)
        result = find_pulls(t_s, temp_degc, MARKS).pulls[0]
        # What the rise still lacks after the plateau's start is far below the noise.
        inside.append(abs(result.brew_temp_degc - 93.0) <= 2.0 * result.brew_temp_uncertainty_k)
    assert 0.91 <= np.mean(inside) <= 0.995


def test_noise_that_neighbours_share_makes_the_mean_less_sure():
    sure = np.median(
        [find_pulls(*shot(0.0, seed), MARKS).pulls[0].brew_temp_uncertainty_k for seed in range(30)]
    )
    less = np.median(
        [find_pulls(*shot(0.6, seed), MARKS).pulls[0].brew_temp_uncertainty_k for seed in range(30)]
    )
    assert less > 1.4 * sure


def test_a_part_of_a_trace_keeps_what_the_whole_one_told():
    t_s, temp_degc = shot(0.7, seed=1, rate_hz=20.0)
    trace = clean(t_s, temp_degc)
    part = trace.cut(15.0, 20.0)
    assert trace.likeness.evident
    assert part.likeness == trace.likeness
    assert part.noise_k <= trace.noise_k
    # Differences between neighbours alone would say half of it.
    assert part.noise_k > 1.4 * noise_level(part.temp_degc, part.quantum_k)
