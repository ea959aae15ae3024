import json

import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.readings.virtual import Scale, simulate, virtual_machines
from benchtemp.readings.virtual.script import Enter, KnockOut, LockIn, Setpoint, Shot, Wait
from benchtemp.studies.evidence.gathering import records_in
from benchtemp.studies.evidence.shot_set import chosen
from benchtemp.studies.outcome import About
from benchtemp.studies.setpoint import setpoint
from benchtemp.units import TempUnit

PLACES = np.array([90.0, 92.0, 94.0, 96.0] * 3)


@pytest.fixture
def lined(shot_set, rng):
    def make(places=PLACES, slope=0.95, offset=-3.0, sd=0.1, **known):
        order = rng.permutation(len(places))
        x = places[order]
        degc = 93.0 + offset + slope * (x - 93.0) + rng.normal(0, sd, len(x))
        return shot_set(degc, setpoint_degc=x.tolist(), **known)

    return make


def test_offset_slope_and_the_setpoint_for_a_target(lined):
    found = setpoint(lined(), target_degc=91.0)
    assert found.mean_offset_interval.holds(-3.0)
    assert found.slope_interval.holds(0.95)
    assert found.reach.interval.holds(93.0 + 1.0 / 0.95)
    assert found.target_in_range
    assert [offset.setpoint_degc for offset in found.offsets] == [90.0, 92.0, 94.0, 96.0]
    assert [offset.count for offset in found.offsets] == [3, 3, 3, 3]
    assert found.display_step_k == 2.0
    assert found.staircase is None
    assert found.concerns == ()


def test_the_verdict_names_offset_setpoint_and_their_uncertainty(lined):
    sentence = setpoint(lined(), target_degc=91.0).sentence(TempUnit.DEGC)
    assert sentence.startswith("Set to 93.0 °C, Ferrowick Two brews 3.0")
    assert "to brew at 91.0 °C, set it to 94." in sentence


def test_a_target_outside_what_was_tested_is_warned_of(lined):
    found = setpoint(lined(), target_degc=96.0)
    assert not found.target_in_range
    assert About.OUT_OF_RANGE in [concern.about for concern in found.concerns]
    assert "by extrapolation" in found.sentence(TempUnit.DEGC)


def test_bands_of_shots_are_wider_than_those_of_the_line(lined):
    found = setpoint(lined())
    widths = np.array(found.shot_high) - np.array(found.shot_low)
    assert (widths > np.array(found.line_high) - np.array(found.line_low)).all()


def test_a_display_that_rounds_is_found(shot_set, rng):
    places = np.array([91.0, 91.5, 92.0, 92.5, 93.0, 93.5, 94.0, 94.5, 95.0, 95.5] * 2)
    places = places[rng.permutation(20)]
    degc = 90.0 + np.floor(places - 91.0) + rng.normal(0, 0.05, 20)
    found = setpoint(shot_set(degc, setpoint_degc=places.tolist()))
    assert found.staircase.step_k == 1.0
    assert "it rounds" in next(c for c in found.concerns if c.about is About.FIT).said()


def test_a_straight_line_is_not_called_a_staircase(lined):
    places = np.arange(91.0, 96.0, 0.5)
    for _ in range(20):
        assert setpoint(lined(np.tile(places, 2))).staircase is None


def test_a_bend_is_said(shot_set, rng):
    x = PLACES[rng.permutation(12)]
    degc = 90.0 + 0.9 * (x - 93) - 0.15 * (x - 93) ** 2 + rng.normal(0, 0.05, 12)
    found = setpoint(shot_set(degc, setpoint_degc=x.tolist()))
    assert found.lack_of_fit_p < 0.01
    assert About.FIT in [concern.about for concern in found.concerns]


def test_setpoints_in_one_direction_only_are_said(shot_set):
    x = sorted(PLACES.tolist())
    found = setpoint(shot_set(np.array(x) - 3.0 + 0.01 * np.arange(12) % 0.03, setpoint_degc=x))
    assert any("one direction" in concern.said() for concern in found.concerns)


def test_a_machine_that_ignores_its_display(shot_set, rng):
    found = setpoint(shot_set(rng.normal(92, 0.3, 12), setpoint_degc=PLACES.tolist()))
    assert not found.reach.interval.bounded
    assert "no effect of it" in found.sentence(TempUnit.DEGC)
    json.dumps(found.to_plain(charts=True), allow_nan=False)


def test_too_little_is_refused(shot_set):
    with pytest.raises(BadInput, match="carry a setpoint tag"):
        setpoint(shot_set([90.0, 91.0, 92.0]))
    with pytest.raises(BadInput, match="needs two or more"):
        setpoint(shot_set([90.0, 91.0, 92.0], setpoint_degc=93.0))


def test_offset_of_a_virtual_machine_is_recovered():
    machine = virtual_machines()["dual-boiler"]

    def pulled(order, seed):
        steps = []
        for degc in order:
            steps += [
                Enter(text=f"tag.setpoint={degc:g}"),
                Setpoint(degc=degc),
                Wait(seconds=600.0),
                LockIn(),
            ]
            steps += [Wait(seconds=12.0), Shot(seconds=34.0, yield_g=36.0), Wait(seconds=3.0), KnockOut()]
        return simulate(machine, steps, seed=seed, rate_hz=2.0, scale=Scale())

    truth = pulled([92.0, 98.0, 95.0, 98.0, 92.0, 95.0], seed=77).meta["truth"]
    true_offset = np.mean([shot["brew_temp_degc"] for shot in truth]) - 95.0
    order = [92.0, 98.0, 94.0, 96.0, 96.0, 94.0, 98.0, 92.0]
    found = setpoint(chosen(records_in(pulled(order, 1), "r")))
    assert found.mean_offset_interval.holds(true_offset), (true_offset, found.mean_offset_interval)
    assert found.mean_offset_interval.half_width < 0.3
