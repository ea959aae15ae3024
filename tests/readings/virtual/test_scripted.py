"""Recordings by script: what they hold, and that their stated truth is true."""

from __future__ import annotations

import time
from math import log

import msgspec
import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.readings.reading import MarkKind
from benchtemp.readings.virtual import Place, Probe, Scale, TracePoint, simulate, virtual_machines
from benchtemp.readings.virtual.instrument import quantised
from benchtemp.readings.virtual.script import (
    AnyStep,
    Enter,
    EnterYield,
    Flush,
    Grind,
    KnockOut,
    LockIn,
    Note,
    Setpoint,
    Shot,
    Spike,
    Steam,
    Tare,
    Unplug,
    Wait,
    WaitForHeater,
    WaitSinceShot,
    series,
    standing,
)
from benchtemp.readings.virtual.truth import plateau_start_s, shot_truth

MACHINES = virtual_machines()
DUAL = MACHINES["dual-boiler"]
BARE = Probe(noise_k=0.0, quantum_k=0.0)


def written(stream) -> list[tuple[float, str]]:
    return [(round(mark.t_s, 3), str(mark)) for mark in stream.marks]


# What a recording holds


def test_a_series_has_its_pump_starts_where_they_were_asked_for():
    stream = simulate(DUAL, series(3, interval_s=120.0, lead_s=25.0), seed=1, rate_hz=2.0)
    assert [t_s for t_s, text in written(stream) if text == "pump on"] == [25.0, 145.0, 265.0]
    assert [shot["pump_on_s"] for shot in stream.meta["truth"]] == [25.0, 145.0, 265.0]
    assert [shot["pump_off_s"] for shot in stream.meta["truth"]] == [50.0, 170.0, 290.0]
    assert written(stream)[0] == (0.0, "set dose_g=18")
    np.testing.assert_allclose(np.diff(stream.t_s), 0.5, atol=1e-9)
    assert stream.t_s[-1] == pytest.approx(310.0, abs=0.6)


def test_marks_stand_between_the_readings_before_and_after_them():
    stream = simulate(DUAL, series(1, seconds=24.37, typed_yields=True), rate_hz=4.0)
    for mark, row in zip(stream.marks, stream.mark_rows, strict=True):
        assert row == 0 or stream.t_s[row - 1] <= mark.t_s + 1e-6
        assert row == len(stream.t_s) or stream.t_s[row] >= mark.t_s - 1e-6
    kinds = [mark.kind for mark in stream.marks]
    assert kinds == [MarkKind.SET, MarkKind.TARE, MarkKind.PUMP_ON, MarkKind.PUMP_OFF, MarkKind.SET]


def test_a_typed_yield_is_what_was_in_the_cup():
    stream = simulate(DUAL, series(2, interval_s=120.0, typed_yields=True))
    typed = [mark.text for mark in stream.marks if mark.text.startswith("shot ")]
    assert typed == [f"shot {shot['number']} yield_g={shot['yield_g']:.1f}" for shot in stream.meta["truth"]]


def test_with_a_scale_the_weight_column_ends_at_the_yield():
    stream = simulate(DUAL, series(1), scale=Scale())
    assert stream.weight_g is not None
    assert stream.weight_g[-50:].mean() == pytest.approx(stream.meta["truth"][0]["yield_g"], abs=0.2)
    assert abs(stream.weight_g[stream.t_s < 29.0]).max() < 0.3
    assert simulate(DUAL, series(1)).weight_g is None


def test_a_shot_can_stop_at_a_yield():
    truth = simulate(DUAL, series(1, seconds=40.0, yield_g=36.0)).meta["truth"][0]
    assert truth["yield_g"] == pytest.approx(36.0, abs=0.6)
    assert 22.0 < truth["pump_off_s"] - truth["pump_on_s"] < 28.0


def test_without_marks_there_are_none_but_gaps():
    script = (Wait(seconds=5.0), Unplug(seconds=2.0), *series(1))
    stream = simulate(DUAL, script, marks=False)
    assert written(stream) == [(5.0, "gap unplugged")]
    assert len(stream.meta["truth"]) == 1


def test_an_unplugged_cable_leaves_out_rows_and_the_shot_goes_on():
    script = series(1, during=(Unplug(seconds=3.0, into_shot_s=14.0),))
    stream = simulate(DUAL, script)
    assert (44.0, "gap unplugged") in written(stream)
    assert not ((stream.t_s > 44.05) & (stream.t_s < 46.95)).any()
    whole = simulate(DUAL, series(1))
    assert stream.meta["truth"] == whole.meta["truth"]
    assert len(whole.t_s) - len(stream.t_s) in (29, 30)


