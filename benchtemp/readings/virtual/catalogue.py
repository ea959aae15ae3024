"""Ready-made virtual machines; all invented, with names that stand for no real machine."""

from __future__ import annotations

from msgspec.structs import replace

from benchtemp.readings.virtual.parameters import (
    ALUMINIUM_J_PER_KG_K,
    Basket,
    Boiler,
    Coil,
    Group,
    Machine,
    Pid,
    Place,
    Probe,
    Pump,
    PumpKind,
    SensorSite,
    Steam,
    Thermostat,
)

_STEAM_BOILER = Boiler(
    control=Thermostat(setpoint_degc=122.0, below_k=0.6, above_k=0.6),
    water_kg=1.4,
    cells=1,
    metal_kg=3.0,
    heater_w=1800.0,
    wetted_w_per_k=400.0,
    wetted_flowing_w_per_k=400.0,
    loss_w_per_k=0.9,
    sensor_tau_s=2.0,
)

_SLOW_PUMP = Pump(kind=PumpKind.VIBRATORY, free_flow_kg_per_s=0.0065, start_tau_s=0.8, pressure_tau_s=2.2)

_DUAL = Machine(
    name="Ferrowick Two",
    kind="dual boiler, PID, rotary pump",
    boiler=Boiler(control=Pid(setpoint_degc=95.5)),
    steam_boiler=_STEAM_BOILER,
)

_EXCHANGER = Machine(
    name="Ostrel Long Arm",
    kind="heat exchanger in a steam boiler, rotary pump",
    boiler=replace(_STEAM_BOILER, control=Thermostat(setpoint_degc=118.0, below_k=0.6, above_k=0.6)),
    coil=Coil(),
    group=Group(
        metal_kg=3.6, boiler_w_per_k=1.6, loss_w_per_k=1.4, wetted_flowing_w_per_k=8.0, water_kg=0.006
    ),
    pump=Pump(free_flow_kg_per_s=0.0055),
)

_SINGLE = Machine(
    name="Pindlebay One",
    kind="single boiler with a wide thermostat, vibratory pump",
    boiler=Boiler(
        control=Thermostat(setpoint_degc=99.0, below_k=4.5, above_k=1.5),
        water_kg=0.25,
        cells=3,
        metal_kg=1.6,
        heater_w=1000.0,
        wetted_w_per_k=60.0,
        wetted_flowing_w_per_k=80.0,
        loss_w_per_k=0.6,
        sensor=SensorSite.METAL,
        sensor_tau_s=8.0,
    ),
    group=Group(metal_kg=1.8, boiler_w_per_k=3.0, loss_w_per_k=0.35, wetted_flowing_w_per_k=4.0),
    pump=_SLOW_PUMP,
    basket=Basket(resistance_pa_s_per_kg=3.7e8),
)

_THERMOBLOCK = Machine(
    name="Kessamun Dash",
    kind="thermoblock, vibratory pump without a three-way valve",
    boiler=Boiler(
        control=Pid(setpoint_degc=101.0, duty_per_k=0.3, duty_per_k_s=0.006, duty_s_per_k=0.3),
        water_kg=0.03,
        cells=4,
        metal_kg=0.8,
        metal_j_per_kg_k=ALUMINIUM_J_PER_KG_K,
        heater_w=1400.0,
        wetted_w_per_k=10.0,
        wetted_flowing_w_per_k=50.0,
        loss_w_per_k=0.5,
        sensor=SensorSite.METAL,
        sensor_tau_s=1.5,
    ),
    group=Group(
        metal_kg=0.35, boiler_w_per_k=0.8, loss_w_per_k=0.2, wetted_flowing_w_per_k=2.0, water_kg=0.006
    ),
    pump=Pump(
        kind=PumpKind.VIBRATORY,
        free_flow_kg_per_s=0.006,
        start_tau_s=0.6,
        pressure_tau_s=1.6,
        three_way_valve=False,
    ),
    basket=Basket(portafilter_kg=0.28, resistance_pa_s_per_kg=3.7e8),
    steam=None,
)

_SLOW = Machine(
    name="Brundley Patience",
    kind="dual boiler, PID, vibratory pump with pre-infusion",
    boiler=Boiler(control=Pid(setpoint_degc=95.5), heater_w=1000.0),
    steam_boiler=_STEAM_BOILER,
    pump=Pump(
        kind=PumpKind.VIBRATORY,
        free_flow_kg_per_s=0.0065,
        start_tau_s=1.0,
        pressure_tau_s=2.2,
        preinfusion_s=3.0,
        pause_s=2.0,
    ),
    basket=Basket(resistance_pa_s_per_kg=2.55e8),
)

_BENCH = Machine(
    name="Lattenby Bench",
    kind="single boiler, PID, rotary pump, four probes",
    boiler=Boiler(control=Pid(setpoint_degc=95.5), water_kg=0.35, cells=3),
    steam=Steam(),
    probe=Probe(noise_k=0.05, quantum_k=0.0625),
    places=(Place.BASKET, Place.GROUP, Place.BOILER, Place.INLET),
)

_CATALOGUE = {
    "dual-boiler": _DUAL,
    "heat-exchanger": _EXCHANGER,
    "single-boiler": _SINGLE,
    "thermoblock": _THERMOBLOCK,
    "slow-pump": _SLOW,
    "four-probes": _BENCH,
}


def virtual_machines() -> dict[str, Machine]:
    """Return the ready-made machines by their short names, in the order to show them."""
    return dict(_CATALOGUE)
