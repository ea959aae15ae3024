from math import nan, sqrt

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from benchtemp.errors import BadInput
from benchtemp.probes.lag import LABEL, remove_lag

FINE_S = 0.01


RISE = (10.0, 16.0)


PLATEAU = (20.0, 38.0)


def brew_water(kind):
    """Water around the puck: quiet, a rise from 10 s on, a plateau near 93 °C, 45 s in all."""
    t = np.arange(0.0, 45.0, FINE_S)
    since = np.maximum(t - 10.0, 0.0)
    return {
        "exponential": 60.0 + 33.0 * (1.0 - np.exp(-since / 1.0)),
        "slow with a wave": 60.0 + 33.0 * (1.0 - np.exp(-since / 2.5)) + 0.4 * np.sin(t) * (t > 20.0),
        "straight": np.interp(t, [0, 10, 13, 16, 38, 45], [60, 60, 90, 93, 93.6, 93.6]),
        "s-shaped": 60.0 + 33.0 / (1.0 + np.exp(-(t - 12.0) / 0.6)),
        "overshoot": 60.0 + 33.0 * (1.0 - np.exp(-since / 0.8)) + 2.0 * since * np.exp(-since / 2.0),
    }[kind]


def read_by(lagging, water, tau_s, interface, *, seed=1):
    period_s, noise_k, step_k = interface
    probe = lagging(water, FINE_S, tau_s)
    every = round(period_s / FINE_S)
    t = np.arange(water.size)[::every] * FINE_S
    temp = probe[::every] + np.random.default_rng(seed).normal(0.0, noise_k, t.size)
    return t, water[::every], np.round(temp / step_k) * step_k if step_k else temp


def during(t, span):
    return (t >= span[0]) & (t <= span[1])


def rms(values):
    return sqrt(float(np.mean(values**2)))


INTERFACES = [(0.1, 0.03, 0.1), (0.25, 0.1, 0.1), (0.5, 0.02, 0.0)]


READ_BY = [(tau_s, one) for tau_s in (0.5, 1.0, 2.0, 4.0) for one in INTERFACES if one[0] <= tau_s / 2.0]


@pytest.mark.parametrize("kind", ["exponential", "slow with a wave", "straight", "s-shaped", "overshoot"])
@pytest.mark.parametrize(("tau_s", "interface"), READ_BY)
def test_three_times_closer_during_the_rise_and_no_bias(lagging, kind, tau_s, interface):
    t, water, temp = read_by(lagging, brew_water(kind), tau_s, interface)
    found = remove_lag(t, temp, tau_s)
    rise, plateau = during(t, RISE), during(t, PLATEAU)
    assert 3.0 * rms((found.temp_degc - water)[rise]) < rms((temp - water)[rise])
    bias = float(np.mean((found.temp_degc - water)[plateau]))
    assert abs(bias) < 0.06
    # The reading's own mean is biased by its noise's mean and, for moving water, by its lag.
    assert abs(bias) < abs(float(np.mean((temp - water)[plateau]))) + 0.04


def test_brew_temperature_is_not_biased_on_average(lagging):
    """Forty shots: the mean over the plateau of the corrected curve against the water's."""
    off = []
    for seed in range(40):
        t, water, temp = read_by(lagging, brew_water("exponential"), 1.5, (0.25, 0.05, 0.1), seed=seed)
        plateau = during(t, PLATEAU)
        off.append(float(np.mean((remove_lag(t, temp, 1.5).temp_degc - water)[plateau])))
    assert abs(np.mean(off)) < 3.0 * np.std(off) / sqrt(40.0) + 0.002
    assert np.std(off) < 0.03


def test_noise_gain_is_what_noise_does(lagging):
    t, _, clean = read_by(lagging, brew_water("slow with a wave"), 1.5, (0.2, 0.0, 0.0))
    rng = np.random.default_rng(5)
    runs = [remove_lag(t, clean + rng.normal(0.0, 0.05, t.size), 1.5, noise_k=0.05) for _ in range(150)]
    curves = np.array([run.temp_degc for run in runs])
    middle = during(t, (17.0, 30.0))
    drawn = float(np.median(curves.std(axis=0)[middle])) / 0.05
    assert np.median([run.noise_gain for run in runs]) == pytest.approx(drawn, rel=0.15)


