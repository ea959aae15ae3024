from dataclasses import replace

import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.probes.correction import Correction
from benchtemp.readings.reading import Mark, MarkKind, Stream
from benchtemp.shots.shot import analyse_stream
from benchtemp.shots.water_curve import stored_time_constant_s, water_curve

TAU_S = 1.5


@pytest.fixture
def lagged():
    """A shot whose water temperature is known, seen by a probe with a lag of 1.5 s; 10 readings a second."""
    fine_s = np.arange(0.0, 80.0, 0.01)
    water = np.full(len(fine_s), 62.0)
    brewing = (fine_s >= 22) & (fine_s < 46)
    water[brewing] = 93.0 - 31.0 * np.exp(-(fine_s[brewing] - 22) / 2.0)
    after = fine_s >= 46
    water[after] = 62.0 + 31.0 * np.exp(-(fine_s[after] - 46) / 50.0)
    probe = np.empty_like(water)
    probe[0] = water[0]
    for row in range(1, len(water)):
        probe[row] = probe[row - 1] + (water[row - 1] - probe[row - 1]) * (1 - np.exp(-0.01 / TAU_S))
    noise = np.random.default_rng(4).normal(0.0, 0.03, len(fine_s[::10]))
    t_s = np.round(fine_s[::10], 4)
    stream = Stream(
        channels=("T1",),
        t_s=t_s,
        temps_degc=np.round(probe[::10] + noise, 2).reshape(-1, 1),
        marks=(Mark(20.0, MarkKind.PUMP_ON), Mark(46.0, MarkKind.PUMP_OFF)),
        mark_rows=(200, 460),
        meta={"channels": [{"name": "T1", "time_constant_s": TAU_S}]},
    )
    return stream, water[::10]


def rms(values):
    return float(np.sqrt(np.mean(values**2)))


def test_the_curve_follows_the_water_three_times_closer_than_the_probe(lagged):
    stream, water = lagged
    curve = water_curve(stream)
    rising = (curve.t_s > 22.0) & (curve.t_s < 30.0)
    raw_k = rms(curve.probe_degc[rising] - water[rising])
    removed_k = rms(curve.water_degc[rising] - water[rising])
    assert raw_k > 3.0 * removed_k
    assert curve.tau_s == TAU_S
    assert "estimate" in curve.label
    assert 0.0 < curve.noise_gain < 20.0


def test_the_brew_temperature_is_not_biased(lagged):
    stream, _ = lagged
    (shot,) = analyse_stream(stream).shots
    curve = water_curve(stream)
    on_plateau = (curve.t_s > shot.result.plateau_start_s) & (curve.t_s < shot.result.plateau_end_s - 1.0)
    assert float(curve.water_degc[on_plateau].mean()) == pytest.approx(shot.result.brew_temp_degc, abs=0.15)
    again = analyse_stream(curve.as_stream("shot.ecsv"))
    assert again.shots[0].result.brew_temp_degc == pytest.approx(shot.result.brew_temp_degc, abs=0.02)


def test_a_stretch_and_a_correction_can_be_asked_for(lagged):
    stream, _ = lagged
    curve = water_curve(stream, tau_s=1.0, correction=Correction(offset_k=1.0), start_s=20.0, end_s=30.0)
    assert (curve.t_s[0], curve.t_s[-1]) == (20.0, 30.0)
    plain = water_curve(stream, tau_s=1.0, start_s=20.0, end_s=30.0)
    np.testing.assert_allclose(curve.probe_degc, plain.probe_degc + 1.0)
    np.testing.assert_allclose(curve.water_degc, plain.water_degc + 1.0, atol=1e-6)


def test_without_a_time_constant_it_says_how_to_get_one(lagged):
    stream, _ = lagged
    with pytest.raises(BadInput, match="plunge"):
        water_curve(replace(stream, meta={}))
    with pytest.raises(BadInput, match="time constant"):
        water_curve(stream, tau_s=-1.0)
    with pytest.raises(BadInput, match="readings"):
        water_curve(stream, start_s=1e6)


@pytest.mark.parametrize("written", [-1.0, 1e9, "x", None, float("nan")])
def test_a_time_constant_that_cannot_be_is_none(written):
    assert stored_time_constant_s({"channels": [{"name": "T1", "time_constant_s": written}]}, "T1") is None


def test_instants_of_the_scale_alone_are_no_missed_readings(lagged):
    stream, _ = lagged
    t_s = np.sort(np.concatenate([stream.t_s, stream.t_s + 0.05]))
    temps = np.full((len(t_s), 1), np.nan)
    temps[::2] = stream.temps_degc
    weight = np.where(np.isnan(temps[:, 0]), 5.0, np.nan)
    both = replace(stream, t_s=t_s, temps_degc=temps, weight_g=weight, marks=(), mark_rows=())
    assert len(water_curve(both).t_s) == len(stream.t_s)
