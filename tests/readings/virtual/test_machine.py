"""The machine as a whole: what a practitioner would expect of it, and that it keeps its books."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest
from msgspec.structs import replace

from benchtemp.errors import BadInput
from benchtemp.readings.virtual import Place, VirtualMachine, virtual_machines
from benchtemp.readings.virtual import machine as machine_module
from benchtemp.readings.virtual.parameters import PumpKind

MACHINES = virtual_machines()


def build(key: str, **options) -> VirtualMachine:
    return VirtualMachine(MACHINES[key], **options)


# Books


def balance_of(machine: VirtualMachine) -> float:
    account = machine.energy
    return (account.in_j - account.out_j - account.stored_j) / account.in_j


@pytest.mark.parametrize("key", MACHINES)
def test_heat_in_is_heat_stored_plus_heat_out_over_shots_and_flushes(key, pull):
    machine = build(key)
    for _ in range(2):
        pull(machine)
        machine.advance(machine.t_s + 10.0)
        machine.knock_out()
        machine.pump(on=True)
        machine.advance(machine.t_s + 3.0)
        machine.pump(on=False)
    account = machine.energy
    assert account.heaters_j > 0
    assert account.cup_j > 0
    assert account.drain_j > 0
    assert balance_of(machine) == pytest.approx(0.0, abs=1e-10)


@pytest.mark.parametrize("key", ["heat-exchanger", "dual-boiler"])
def test_heat_in_is_heat_stored_plus_heat_out_over_a_day_with_shots(key, pull, monkeypatch):
    monkeypatch.setattr(machine_module, "STILL_STEP_S", 2.0)
    machine = build(key, warm=False)
    for hour in range(24):
        machine.advance(hour * 3600.0 + 1800.0)
        if 8 <= hour <= 17:
            pull(machine)
            machine.advance(machine.t_s + 30.0)
            machine.steam(on=True)
            machine.advance(machine.t_s + 20.0)
            machine.steam(on=False)
    machine.advance(24 * 3600.0)
    account = machine.energy
    assert account.steam_j > 0
    assert account.knocked_j > 0
    assert account.stored_j > 1e5
    assert balance_of(machine) == pytest.approx(0.0, abs=1e-10)


# Numbers


def test_any_way_of_cutting_time_gives_nearly_the_same_shot(pull):
    whole = pull(build("dual-boiler"))
    cut = build("dual-boiler")
    random = Random(5)
    cut.knock_out()
    for event_s, act in (
        (8.0, lambda: cut.lock_in(18.0)),
        (20.0, lambda: cut.pump(on=True)),
        (45.0, lambda: None),
    ):
        while cut.t_s < event_s:
            cut.advance(min(event_s, cut.t_s + random.uniform(0.001, 3.0)))
        act()
    assert cut.probes_degc[0] == pytest.approx(whole.probe_degc[-1], abs=0.01)
    assert cut.cup_g == pytest.approx(whole.cup_g, abs=0.1)


@pytest.mark.parametrize("step_s", [0.5, 2.0, 10.0])
@pytest.mark.parametrize("key", MACHINES)
def test_coarse_steps_stay_sane(key, step_s, monkeypatch):
    # Beyond that a heater that is looked at so rarely would overheat in truth, too.
    monkeypatch.setattr(machine_module, "STILL_STEP_S", step_s)
    monkeypatch.setattr(machine_module, "FLOWING_STEP_S", step_s)
    machine = build(key, places=tuple(Place))
    machine.lock_in(18.0)
    for turn in range(40):
        machine.pump(on=turn % 4 == 0)
        machine.advance(machine.t_s + 60.0)
        assert all(15.0 < temp < 160.0 for temp in machine.probes_degc)


def test_the_same_seed_gives_the_same_shots_and_another_gives_other_beds(pull):
    first, again, other = (build("dual-boiler", seed=seed) for seed in (3, 3, 4))
    yields = [[pull(machine).cup_g for _ in range(2)] for machine in (first, again, other)]
    assert yields[0] == yields[1]
    assert yields[0] != yields[2]
    assert yields[0][0] != yields[0][1]


def test_time_does_not_run_backwards():
    machine = build("dual-boiler")
    machine.advance(5.0)
    machine.advance(3.0)
    assert machine.t_s == 5.0


# Shots


@pytest.mark.parametrize("key", MACHINES)
def test_a_shot_looks_like_a_shot(key, pull):
    machine = build(key)
    shot = pull(machine)
    assert 28.0 < shot.start_degc < 86.0
    first_rise_s = shot.t_s[np.flatnonzero(shot.probe_degc > shot.start_degc + 5.0)[0]]
    assert 1.0 < first_rise_s < 8.0
    assert 88.0 < shot.settled_degc < 98.0
    end_degc, off_s = machine.probes_degc[0], machine.t_s
    machine.advance(off_s + 2.0)
    assert 0.1 < (end_degc - machine.probes_degc[0]) / 2.0 < 0.55
    machine.advance(off_s + 60.0)
    assert 70.0 < machine.probes_degc[0] < end_degc - 3.0
    assert 30.0 < machine.cup_g < 44.0


def test_the_cup_gets_a_few_drops_more_after_pump_off(pull):
    machine = build("dual-boiler")
    at_off_g = pull(machine).cup_g
    machine.advance(machine.t_s + 6.0)
    assert 0.5 < machine.cup_g - at_off_g < 4.0
    rested_g = machine.cup_g
    machine.advance(machine.t_s + 20.0)
    assert machine.cup_g == pytest.approx(rested_g, abs=0.05)


def test_nothing_drips_before_the_bed_is_soaked(pull):
    assert pull(build("dual-boiler"), seconds=4.0).cup_g == 0.0


def test_a_vibratory_pump_settles_later_than_a_rotary_one_at_equal_water_temperature(pull):
    rotary = MACHINES["dual-boiler"]
    slow = replace(rotary.pump, kind=PumpKind.VIBRATORY, start_tau_s=1.0, pressure_tau_s=2.4)
    quick_shot = pull(VirtualMachine(rotary))
    slow_shot = pull(VirtualMachine(replace(rotary, pump=slow)))
    assert slow_shot.settled_degc == pytest.approx(quick_shot.settled_degc, abs=0.5)
    for level_degc in (70.0, 85.0, 92.0):
        quick_s, slow_s = (
            shot.t_s[np.flatnonzero(shot.probe_degc > level_degc)[0]] for shot in (quick_shot, slow_shot)
        )
        assert slow_s > quick_s + 0.5


def test_a_pause_in_the_pre_infusion_stops_the_water(pull):
    shot = pull(build("slow-pump"))
    pause = (shot.t_s > 3.2) & (shot.t_s < 4.9)
    assert np.isnan(shot.arriving_degc[pause]).all()
    assert np.isfinite(shot.arriving_degc[(shot.t_s > 1.0) & (shot.t_s < 2.9)]).all()
    assert np.isfinite(shot.arriving_degc[shot.t_s > 5.5]).all()


def test_a_higher_setpoint_gives_hotter_water(pull):
    machine = build("dual-boiler")
    machine.set_setpoint(98.5)
    machine.advance(2400.0)
    gained_k = pull(machine).settled_degc - pull(build("dual-boiler")).settled_degc
    assert 2.0 < gained_k < 3.5


# Heat exchanger


def idle_exchanger(idle_s: float, flush_s: float = 0.0) -> VirtualMachine:
    machine = build("heat-exchanger")
    machine.knock_out()
    machine.pump(on=True)
    machine.advance(25.0)
    machine.pump(on=False)
    machine.advance(25.0 + idle_s)
    if flush_s:
        machine.pump(on=True)
        machine.advance(machine.t_s + flush_s)
        machine.pump(on=False)
    return machine


def test_the_longer_a_heat_exchanger_stands_the_higher_the_first_peak(pull):
    peaks = [pull(idle_exchanger(idle_s)).probe_degc.max() for idle_s in (20.0, 60.0, 180.0, 900.0)]
    assert np.all(np.diff(peaks) > 0.5)
    assert peaks[-1] > 96.0


def test_after_a_long_idle_a_heat_exchanger_gives_a_hump_and_a_fall(pull):
    shot = pull(idle_exchanger(1800.0))
    assert shot.t_s[shot.probe_degc.argmax()] < 14.0
    assert shot.probe_degc.max() - shot.probe_degc[-1] > 2.5


def test_a_flush_lowers_the_shot_after_it(pull):
    means = [
        pull(idle_exchanger(1800.0, flush_s), out_s=1.0, locked_in_s=5.0).settled_degc
        for flush_s in (0, 3, 6)
    ]
    assert means[0] > means[1] + 0.7 > means[2] + 0.9


def test_overheated_water_flashes_in_the_open_group():
    machine = idle_exchanger(1800.0)
    before_j = machine.energy.steam_j
    machine.trace = trace = []
    machine.pump(on=True)
    machine.advance(machine.t_s + 3.0)
    assert machine.energy.steam_j > before_j
    assert np.nanmax([point.arriving_degc for point in trace]) < 100.1


# Thermostat


def test_where_the_thermostat_stands_moves_the_result(pull):
    def after_heater_off(wait_s: float) -> float:
        machine = build("single-boiler")
        machine.lock_in(0.0)
        was_on = machine.heater_on
        while not (was_on and not machine.heater_on):
            was_on = machine.heater_on
            machine.advance(machine.t_s + 0.1)
        machine.advance(machine.t_s + wait_s)
        return pull(machine, out_s=2.0, locked_in_s=5.0).settled_degc

    assert after_heater_off(5.0) - after_heater_off(75.0) > 1.5


def test_a_thermostat_cycles_with_a_steady_period():
    machine = build("single-boiler")
    switched_on_s, was_on = [], machine.heater_on
    while machine.t_s < 900.0:
        machine.advance(machine.t_s + 0.1)
        if machine.heater_on and not was_on:
            switched_on_s.append(machine.t_s)
        was_on = machine.heater_on
    periods_s = np.diff(switched_on_s)
    assert len(periods_s) >= 4
    assert 60.0 < periods_s.mean() < 300.0
    assert np.ptp(periods_s) < 2.0


# Handling


def test_a_cold_machine_warms_up_and_settles_where_the_warm_one_stands():
    cold, warm = (
        build("dual-boiler", warm=state, places=[Place.BASKET, Place.GROUP]) for state in (False, True)
    )
    assert cold.probes_degc == [22.0, 22.0]
    cold.advance(300.0)
    assert 30.0 < cold.probes_degc[1] < warm.probes_degc[1] - 10.0
    cold.advance(5400.0)
    assert cold.probes_degc[1] == pytest.approx(warm.probes_degc[1], abs=0.3)


def test_out_of_the_group_the_basket_cools_and_locked_in_again_it_warms():
    machine = build("dual-boiler")
    locked_degc = machine.probes_degc[0]
    machine.knock_out()
    machine.advance(30.0)
    out_degc = machine.probes_degc[0]
    assert out_degc < locked_degc - 15.0
    machine.lock_in(0.0)
    machine.advance(120.0)
    assert machine.probes_degc[0] > out_degc + 15.0


def test_water_through_an_empty_locked_basket_reaches_the_probe_and_not_the_cup():
    machine = build("dual-boiler")
    machine.lock_in(0.0)
    machine.pump(on=True)
    machine.advance(6.0)
    assert machine.probes_degc[0] == pytest.approx(machine.arriving_degc, abs=1.0)
    assert machine.cup_g == 0.0


def test_steam_from_a_single_boiler_heats_it_up_and_leaves_the_next_shot_hot(pull):
    machine = build("single-boiler")
    machine.steam(on=True)
    machine.advance(120.0)
    assert machine.place_degc(Place.BOILER) > 112.0
    assert machine.energy.steam_j > 1e4
    machine.steam(on=False)
    assert pull(machine, out_s=1.0, locked_in_s=3.0).probe_degc.max() > 96.0


def test_a_setpoint_changed_while_steaming_holds_afterwards():
    machine = build("single-boiler")
    machine.steam(on=True)
    machine.set_setpoint(97.0)
    assert machine.boiler.controller.setpoint_degc > 110.0
    machine.steam(on=False)
    assert machine.boiler.controller.setpoint_degc == 97.0


def test_what_cannot_be_done_is_refused_in_one_sentence():
    with pytest.raises(BadInput, match="no steam valve"):
        build("thermoblock").steam(on=True)
    with pytest.raises(BadInput, match="20 to 140"):
        build("dual-boiler").set_setpoint(400.0)
    with pytest.raises(BadInput, match="does not fit the basket"):
        build("dual-boiler").lock_in(900.0)


def test_a_slow_probe_lags_and_ends_at_the_same_temperature(pull):
    quick = MACHINES["dual-boiler"]
    slow = replace(quick, probe=replace(quick.probe, wet_tau_s=2.0))
    quick_shot, slow_shot = pull(VirtualMachine(quick)), pull(VirtualMachine(slow))
    assert slow_shot.water_degc == pytest.approx(quick_shot.water_degc)
    assert slow_shot.at(5.0) < quick_shot.at(5.0) - 5.0
    assert slow_shot.probe_degc[-1] == pytest.approx(quick_shot.probe_degc[-1], abs=0.1)


def test_the_wet_probe_is_a_first_order_lag_of_the_water(pull):
    shot = pull(build("dual-boiler"))
    settled = shot.t_s > 8.0
    slope = np.gradient(shot.probe_degc, shot.t_s)
    rebuilt = shot.probe_degc + 0.45 * slope
    assert rebuilt[settled] == pytest.approx(shot.water_degc[settled], abs=0.03)