def test_it_is_no_raw_differentiation(lagging):
    """Differentiating T + tau dT/dt would multiply noise by about tau / period * sqrt(2)."""
    t, water, temp = read_by(lagging, brew_water("exponential"), 2.0, (0.1, 0.05, 0.1))
    found = remove_lag(t, temp, 2.0)
    raw = temp + 2.0 * np.gradient(temp, t)
    plateau = during(t, PLATEAU)
    assert rms((found.temp_degc - water)[plateau]) < 0.25 * rms((raw - water)[plateau])
    assert found.noise_gain < 6.0
    assert found.label == LABEL
    assert "estimate" in LABEL


def test_missing_and_uneven_readings(lagging):
    t, water, temp = read_by(lagging, brew_water("exponential"), 1.0, (0.05, 0.03, 0.1))
    rng = np.random.default_rng(8)
    kept = np.sort(rng.choice(t.size, t.size // 4, replace=False))
    t, water, temp = t[kept], water[kept], temp[kept]
    temp[::11] = nan
    found = remove_lag(t, temp, 1.0)
    assert_array_equal(np.isnan(found.temp_degc), np.isnan(temp))
    rise = during(t, RISE) & np.isfinite(temp)
    assert 3.0 * rms((found.temp_degc - water)[rise]) < rms((temp - water)[rise])


def test_a_gap_is_bridged_and_nothing_breaks(lagging):
    t, water, temp = read_by(lagging, brew_water("exponential"), 1.0, (0.1, 0.03, 0.1))
    kept = ~during(t, (25.0, 32.0))
    found = remove_lag(t[kept], temp[kept], 1.0)
    late = during(t[kept], (34.0, 43.0))
    assert_allclose(found.temp_degc[late], water[kept][late], rtol=0, atol=0.4)


@pytest.mark.parametrize("tau_s", [0.01, 1.0, 60.0])
def test_still_water_stays_still(tau_s):
    t = np.arange(0.0, 60.0, 0.2)
    found = remove_lag(t, np.full(t.size, 93.2), tau_s)
    assert_allclose(found.temp_degc, 93.2, rtol=0, atol=1e-6)


def test_a_longer_lag_corrects_more(lagging):
    t, _, temp = read_by(lagging, brew_water("exponential"), 2.0, (0.1, 0.0, 0.0))
    early = during(t, (10.5, 12.0))
    heights = [float(np.mean(remove_lag(t, temp, tau_s).temp_degc[early])) for tau_s in (0.5, 1.0, 2.0)]
    assert heights == sorted(heights)


def test_a_long_recording_is_taken():
    t = np.arange(0.0, 3600.0, 0.1)
    temp = 93.0 + np.random.default_rng(1).normal(0.0, 0.05, t.size)
    found = remove_lag(t, temp, 1.5)
    assert float(np.mean(found.temp_degc)) == pytest.approx(93.0, abs=0.01)
    assert found.noise_gain < 0.5


@pytest.mark.parametrize(
    ("t", "temp", "tau_s", "sentence"),
    [
        (np.arange(5.0), np.full(5, 93.0), 1.0, "at least 12 readings"),
        (np.arange(50.0), np.full(50, nan), 1.0, "at least 12 readings"),
        (np.arange(50.0), np.full(50, 93.0), 0.0, "cannot be; measure it by a plunge"),
        (np.arange(50.0), np.full(50, 93.0), nan, "cannot be"),
        (np.arange(50.0), np.full(50, 93.0), 500.0, "cannot be"),
        (np.zeros(50), np.full(50, 93.0), 1.0, "times do not increase"),
    ],
)
def test_what_cannot_be_is_told(t, temp, tau_s, sentence):
    with pytest.raises(BadInput, match=sentence):
        remove_lag(t, temp, tau_s)
