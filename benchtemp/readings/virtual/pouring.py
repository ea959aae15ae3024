"""What a bed gives by when: the machine's water without its heat, for that does not ask how warm it is."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.readings.virtual.basket import Basket
from benchtemp.readings.virtual.machine import FLOWING_STEP_S
from benchtemp.readings.virtual.parameters import Machine
from benchtemp.readings.virtual.pump import Pump
from benchtemp.readings.virtual.thermal import Network

_RUN_OUT_S = 7.0


class CupCurve(NamedTuple):
    """What is in the cup in the end, by how long the pump ran.

    Attributes:
        ran_s: Pump times, rising from 0.
        cup_g: What each gives once it has run out.
    """

    ran_s: FloatArray
    cup_g: FloatArray


def cup_curve(machine: Machine, dose_g: float, longest_s: float = 60.0) -> CupCurve:
    """Return what a mean bed gives on a machine.

    Args:
        machine: Its pump and basket count; beds do not differ.
        dose_g: Dry coffee.
        longest_s: Up to what pump time.
    """
    network = Network(machine.room_degc)
    group = network.add(1.0, machine.room_degc)
    basket = Basket(machine.basket, network, group, machine.room_degc)
    pump = Pump(machine.pump)
    basket.lock_in(dose_g / 1000.0)
    pump.switch(on=True)
    steps = round(longest_s / FLOWING_STEP_S)
    poured_g = np.zeros(steps + 1)
    for step in range(1, steps + 1):
        _pour(pump, basket, machine.room_degc)
        poured_g[step] = basket.poured_kg * 1000.0
    ran_s: FloatArray = np.linspace(0.0, steps * FLOWING_STEP_S, steps + 1)
    rate_g_per_s: FloatArray = np.asarray(np.gradient(poured_g, ran_s), dtype=np.float64)
    pump.switch(on=False)
    for _ in range(round(_RUN_OUT_S / FLOWING_STEP_S)):
        _pour(pump, basket, machine.room_degc)
    # After pump off the pressure lets go in a time of its own, whatever the flow was.
    run_out_s = (basket.poured_kg * 1000.0 - poured_g[-1]) / max(float(rate_g_per_s[-1]), 1e-9)
    cup_g: FloatArray = np.asarray(poured_g + rate_g_per_s * run_out_s, dtype=np.float64)
    return CupCurve(ran_s, cup_g)


def _pour(pump: Pump, basket: Basket, water_degc: float) -> None:
    """Let the pump push for one step, as a whole machine does."""
    step_s = FLOWING_STEP_S
    pump.step(step_s, resistance_pa_s_per_kg=basket.resistance_pa_s_per_kg, space_full=basket.space_full)
    entering_kg, drawn_kg = basket.take_kg(pump.delivery_kg_per_s, pump.pressure_pa, step_s)
    basket.receive(entering_kg, water_degc, drawn_kg, step_s)
    if not pump.on and pump.part.three_way_valve:
        basket.vent(step_s)