def test_a_spike_is_one_value_of_one_channel():
    script = series(1, during=(Spike(delta_k=500.0, into_shot_s=12.05, channel=2),))
    bare, spiked = (
        simulate(DUAL, steps, places=[Place.BASKET, Place.GROUP]) for steps in (series(1), script)
    )
    difference = spiked.temps_degc - bare.temps_degc
    assert np.count_nonzero(difference) == 1
    row, channel = (int(n) for n in np.argwhere(difference)[0])
    assert channel == 1
    assert spiked.t_s[row] == pytest.approx(42.1)
    assert difference[row, channel] == pytest.approx(500.0, abs=0.06)


def test_noise_has_the_stated_size_and_values_are_whole_steps():
    probe = Probe(noise_k=0.2, quantum_k=0.25)
    clean, noisy = (simulate(DUAL, (Wait(seconds=200.0),), probe=part) for part in (BARE, probe))
    error = noisy.temps_degc - clean.temps_degc
    assert error.std() == pytest.approx(np.hypot(0.2, 0.25 / np.sqrt(12.0)), rel=0.05)
    assert abs(error.mean()) < 0.02
    assert np.all(noisy.temps_degc % 0.25 == 0.0)


def test_what_is_done_before_leaves_its_trace_but_no_rows():
    lead_s = 60.0
    idle, fresh = (
        simulate(MACHINES["heat-exchanger"], series(1, lead_s=lead_s), before=before)
        for before in (standing(100.0, lead_s), ())
    )
    assert len(idle.t_s) == len(fresh.t_s)
    assert idle.meta["flushes"] == []
    assert idle.meta["truth"][0]["highest_degc"] < fresh.meta["truth"][0]["highest_degc"] - 1.0


def test_the_header_says_how_the_recording_came_about():
    stream = simulate(
        MACHINES["four-probes"], series(1), seed=77, started="2031-03-04T09:00:00+01:00", meta={"shop": "x"}
    )
    meta = stream.meta
    assert (meta["kind"], meta["format_version"], meta["seed"]) == ("recording", 1, 77)
    assert meta["started"] == "2031-03-04T09:00:00+01:00"
    assert meta["machine"] == MACHINES["four-probes"].name
    assert [channel["place"] for channel in meta["channels"]] == ["basket", "group", "boiler", "inlet"]
    assert meta["shop"] == "x"
    assert stream.channels == ("T1", "T2", "T3", "T4")
    assert stream.temps_degc.shape == (len(stream.t_s), 4)
    # Plain values only, so that any YAML writer takes them.
    assert msgspec.to_builtins(meta) == meta


def test_the_same_seed_gives_the_same_recording():
    def made(seed: int):
        return simulate(DUAL, series(1), seed=seed, scale=Scale())

    first, again, other = made(1), made(1), made(2)
    np.testing.assert_array_equal(first.temps_degc, again.temps_degc)
    np.testing.assert_array_equal(first.weight_g, again.weight_g)
    assert first.meta == again.meta
    assert not np.array_equal(first.temps_degc, other.temps_degc)


def test_every_kind_of_step_can_be_done():
    script = (
        Note(text="begin"),
        WaitForHeater(on=False),
        KnockOut(),
        Flush(seconds=2.0),
        LockIn(dose_g=0.0),
        Flush(seconds=2.0, basket_in=True),
        Steam(seconds=10.0),
        Setpoint(degc=98.0),
        Grind(percent=95.0),
        LockIn(dose_g=18.0),
        Tare(),
        Enter(text="tag.coffee=test"),
        Wait(seconds=5.0),
        Shot(seconds=25.0),
        EnterYield(),
        WaitSinceShot(seconds=40.0),
        Spike(delta_k=300.0),
        Wait(seconds=1.0),
        Unplug(seconds=1.0),
        Wait(seconds=3.0),
    )
    stream = simulate(MACHINES["single-boiler"], script, scale=Scale(), rate_hz=5.0)
    assert {type(step) for step in script} == set(AnyStep.__args__)
    texts = [text for _, text in written(stream)]
    assert texts[:4] == ["note begin", "note flush 2 s, portafilter out", "pump on", "pump off"]
    assert len(stream.meta["flushes"]) == 2
    assert len(stream.meta["truth"]) == 1
    assert stream.temps_degc.max() > 250.0


def test_a_script_survives_a_file():
    script = series(2, during=(Spike(delta_k=300.0, into_shot_s=3.0),))
    assert msgspec.json.decode(msgspec.json.encode(script), type=tuple[AnyStep, ...]) == script


