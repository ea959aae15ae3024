"""Do the studies recover what is true of virtual machines, as often as their intervals say?

Run: python tests/benchmarks/bench_studies_virtual.py [--machines 24] [--seed 1]

Virtual machines with parts of random size; their shots and channels go through noise, quantisation and the
reading of the trace like anybody's. What is true of a machine is found from other runs of it:
    offset, setpoint   the mean of many other shots at each setpoint
    flush              the target is what many other shots, so flushed and mixed among others, brew at
    settling           the group's noise-free temperature
    period             when the heater's switch opens
Goal: 95 %; with N machines the count itself scatters by some 4.4/sqrt(N/24) %.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from covering import Row, Simulate, asked_for, covered
from msgspec.structs import replace

from benchtemp.readings.virtual import Machine, Place, Scale, VirtualMachine, simulate, virtual_machines
from benchtemp.readings.virtual.parameters import Thermostat
from benchtemp.readings.virtual.script import (
    AnyStep,
    Enter,
    Flush,
    KnockOut,
    LockIn,
    Note,
    Setpoint,
    Shot,
    Wait,
)
from benchtemp.studies.cycle import heating_cycle
from benchtemp.studies.evidence.gathering import records_in
from benchtemp.studies.evidence.shot_record import ShotRecord
from benchtemp.studies.evidence.shot_set import chosen
from benchtemp.studies.routine import routine
from benchtemp.studies.setpoint import setpoint
from benchtemp.studies.warm_up import warm_up_channel

MACHINES = virtual_machines()
RATE_HZ = 4.0


def seed_of(rng: np.random.Generator) -> int:
    return int(rng.integers(1, 2**30))


def recorded(machine: Machine, script: Sequence[AnyStep], seed: int) -> list[ShotRecord]:
    return records_in(simulate(machine, script, seed=seed, rate_hz=RATE_HZ, scale=Scale()), "r")


def pulled() -> list[AnyStep]:
    return [LockIn(), Wait(seconds=12.0), Shot(seconds=34.0, yield_g=36.0), Wait(seconds=3.0), KnockOut()]


def some_dual_boiler(rng: np.random.Generator) -> Machine:
    machine = MACHINES["dual-boiler"]
    group = replace(machine.group, metal_kg=rng.uniform(1.5, 2.6), loss_w_per_k=rng.uniform(0.35, 0.7))
    return replace(machine, group=group, basket=replace(machine.basket, portafilter_kg=rng.uniform(0.4, 0.6)))


def setpoints(rng: np.random.Generator) -> Row:
    machine = some_dual_boiler(rng)
    places = [92.0, 94.0, 96.0, 98.0]

    def script(order: Sequence[float]) -> list[AnyStep]:
        steps: list[AnyStep] = []
        for degc in order:
            steps += [
                Enter(text=f"tag.setpoint={degc:g}"),
                Setpoint(degc=degc),
                Wait(seconds=600.0),
                *pulled(),
            ]
        return steps

    def mixed(repeats: int) -> list[float]:
        return [float(degc) for _ in range(repeats) for degc in rng.permutation(places)]

    truth = np.concatenate(
        [
            [
                (shot.setpoint_degc, shot.brew_temp_degc)
                for shot in recorded(machine, script(mixed(4)), seed_of(rng))
            ]
            for _ in range(2)
        ]
    )
    slope, at_zero = np.polyfit(truth[:, 0], truth[:, 1], 1)
    found = setpoint(chosen(recorded(machine, script(mixed(3)), seed_of(rng))), target_degc=91.0)
    return {
        "offset": found.mean_offset_interval.holds(at_zero + (slope - 1.0) * 95.0),
        "setpoint for a target": found.reach.interval.holds((91.0 - at_zero) / slope),
    }


def flushes(rng: np.random.Generator) -> Row:
    machine = MACHINES["heat-exchanger"]
    group = replace(machine.group, metal_kg=rng.uniform(3.0, 4.2), loss_w_per_k=rng.uniform(1.2, 1.6))
    coil = replace(machine.coil, water_kg=rng.uniform(0.03, 0.04))
    machine = replace(machine, group=group, coil=coil)
    need_s = float(rng.uniform(1.5, 8.5))
    tested = [(idle, flush) for idle in (5.0, 10.0, 15.0, 25.0) for flush in (0.0, 2.0, 4.0, 6.0, 8.0, 10.0)]
    asked = (10.0, need_s)

    def script(routines: Sequence[tuple[float, float]]) -> list[AnyStep]:
        steps: list[AnyStep] = [KnockOut()]
        for idle_min, flush_s in routines:
            steps.append(Wait(seconds=60.0 * idle_min - 40.0))
            if flush_s:
                steps += [Wait(seconds=15.0), Flush(seconds=flush_s), Wait(seconds=13.0)]
            else:
                steps.append(Wait(seconds=28.0))
            steps += pulled()
        return steps

    def mixed(routines: list[tuple[float, float]]) -> list[tuple[float, float]]:
        return [(10.0, 0.0), *(routines[index] for index in rng.permutation(len(routines)))]

    asked_degc: list[float] = []
    for _ in range(3):
        order = mixed(tested + [asked] * 4)
        shots = recorded(machine, script(order), seed_of(rng))
        asked_degc += [s.brew_temp_degc for s, r in zip(shots, order, strict=True) if r == asked]
    shots = recorded(machine, script(mixed(tested)), seed_of(rng))[1:]
    found = routine(chosen(shots), idle_min=10.0, target_degc=float(np.mean(asked_degc))).answer
    return {"flush for a target": found.flush is not None and found.interval.holds(need_s)}


def warm_ups(rng: np.random.Generator) -> Row:
    machine = some_dual_boiler(rng)
    places = (Place.BASKET, Place.GROUP)
    virtual = VirtualMachine(machine, warm=False, places=places)
    t_s = np.arange(0.0, 7200.0, 5.0)
    degc = np.empty_like(t_s)
    for index, at_s in enumerate(t_s.tolist()):
        virtual.advance(at_s)
        degc[index] = virtual.place_degc(Place.GROUP)
    away = np.abs(degc - degc[-200:].mean())
    last = int(np.flatnonzero(away > 0.5)[-1])
    truth_min = float(np.interp(-0.5, -away[last : last + 2], t_s[last : last + 2])) / 60.0
    script = (Note(text="switched on"), Wait(seconds=4200.0))
    stream = simulate(machine, script, seed=seed_of(rng), rate_hz=1.0, warm=False, places=places)
    return {
        "settling time of the group": warm_up_channel(stream, "T2").settling.settling_interval.holds(
            truth_min
        )
    }


def cycles(rng: np.random.Generator) -> Row:
    machine = MACHINES["single-boiler"]
    control = Thermostat(setpoint_degc=99.0, below_k=rng.uniform(3, 5), above_k=rng.uniform(1, 2))
    machine = replace(
        machine, boiler=replace(machine.boiler, control=control, loss_w_per_k=rng.uniform(0.5, 0.8))
    )
    virtual = VirtualMachine(machine)
    off_s: list[float] = []
    heating = virtual.heater_on
    for step in range(1, int(4000 * RATE_HZ)):
        virtual.advance(step / RATE_HZ)
        if heating and not virtual.heater_on:
            off_s.append(virtual.t_s)
        heating = virtual.heater_on
    truth_s = (off_s[-1] - off_s[2]) / (len(off_s) - 3)
    stream = simulate(
        machine,
        (Wait(seconds=1500.0),),
        seed=seed_of(rng),
        rate_hz=RATE_HZ,
        places=(Place.BASKET, Place.BOILER),
    )
    return {"period of the heating cycle": heating_cycle({"r": stream}, "T2").period.interval.holds(truth_s)}


SIMULATIONS: dict[str, Simulate] = {
    "setpoint": setpoints,
    "routine": flushes,
    "warm-up": warm_ups,
    "cycle": cycles,
}


def main() -> None:
    asked = asked_for(__doc__, machines=24)
    print(f"{asked.machines} virtual machines per study, seed {asked.seed}")
    for one in covered(SIMULATIONS, asked):
        print(f"{one.study:10} {one.interval:30} {one.held:4} of {one.count:4}   {one.each_s:.1f} s each")


if __name__ == "__main__":
    main()
