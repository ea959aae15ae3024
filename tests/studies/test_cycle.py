import json

import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Mark, MarkKind, Stream
from benchtemp.readings.virtual import Place, VirtualMachine, simulate, virtual_machines
from benchtemp.readings.virtual.script import Wait
from benchtemp.studies.cycle import heating_cycle
from benchtemp.studies.evidence.shot_set import chosen
from benchtemp.studies.outcome import About
from benchtemp.studies.wording import number
from benchtemp.units import TempUnit

PERIOD_S = 120.0


def swinging(rng, *, duration_s=3600.0, marks=(), noise_k=0.04):
    """A boiler that heats for 12 s and cools for 108 s, by 8 K."""
    t_s = np.arange(0.0, duration_s, 0.5)
    phase = np.mod(t_s, PERIOD_S)
    degc = np.where(phase < 12.0, 100.0 + 8.0 * phase / 12.0, 108.0 - 8.0 * (phase - 12.0) / 108.0)
    temps = np.stack((np.full_like(t_s, 60.0), degc + rng.normal(0, noise_k, len(t_s))), axis=1)
    rows = tuple(int(np.searchsorted(t_s, mark.t_s)) for mark in marks)
    return Stream(
        channels=("T1", "T2"),
        t_s=t_s,
        temps_degc=temps,
        marks=tuple(marks),
        mark_rows=rows,
        meta={"machine": "Pindlebay One"},
    )


def brews_at(since_s):
    return 93.0 + 0.9 * np.cos(2 * np.pi * (since_s - 30.0) / PERIOD_S)


@pytest.fixture
def timed(make_record, rng):
    """Shots started so many seconds after a peak, far enough apart for the machine to come to rest."""

    def make(since, sd=0.1):
        starts_s = [1200.0 * (index + 1) + 12.0 + value for index, value in enumerate(since)]
        marks = [
            mark
            for start_s in starts_s
            for mark in (Mark(start_s, MarkKind.PUMP_ON), Mark(start_s + 25.0, MarkKind.PUMP_OFF))
        ]
        records = [
            make_record(
                index,
                brews_at(value) + rng.normal(0, sd),
                pump_on_s=start_s,
                recording="r",
                machine="Pindlebay One",
            )
            for index, (value, start_s) in enumerate(zip(since, starts_s, strict=True))
        ]
        return swinging(rng, duration_s=starts_s[-1] + 400.0, marks=marks), records

    return make


SINCE = [5.0, 65.0, 25.0, 85.0, 45.0, 105.0, 15.0, 75.0, 35.0, 95.0, 55.0, 112.0]


@pytest.fixture
def study(timed):
    stream, records = timed(SINCE)
    return heating_cycle({"r": stream}, "T2", chosen(records), target_degc=93.0)


def test_period_swing_and_asymmetry(rng):
    found = heating_cycle({"r": swinging(rng)}, "T2")
    assert found.period.interval.holds(PERIOD_S)
    assert found.period.interval.half_width < 0.5
    assert found.amplitude_k == pytest.approx(8.0, abs=0.2)
    assert found.rise_share == pytest.approx(0.1, abs=0.03)
    assert found.swing is None
    assert "takes at least five shots to see" in found.sentence(TempUnit.DEGC)
    assert found.machine == "Pindlebay One"


def test_what_the_cycle_does_to_the_brew_temperature(study):
    swing = study.swing
    assert 2 * swing.half_swing_k == pytest.approx(1.8, abs=0.25)
    assert swing.hottest_s == pytest.approx(30.0, abs=6.0)
    assert swing.coldest_s == pytest.approx(90.0, abs=6.0)
    assert swing.p < 0.001
    # 93 °C is passed 60 s after a peak, and once more at its end.
    assert min(abs(swing.start_s - 60.0), abs(swing.start_s - 120.0), swing.start_s) < 6.0
    assert swing.start_interval.low <= swing.start_s <= swing.start_interval.high
    assert swing.shot_interval.half_width < swing.unplanned_interval.half_width


def test_the_verdict_advises_a_moment(study):
    sentence = study.sentence(TempUnit.DEGC)
    assert f"start {number(study.swing.start_s, 0)} s after T2 peaks for 93.0 °C" in sentence
    assert study.charts()[0].levels[1].upright