def test_a_thousand_times_faster_than_life():
    simulate(DUAL, (Wait(seconds=1.0),))
    began_s = time.process_time()
    stream = simulate(DUAL, series(4, interval_s=180.0), scale=Scale())
    # Some 2,500 where it was written; far below, something is done per reading that need not be.
    assert stream.t_s[-1] / (time.process_time() - began_s) > 500.0


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: series(2, interval_s=30.0), "interval of 30 s is too short"),
        (lambda: series(1, lead_s=5.0), "lead of 5 s is too short"),
        (lambda: standing(10.0, 30.0), "idle time of 10 s is too short"),
        (lambda: simulate(DUAL, series(1), rate_hz=0.0), "readings a second cannot be"),
        (lambda: simulate(DUAL, (Wait(seconds=-1.0),)), "Nothing can take -1 s"),
        (lambda: simulate(DUAL, (Wait(seconds=float("nan")),)), "Nothing can take nan s"),
        (lambda: simulate(DUAL, (KnockOut(), Shot())), "needs a portafilter"),
        (lambda: simulate(DUAL, (Spike(delta_k=1.0, channel=2),)), "no channel T2"),
        (lambda: simulate(DUAL, series(1), places=[Place.GROUP]), "first channel must sit in the basket"),
        (lambda: simulate(MACHINES["thermoblock"], (Steam(seconds=5.0),)), "no steam valve"),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(make, said):
    with pytest.raises(BadInput, match=said):
        make()


def test_a_recording_that_would_grow_without_end_is_refused(monkeypatch):
    monkeypatch.setattr("benchtemp.readings.virtual.scripted.LONGEST_S", 60.0)
    with pytest.raises(BadInput, match="too long"):
        simulate(DUAL, (Wait(seconds=40.0),) * 2)


def test_waiting_for_a_heater_that_never_switches_ends_with_a_sentence(monkeypatch):
    monkeypatch.setattr("benchtemp.readings.virtual.scripted._HEATER_WAIT_S", 30.0)
    with pytest.raises(BadInput, match="does not go on and off by itself"):
        simulate(DUAL, (WaitForHeater(on=False),), rate_hz=1.0)


# Truth


def test_plateau_start_is_where_the_definition_puts_it():
    tau_s, step_k = 1.3, 40.0
    t_s = np.arange(0.0, 25.0, 0.05)
    climbing = 93.0 - step_k * np.exp(-t_s / tau_s)
    # The slope falls to 0.25 °C/s at tau * ln(step / tau / 0.25).
    assert plateau_start_s(t_s, climbing) == pytest.approx(tau_s * log(step_k / tau_s / 0.25), abs=0.002)
    assert plateau_start_s(t_s, np.full_like(t_s, 93.0)) == 0.0
    assert plateau_start_s(t_s, 90.0 + 0.3 * t_s) == t_s[-1]
    late_climb = np.where(t_s > 15.0, climbing + np.minimum(t_s - 15.0, 2.0) * 0.5, climbing)
    assert plateau_start_s(t_s, late_climb) == pytest.approx(17.0, abs=0.06)


def test_a_shot_that_never_settles_has_no_plateau():
    trace = [TracePoint(n * 0.05, 60.0 + n * 0.05, 60.0, 60.0) for n in range(200)]
    truth = shot_truth(trace, number=1, pump_on_s=0.0, pump_off_s=9.95, dose_g=18.0, yield_g=1.0)
    assert truth.plateau_start_s is None
    assert truth.brew_temp_degc is None


@pytest.mark.parametrize("key", MACHINES)
def test_stated_truth_agrees_with_a_fast_noise_free_recording(key):
    stream = simulate(MACHINES[key], series(1, seconds=27.0), rate_hz=50.0, probe=BARE)
    truth = stream.meta["truth"][0]
    start_s, end_s = truth["plateau_start_s"], truth["plateau_end_s"]
    probe = stream.temps_degc[:, 0]
    in_shot = (stream.t_s >= truth["pump_on_s"]) & (stream.t_s <= end_s + 1e-9)
    slopes = np.diff(probe[in_shot]) / np.diff(stream.t_s[in_shot])
    middles = stream.t_s[in_shot][1:] - 0.01
    assert middles[slopes > 0.25][-1] == pytest.approx(start_s, abs=0.1)
    on_plateau = (stream.t_s >= start_s) & (stream.t_s <= end_s + 1e-9)
    t_s, temps = stream.t_s[on_plateau], probe[on_plateau]
    mean_degc = np.trapezoid(temps, t_s) / (t_s[-1] - t_s[0])
    assert truth["brew_temp_degc"] == pytest.approx(mean_degc, abs=0.01)
    assert truth["highest_degc"] == pytest.approx(temps.max(), abs=0.01)
    assert truth["lowest_degc"] == pytest.approx(temps.min(), abs=0.02)
    assert truth["water_degc"] == pytest.approx(truth["brew_temp_degc"], abs=0.2)
    assert end_s - start_s > 8.0


def test_rounding_to_steps_leaves_no_binary_leftovers():
    assert [quantised(92.34, quantum) for quantum in (0.0, 0.01, 0.0625, 0.1, 0.25)] == [
        92.34,
        92.34,
        92.3125,
        92.3,
        92.25,
    ]
