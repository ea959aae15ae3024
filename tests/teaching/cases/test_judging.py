"""Hypotheses held against made-up figures: what rules a fault out, and what leaves it open."""

from __future__ import annotations

import numpy as np
import pytest

from benchtemp.teaching.cases.fault import Fault
from benchtemp.teaching.cases.judging import Run, Temperatures, flow_faults, probe_faults
from benchtemp.teaching.cases.sealed import OFFSETS_K, PROBE_LOW_K

UNEVEN_S = np.array([30.0, 190.0, 420.0, 570.0, 800.0, 930.0])


def temps(off_k, *, times_s=None, uneven=True, repeat_k=0.3):
    """Return one sitting's shots beside the display."""
    off_k = np.array(off_k)
    times_s = UNEVEN_S[: len(off_k)] if times_s is None else np.array(times_s)
    first_s = float(times_s[0]) if len(times_s) else None
    return Temperatures([off_k], [times_s], first_s, uneven, 0.3, repeat_k)


def run(ran_s=25.0, *, grind_percent=100.0, share=1.0, flow=None, beside_g=0.0):
    """Return a shot as a machine would give it."""
    sound = Run(18.0, 0.0, ran_s, grind_percent)
    return Run(18.0, sound.cup_g(share, flow) + beside_g, ran_s, grind_percent)


# Flow


def test_a_sound_flow_is_sound_at_any_grind():
    runs = [
        run(grind_percent=grind, beside_g=beside) for grind, beside in ((100, 1.2), (120, -2.0), (85, 0.4))
    ]
    assert flow_faults(runs) == {Fault.NONE}


def test_without_a_weighed_shot_all_is_open():
    assert flow_faults([]) == {Fault.NONE, Fault.SLOW_FLOW, Fault.GRIND}


@pytest.mark.parametrize("flow", [0.0012, 0.0015])
def test_slow_water_stays_slow_when_ground_coarser(flow):
    fine = [run(35.0, flow=flow), run(38.0, flow=flow)]
    assert Fault.SLOW_FLOW in flow_faults(fine)
    assert Fault.NONE not in flow_faults(fine)
    assert flow_faults([*fine, run(35.0, flow=flow, grind_percent=125.0)]) == {Fault.SLOW_FLOW}


@pytest.mark.parametrize("share", [0.5, 0.65, 1.5, 1.9, 2.5])
def test_a_wrong_grind_follows_the_grinder(share):
    runs = [run(30.0, share=share), run(30.0, share=share, grind_percent=125.0)]
    assert flow_faults(runs) == {Fault.GRIND}


def test_two_pump_times_tell_slow_water_from_a_dense_bed_as_well():
    """A narrowed jet takes its time to fill the space above the bed; a dense bed lets it fill at once."""
    assert flow_faults([run(25.0, flow=0.0014), run(50.0, flow=0.0014)]) == {Fault.SLOW_FLOW}


# Probe


@pytest.mark.parametrize("uncertainty_k", [0.05, 0.1])
def test_a_checked_probe_is_low_or_it_is_not(uncertainty_k):
    assert probe_faults(PROBE_LOW_K, uncertainty_k) == {Fault.PROBE_LOW}
    assert probe_faults(0.05, uncertainty_k) == {Fault.NONE}


def test_a_bad_check_tells_nothing():
    assert probe_faults(-0.4, 0.3) == {Fault.NONE, Fault.PROBE_LOW}


# Temperatures


def test_alike_and_on_the_display_is_sound_or_of_the_flow():
    found = temps([0.05, -0.04, 0.02, 0.08, -0.03, 0.01]).faults()
    assert found == {Fault.NONE, Fault.SLOW_FLOW, Fault.GRIND}


@pytest.mark.parametrize("offset_k", [OFFSETS_K[0], OFFSETS_K[1], -1.5])
def test_alike_and_off_the_display_is_an_offset(offset_k):
    found = temps(offset_k + np.array([0.05, -0.04, 0.02, 0.08, -0.03, 0.01])).faults()
    assert Fault.OFFSET in found
    assert not found & {Fault.NONE, Fault.THERMOSTAT, Fault.COLD_GROUP, Fault.PROBE_LOW}


def test_how_many_shots_it_takes_follows_from_how_much_they_differ():
    """Half way between sound and off: few shots leave both open, many do not; nor do more exact ones."""
    few, many = np.array([0.48, 0.52]), np.tile([0.48, 0.52], 20)
    assert {Fault.NONE, Fault.OFFSET} <= temps(few).faults()
    assert Fault.NONE not in temps(many, times_s=np.cumsum(np.tile(UNEVEN_S[:2], 20))).faults()
    assert Fault.NONE not in temps(few, repeat_k=0.05).faults()


def test_even_intervals_or_two_shots_leave_a_worn_thermostat_open():
    steady = [0.05, -0.04, 0.02, 0.08]
    assert Fault.THERMOSTAT in temps(steady, uneven=False).faults()
    assert Fault.THERMOSTAT in temps(steady[:1]).faults()
    assert Fault.THERMOSTAT not in temps(steady).faults()


def test_shots_that_differ_without_order_are_the_thermostat_s():
    assert temps([0.9, -0.4, 0.3, -0.8, 0.6, 0.1]).faults() == {Fault.THERMOSTAT}


def test_a_climb_that_slows_is_a_cold_group_and_one_in_steps_is_not():
    warming = -4.0 * np.exp(-UNEVEN_S / 300.0)
    assert temps(warming).faults() == {Fault.COLD_GROUP}
    assert temps(warming[:3]).faults() == {Fault.COLD_GROUP, Fault.THERMOSTAT}
    assert temps([-0.58, 1.05, 0.93, 0.62, 1.84, 2.62]).faults() == {Fault.THERMOSTAT}


def test_a_first_shot_that_came_late_leaves_a_cold_group_open():
    steady = [0.05, -0.04, 0.02, 0.08]
    assert Fault.COLD_GROUP in temps(steady, times_s=[1500.0, 1650.0, 1900.0, 2040.0]).faults()
    assert Fault.COLD_GROUP not in temps(steady).faults()


def test_without_a_shot_at_the_settings_as_found_all_is_open():
    assert Temperatures([], [], None, False, 0.3, 0.3).faults() == set(Fault)  # noqa: FBT003 - a plain value
