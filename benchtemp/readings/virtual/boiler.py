"""A boiler or thermoblock at work: its metal, its layers of water, its heater and what switches it."""

from __future__ import annotations

from itertools import pairwise

from benchtemp.readings.virtual import parameters
from benchtemp.readings.virtual.parameters import Pid, SensorSite, Thermostat
from benchtemp.readings.virtual.thermal import WATER_J_PER_KG_K, Network, lag_share


class Controller:
    """What decides on the heater's duty; follows the setpoint at once when it is changed."""

    def __init__(self, control: Thermostat | Pid) -> None:
        self.control = control
        self.setpoint_degc = control.setpoint_degc
        self.duty = 0.0
        self._integral = 0.0

    def step(self, sensor_degc: float, slope_k_per_s: float, step_s: float) -> float:
        """Return the duty, 0 to 1, for the coming step."""
        control = self.control
        error_k = self.setpoint_degc - sensor_degc
        if isinstance(control, Thermostat):
            if error_k > control.below_k:
                self.duty = 1.0
            elif error_k < -control.above_k:
                self.duty = 0.0
            return self.duty
        wanted = control.duty_per_k * error_k + self._integral - control.duty_s_per_k * slope_k_per_s
        self.duty = min(1.0, max(0.0, wanted))
        # The integral rests while the heater can do no more (or less), so it does not wind up.
        if self.duty == wanted or (wanted > 1.0) == (error_k < 0.0):
            integral = self._integral + control.duty_per_k_s * error_k * step_s
            self._integral = min(1.0, max(0.0, integral))
        return self.duty

    @property
    def memory(self) -> tuple[float, float]:
        """Return what it remembers: duty and integral."""
        return self.duty, self._integral

    @memory.setter
    def memory(self, memory: tuple[float, float]) -> None:
        self.duty, self._integral = memory


class Boiler:
    """A boiler in the network.

    Attributes:
        metal: Its metal's lump.
        cells: Its layers of water, inlet first.
        heated_j: Heat its element has given so far.
    """

    def __init__(self, part: parameters.Boiler, network: Network, start_degc: float) -> None:
        self.part = part
        self.network = network
        self.controller = Controller(part.control)
        self.heated_j = 0.0
        cells = part.cells
        self.metal = network.add(part.metal_kg * part.metal_j_per_kg_k, start_degc)
        self.cells = [network.add(part.water_kg * WATER_J_PER_KG_K / cells, start_degc) for _ in range(cells)]
        for cell in self.cells:
            network.join(self.metal, cell, part.wetted_w_per_k / cells, part.wetted_flowing_w_per_k / cells)
        for lower, upper in pairwise(self.cells):
            network.stack(lower, upper, part.layer_w_per_k, part.mixing_w_per_k)
        network.lose(self.metal, part.loss_w_per_k)
        self._touched = self.metal if part.sensor is SensorSite.METAL else self.cells[cells // 2]
        self._sensor_degc = start_degc

    @property
    def heater_on(self) -> bool:
        """Tell whether the element is heating at all."""
        return self.controller.duty > 0.0

    def step(self, step_s: float) -> None:
        """Read the sensor, set the duty, heat."""
        before = self._sensor_degc
        touched = self.network.temps_degc[self._touched]
        self._sensor_degc += (touched - before) * lag_share(step_s, self.part.sensor_tau_s)
        duty = self.controller.step(self._sensor_degc, (self._sensor_degc - before) / step_s, step_s)
        if duty > 0.0:
            heat_j = duty * self.part.heater_w * step_s
            self.network.heat(self.metal, heat_j)
            self.heated_j += heat_j

    @property
    def memory(self) -> tuple[float, float, float]:
        """Return what is not in the network: sensor, duty, integral."""
        return self._sensor_degc, *self.controller.memory

    @memory.setter
    def memory(self, memory: tuple[float, float, float]) -> None:
        self._sensor_degc = memory[0]
        self.controller.memory = memory[1:]