def test_noted_moments_go_before_peaks(timed):
    stream, records = timed(SINCE)
    notes = [
        Mark(record.pump_on_s - since - 3.0, MarkKind.NOTE, "heater off")
        for record, since in zip(records, SINCE, strict=True)
    ]
    marks = tuple(sorted([*stream.marks, *notes], key=lambda mark: mark.t_s))
    rows = tuple(int(np.searchsorted(stream.t_s, mark.t_s)) for mark in marks)
    noted = Stream(
        channels=stream.channels, t_s=stream.t_s, temps_degc=stream.temps_degc, marks=marks, mark_rows=rows
    )
    found = heating_cycle({"r": noted}, "T2", chosen(records))
    assert found.noted_off
    assert sorted(found.swing.since_off_s) == pytest.approx(sorted(value + 3.0 for value in SINCE))
    assert "after the heater goes off" in found.sentence(TempUnit.DEGC)


def test_a_cycle_that_does_nothing_is_not_made_to(timed, make_record, rng):
    stream, records = timed(SINCE)
    flat = [
        make_record(i, 93 + rng.normal(0, 0.2), pump_on_s=r.pump_on_s, recording="r")
        for i, r in enumerate(records)
    ]
    found = heating_cycle({"r": stream}, "T2", chosen(flat))
    assert found.swing.p > 0.05
    assert "no effect on the brew temperature was seen" in found.sentence(TempUnit.DEGC)


def test_moments_never_tried_are_said(timed):
    stream, records = timed([20.0, 25.0, 30.0, 35.0, 40.0, 45.0])
    found = heating_cycle({"r": stream}, "T2", chosen(records))
    assert any("No shot was started between" in concern.said() for concern in found.concerns)


def test_a_target_no_moment_gives_is_said(timed):
    stream, records = timed(SINCE)
    found = heating_cycle({"r": stream}, "T2", chosen(records), target_degc=96.0)
    assert About.OUT_OF_RANGE in [concern.about for concern in found.concerns]


def test_a_steady_channel_has_no_cycle(rng):
    t_s = np.arange(0.0, 900.0, 0.5)
    temps = np.stack((np.full_like(t_s, 60.0), 94 + rng.normal(0, 0.05, len(t_s))), axis=1)
    with pytest.raises(BadInput, match="no heating cycle"):
        heating_cycle({"r": Stream(channels=("T1", "T2"), t_s=t_s, temps_degc=temps)}, "T2")


def test_water_in_every_cycle_leaves_no_period(rng):
    marks = [
        mark
        for start in range(10, 3600, 100)
        for mark in (Mark(float(start), MarkKind.PUMP_ON), Mark(start + 25.0, MarkKind.PUMP_OFF))
    ]
    with pytest.raises(BadInput, match="let the machine stand"):
        heating_cycle({"r": swinging(rng, marks=marks)}, "T2")


def test_plain_values(study):
    plain = json.loads(json.dumps(study.to_plain(charts=True), allow_nan=False))
    assert plain["study"] == "cycle"
    assert len(plain["swing"]["since_off_s"]) == 12
    assert {len(row) for table in study.tables() for row in table.rows} == {3}


def test_period_of_a_virtual_machine_is_recovered():
    machine = virtual_machines()["single-boiler"]
    virtual = VirtualMachine(machine)
    off_s, heating = [], virtual.heater_on
    for step in range(1, 4 * 3000):
        virtual.advance(step / 4.0)
        if heating and not virtual.heater_on:
            off_s.append(virtual.t_s)
        heating = virtual.heater_on
    truth_s = (off_s[-1] - off_s[2]) / (len(off_s) - 3)
    for seed in (1, 2, 3):
        places = (Place.BASKET, Place.BOILER)
        stream = simulate(machine, (Wait(seconds=1500.0),), seed=seed, rate_hz=4.0, places=places)
        period = heating_cycle({"r": stream}, "T2").period
        assert period.interval.holds(truth_s), (seed, truth_s, period)
        assert period.interval.half_width < 0.5


def test_a_stretch_at_rest_is_drawn_not_the_whole_recording(study):
    chart = study.charts()[-1]
    assert chart.title == "Channel T2 at rest"
    line, peaks = chart.series
    assert len(peaks.x) <= 8
    assert 60.0 * (line.x[-1] - line.x[0]) == pytest.approx(len(peaks.x) * PERIOD_S, abs=6.0)
    assert len(line.x) > 20 * len(peaks.x)
