import json

import msgspec
import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Mark, MarkKind, Stream
from benchtemp.readings.virtual import Place, VirtualMachine, simulate, virtual_machines
from benchtemp.readings.virtual.script import Note, Wait
from benchtemp.studies.evidence.shot_record import Known, Setting
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.outcome import About
from benchtemp.studies.warm_up import warm_up, warm_up_channel
from benchtemp.units import TempUnit

MINUTES = np.array([5.0, 9.0, 13.0, 17.0, 21.0, 25.0, 30.0, 36.0, 42.0, 50.0, 58.0, 66.0])


@pytest.fixture
def warming(shot_set, rng):
    def make(scale=4.0, away=8.0, settled=92.5, sd=0.06, minutes=MINUTES):
        degc = settled - away * np.exp(-(minutes - 5.0) / scale) + rng.normal(0, sd, len(minutes))
        return shot_set(degc, since_on_min=minutes.tolist())

    return make


def test_settling_time_and_temperature(warming):
    found = warm_up(warming())
    truth = 5.0 + 4.0 * np.log(8.0 / 0.5)
    assert found.settling.settling_interval.holds(truth)
    assert found.settling.settling_min == pytest.approx(truth, abs=1.5)
    assert found.settling.settled_interval.holds(92.5)
    assert found.settling.last_outside_min < truth < found.settling.first_inside_min
    assert found.concerns == ()


def test_the_verdict_names_time_and_interval(warming):
    sentence = warm_up(warming()).sentence(TempUnit.DEGC)
    assert sentence.startswith("Ferrowick Two brews within 0.5 °C of its settled 92.")
    assert "min after switching on (" in sentence


def test_settling_from_above_is_settling_too(warming):
    found = warm_up(warming(away=-6.0))
    assert found.settling.settling_interval.holds(5.0 + 4.0 * np.log(12.0))


def test_shots_may_come_from_several_days_in_any_order(shot_set, rng):
    minutes = np.array([20.0, 5.0, 40.0, 10.0, 60.0, 15.0, 5.0, 30.0, 50.0])
    degc = 92.5 - 8.0 * np.exp(-(minutes - 5.0) / 4.0) + rng.normal(0, 0.05, 9)
    found = warm_up(shot_set(degc, since_on_min=minutes.tolist()))
    assert list(found.settling.t_min) == sorted(minutes)


def test_one_that_had_not_settled_says_so(warming):
    found = warm_up(warming(scale=25.0, minutes=MINUTES[:8]))
    assert About.OUT_OF_RANGE in [concern.about for concern in found.concerns]


def test_no_approach_is_refused(shot_set):
    with pytest.raises(BadInput, match="show no approach"):
        warm_up(
            shot_set([92.5, 92.4, 92.6, 92.5, 92.4, 92.5], since_on_min=[40.0, 45.0, 50.0, 55.0, 60.0, 65.0])
        )


def test_too_little_is_refused(shot_set):
    with pytest.raises(BadInput, match="time since switch-on is known"):
        warm_up(shot_set([93.0] * 6))


def test_typed_minutes_are_said(make_record):
    shots = []
    for index, minutes in enumerate(MINUTES):
        record = make_record(index, 92.5 - 8.0 * np.exp(-(minutes - 5.0) / 4.0) + 0.01 * (index % 3))
        typed = Setting(value=float(minutes), known=Known.TYPED)
        shots.append(msgspec.structs.replace(record, since_on_min=typed))
    found = warm_up(ShotSet(used=tuple(shots)))
    assert About.SETTINGS in [concern.about for concern in found.concerns]


def test_settling_time_of_a_virtual_machines_group_is_recovered():
    machine = virtual_machines()["dual-boiler"]
    places = (Place.BASKET, Place.GROUP)
    virtual = VirtualMachine(machine, warm=False, places=places)
    t_s = np.arange(0.0, 3600.0, 5.0)
    degc = np.empty_like(t_s)
    for index, at_s in enumerate(t_s.tolist()):
        virtual.advance(at_s)
        degc[index] = virtual.place_degc(Place.GROUP)
    truth_min = t_s[np.flatnonzero(np.abs(degc - degc[-100:].mean()) > 0.5)[-1]] / 60.0
    script = (Note(text="switched on"), Wait(seconds=3300.0))
    stream = simulate(machine, script, seed=1, rate_hz=1.0, warm=False, places=places)
    found = warm_up_channel(stream, "T2")
    interval = found.settling.settling_interval
    assert interval.holds(truth_min), (truth_min, interval)
    assert interval.half_width < 1.0
    assert found.channel == "T2"
    json.dumps(found.to_plain(charts=True), allow_nan=False)


def test_water_used_while_warming_up_is_left_out_and_said(rng):
    t_s = np.arange(0.0, 4200.0, 2.0)
    degc = 90.0 - 60.0 * np.exp(-t_s / 300.0) + rng.normal(0, 0.05, len(t_s))
    disturbed = (t_s > 1490) & (t_s < 1640)
    degc[disturbed] += 3.0
    marks = (
        Mark(0.0, MarkKind.NOTE, "switched on"),
        Mark(1500.0, MarkKind.PUMP_ON),
        Mark(1530.0, MarkKind.PUMP_OFF),
    )
    stream = Stream(
        channels=("T1", "T2"),
        t_s=t_s,
        temps_degc=np.stack((degc, degc), axis=1),
        marks=marks,
        mark_rows=(0, 750, 765),
    )
    found = warm_up_channel(stream, "T2")
    assert found.settling.settling_interval.holds(5.0 * np.log(120.0))
    assert About.CONFOUNDED in [concern.about for concern in found.concerns]


def test_a_channel_with_nothing_after_switching_on_is_refused():
    stream = Stream(channels=("T1",), t_s=np.arange(5.0), temps_degc=np.full((5, 1), 20.0))
    with pytest.raises(BadInput, match="too few readings"):
        warm_up_channel(stream, "T1")


def test_measurements_that_say_otherwise_than_the_approach_go_before_it(shot_set, rng):
    minutes = np.concatenate((MINUTES, [74.0, 82.0, 90.0]))
    degc = 92.5 - 8.0 * np.exp(-(minutes - 5.0) / 4.0) + rng.normal(0, 0.04, len(minutes))
    degc[minutes == 66.0] += 0.9
    found = warm_up(shot_set(degc, since_on_min=minutes.tolist()))
    sentence = found.sentence(TempUnit.DEGC)
    assert "brewed within 0.5 °C of its settled" in sentence
    assert "for good only from 74 min after switching on; a simple approach would be there from" in sentence
    assert "stay inside only from 74 min" in " ".join(concern.said() for concern in found.concerns)


def test_one_study_is_about_one_machine(shot_set):
    shots = shot_set([92.0] * 8, since_on_min=MINUTES[:8].tolist(), machine=["a", "b"] * 4)
    with pytest.raises(BadInput, match="about one machine; these shots come from a and b"):
        warm_up(shots)


def test_one_still_rising_in_a_line_names_no_level(shot_set):
    found = warm_up(
        shot_set([80.0 + 2.0 * index for index in range(6)], since_on_min=[5, 10, 15, 20, 25, 30])
    )
    said = found.sentence(TempUnit.DEGC)
    assert said == (
        "Ferrowick Two had not settled by the end, 30 min after switching on, and where it will cannot be "
        "said: measure for longer."
    )
    figures, shots = found.tables()
    assert figures.rows[0][1:] == ("— °C", "not known")
    assert figures.rows[1][1] == "— min"
    assert {row[3] for row in shots.rows} == {"—"}
    assert found.charts()[0].levels == ()
