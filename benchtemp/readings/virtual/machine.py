"""The virtual machine: boiler, group, pump, basket and probes stepped together."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, nan
from typing import NamedTuple

from benchtemp.errors import BadInput
from benchtemp.readings.virtual import parameters
from benchtemp.readings.virtual.basket import Basket
from benchtemp.readings.virtual.boiler import Boiler
from benchtemp.readings.virtual.parameters import Place
from benchtemp.readings.virtual.pump import Pump
from benchtemp.readings.virtual.thermal import (
    VAPORISATION_J_PER_KG,
    WATER_J_PER_KG_K,
    Network,
    lag_share,
    saturation_degc,
)

STILL_STEP_S = 0.1
FLOWING_STEP_S = 0.05
"""Longest steps at rest and while the pump is on.

Halving both moves a brew temperature by under 0.02 K; by up to 0.1 K where it lets a thermostat switch at a
slightly different moment.
"""

_WARMING_S = 4 * 3600.0
_WARMING_STEP_S = 1.0
_SETTLING_S = 600.0


@dataclass(frozen=True, slots=True)
class EnergyAccount:
    """Heat since the machine was made, in J, counted from 0 °C; pump work (some 70 J a shot) is left out.

    Attributes:
        stored_j: Held now minus held at the start.
        heaters_j, supply_j, coffee_j: Came in: from elements, with fresh water, with dry coffee.
        room_j, cup_j, drain_j, steam_j, knocked_j: Went out: to the room, with the drink, down the drain,
            with steam, with spent beds.
    """

    stored_j: float
    heaters_j: float
    supply_j: float
    coffee_j: float
    room_j: float
    cup_j: float
    drain_j: float
    steam_j: float
    knocked_j: float

    @property
    def in_j(self) -> float:
        """Return all that came in."""
        return self.heaters_j + self.supply_j + self.coffee_j

    @property
    def out_j(self) -> float:
        """Return all that went out."""
        return self.room_j + self.cup_j + self.drain_j + self.steam_j + self.knocked_j


class TracePoint(NamedTuple):
    """One instant without noise, quantisation or, for the water, lag.

    Attributes:
        probe_degc: The first basket probe's junction, with its lag.
        water_degc: What surrounds that junction.
        arriving_degc: Water as it leaves the group's screen; NaN while none does.
    """

    t_s: float
    probe_degc: float
    water_degc: float
    arriving_degc: float


class VirtualMachine:
    """An espresso machine in numbers; deterministic for its parameters, its seed and what is done to it.

    Attributes:
        t_s: Its clock, 0 when made.
        probes_degc: Junction temperature of each probe, with lag, without noise.
        trace: Set to a list to have every inner step noted while the pump is on; None otherwise.
    """

    def __init__(
        self,
        machine: parameters.Machine,
        *,
        seed: int = 0,
        places: Sequence[Place] | None = None,
        warm: bool = True,
    ) -> None:
        """Build the machine.

        Args:
            machine: Its parts.
            seed: Decides how one bed of coffee differs from the next.
            places: Where probes sit, T1 first; None for the machine's own.
            warm: Switched on hours ago and settled; otherwise cold, switched on now.
        """
        self.parameters = machine
        self.places = tuple(places if places is not None else machine.places)
        self.t_s = 0.0
        self.trace: list[TracePoint] | None = None
        self._random = random.Random(f"beds {seed}")  # noqa: S311  no secret depends on it
        start_degc = machine.room_degc
        network = self._network = Network(machine.room_degc)
        self.boiler = Boiler(machine.boiler, network, start_degc)
        self.steam_boiler = (
            Boiler(machine.steam_boiler, network, start_degc) if machine.steam_boiler else None
        )
        self._boilers = [self.boiler] if self.steam_boiler is None else [self.boiler, self.steam_boiler]
        self._inlet = network.add(machine.inlet_kg * WATER_J_PER_KG_K, start_degc)
        network.join(self._inlet, self.boiler.metal, machine.inlet_w_per_k)
        network.lose(self._inlet, machine.inlet_loss_w_per_k)
        self._group = self._build_group(start_degc)
        self._path = [self._inlet, *self._heated, self._channel]
        self.pump_unit = Pump(machine.pump)
        self.basket = Basket(machine.basket, network, self._group, start_degc)
        self.probes_degc = [start_degc] * len(self.places)
        self._arriving_degc = nan
        self._supply_j = self._steam_j = 0.0
        self._steaming = False
        self._normal_setpoint_degc = machine.boiler.control.setpoint_degc
        self._grind_size = 1.0
        self._flow_memory_s = 0.0
        if warm:
            self._restore(_warm_state(machine))
        self._stored_at_start_j = network.stored_j

    def _build_group(self, start_degc: float) -> int:
        machine, network = self.parameters, self._network
        part, coil = machine.group, machine.coil
        group = network.add(part.metal_kg * part.metal_j_per_kg_k, start_degc)
        network.join(group, self.boiler.metal, part.boiler_w_per_k)
        network.lose(group, part.loss_w_per_k)
        self._channel = network.add(part.water_kg * WATER_J_PER_KG_K, start_degc)
        network.join(self._channel, group, part.wetted_w_per_k, part.wetted_flowing_w_per_k)
        self._heated = self.boiler.cells
        if coil is not None:
            share = coil.water_kg * WATER_J_PER_KG_K / coil.cells
            self._heated = [network.add(share, start_degc) for _ in range(coil.cells)]
            still, flowing = coil.wetted_w_per_k / coil.cells, coil.wetted_flowing_w_per_k / coil.cells
            for cell in self._heated:
                for boiler_cell in self.boiler.cells:
                    layers = len(self.boiler.cells)
                    network.join(cell, boiler_cell, still / layers, flowing / layers)
                network.join(cell, group, coil.thermosyphon_w_per_k / coil.cells, 0.0)
        return group

    # -- what the operator does

    def pump(self, *, on: bool) -> None:
        """Switch the pump."""
        self.pump_unit.switch(on=on)

    def lock_in(self, dose_g: float | None = None) -> None:
        """Lock in a portafilter with a fresh dose (0 for an empty basket), an empty cup under it."""
        if dose_g is not None and not 0.0 <= dose_g <= 60.0:
            raise BadInput(f"A dose of {dose_g:g} g does not fit the basket; give 0 (empty) to 60 g.")
        part = self.parameters.basket
        dose_kg = part.dose_kg if dose_g is None else dose_g / 1000.0
        spread = self._random.gauss(0.0, part.spread_share)
        spread = max(-3 * part.spread_share, min(3 * part.spread_share, spread))
        # A bed of grains half as large resists four times as much (Kozeny and Carman, from memory).
        self.basket.lock_in(dose_kg, (1.0 + spread) / self._grind_size**2)

    def knock_out(self) -> None:
        """Take the portafilter out and knock out the bed."""
        self.basket.knock_out()

    def set_grind(self, size: float) -> None:
        """Grind the beds to come to another mean particle size, 1 for the usual."""
        if not 0.5 <= size <= 2.0:
            raise BadInput(f"A grind of {size:g} times the usual size cannot be; give 0.5 to 2.")
        self._grind_size = size

    def set_setpoint(self, setpoint_degc: float) -> None:
        """Change the setpoint of the boiler that heats the brew water."""
        if not 20.0 <= setpoint_degc <= 140.0:
            raise BadInput(f"A setpoint of {setpoint_degc:g} °C cannot be; give 20 to 140 °C.")
        self._normal_setpoint_degc = setpoint_degc
        if not (self._steaming and self._steams_from_brew_boiler):
            self.boiler.controller.setpoint_degc = setpoint_degc

    def steam(self, *, on: bool) -> None:
        """Open or close the steam valve; a machine with one boiler heats up for it and down again."""
        part = self.parameters.steam
        if part is None:
            raise BadInput(f"{self.parameters.name} has no steam valve; leave steam out.")
        self._steaming = on
        if self._steams_from_brew_boiler:
            wanted = part.setpoint_degc if on else self._normal_setpoint_degc
            self.boiler.controller.setpoint_degc = wanted

    @property
    def _steams_from_brew_boiler(self) -> bool:
        return self.steam_boiler is None and self.parameters.coil is None

    # -- what can be seen

    @property
    def heater_on(self) -> bool:
        """Tell whether the brew (or only) boiler's heater is on."""
        return self.boiler.heater_on

    @property
    def true_water_degc(self) -> float:
        """Return what surrounds the basket probe's junction, °C, without lag: water, once it is there."""
        return self.basket.at_probe[0]

    @property
    def arriving_degc(self) -> float:
        """Return the temperature of the water leaving the group's screen, °C; NaN while none does."""
        return self._arriving_degc

    @property
    def setpoint_degc(self) -> float:
        """Return the brew boiler's setpoint."""
        return self._normal_setpoint_degc

    @property
    def cup_g(self) -> float:
        """Return what is in the cup, g."""
        return self.basket.cup_kg * 1000.0

    def place_degc(self, place: Place) -> float:
        """Return the temperature at a place, °C, without any probe's lag."""
        temps = self._network.temps_degc
        if place is Place.BASKET:
            return self.basket.at_probe[0]
        return temps[
            {Place.GROUP: self._group, Place.BOILER: self.boiler.metal, Place.INLET: self._inlet}[place]
        ]

    @property
    def energy(self) -> EnergyAccount:
        """Return where heat came from and went since the machine was made."""
        basket = self.basket
        return EnergyAccount(
            stored_j=self._network.stored_j - self._stored_at_start_j,
            heaters_j=sum(boiler.heated_j for boiler in self._boilers),
            supply_j=self._supply_j,
            coffee_j=basket.coffee_j,
            room_j=self._network.lost_j,
            cup_j=basket.cup_j,
            drain_j=basket.drain_j,
            steam_j=self._steam_j,
            knocked_j=basket.knocked_j,
        )

    # -- time

    def advance(self, to_s: float) -> None:
        """Let time pass until `to_s` on the machine's clock; a time already past changes nothing."""
        while (left_s := to_s - self.t_s) > 1e-9:
            longest_s = FLOWING_STEP_S if self.pump_unit.on or self._flow_memory_s > 0.0 else STILL_STEP_S
            span_s = min(left_s, max(1e-6, self.pump_unit.until_change_s()), 60.0)
            count = max(1, ceil(span_s / longest_s - 1e-6))
            # Rounded so that steps of a steady rate share one length, for which the exponentials are kept.
            step_s = round(span_s / count, 9)
            if self.pump_unit.on:
                self._flow_memory_s = 5.0
            for _ in range(count):
                self.t_s += step_s
                self._step(step_s)
                if not self.pump_unit.on and self._flow_memory_s > 0.0:
                    self._flow_memory_s -= step_s
            if span_s == left_s:
                self.t_s = to_s

    def _step(self, step_s: float) -> None:
        network, basket, pump = self._network, self.basket, self.pump_unit
        for boiler in self._boilers:
            boiler.step(step_s)
        flowing = False
        if pump.on or pump.pressure_pa > 1.0 or basket.wetness > 0.0:
            flowing = self._move_water(step_s)
        else:
            self._arriving_degc = nan
            basket.still()
        if self._steaming:
            self._draw_steam(step_s)
        network.relax(step_s, flowing=flowing)
        basket.relax(step_s, pressed=pump.on)
        self._follow(step_s)
        if self.trace is not None and pump.on:
            self.trace.append(
                TracePoint(self.t_s, self.probes_degc[0], basket.at_probe[0], self._arriving_degc)
            )

    def _move_water(self, step_s: float) -> bool:
        """Let the pump push for one step; tell whether water entered the group."""
        pump, basket = self.pump_unit, self.basket
        resistance = basket.resistance_pa_s_per_kg
        pump.step(step_s, resistance_pa_s_per_kg=resistance, space_full=basket.space_full)
        entering_kg, drawn_kg = basket.take_kg(pump.delivery_kg_per_s, pump.pressure_pa, step_s)
        water_degc = nan
        if entering_kg > 0.0:
            supply_degc = self.parameters.supply_degc
            self._supply_j += entering_kg * WATER_J_PER_KG_K * supply_degc
            water_degc = self._flash(self._network.push(self._path, entering_kg, supply_degc), entering_kg)
        self._arriving_degc = water_degc
        basket.receive(entering_kg, water_degc, drawn_kg, step_s)
        if not pump.on and pump.part.three_way_valve:
            basket.vent(step_s)
        return entering_kg > 0.0

    def _flash(self, water_degc: float, water_kg: float) -> float:
        """Return the temperature of water once what is above boiling at the group's pressure has flashed."""
        boiling_degc = saturation_degc(self.parameters.room_pa + self.pump_unit.pressure_pa)
        if water_degc <= boiling_degc:
            return water_degc
        # The little steam is taken to leave with its latent heat, the water to keep its mass.
        self._steam_j += water_kg * WATER_J_PER_KG_K * (water_degc - boiling_degc)
        return boiling_degc

    def _draw_steam(self, step_s: float) -> None:
        """Take steam from the top of the boiler that makes it; fresh water refills it at the bottom."""
        part = self.parameters.steam
        boiler = self.steam_boiler or self.boiler
        temps, capacities = self._network.temps_degc, self._network.capacities_j_per_k
        top = boiler.cells[-1]
        # Below boiling nothing comes out of the valve.
        if part is None or temps[top] <= saturation_degc(self.parameters.room_pa):
            return
        steam_kg = part.kg_per_s * step_s
        refill_j_per_k = steam_kg * WATER_J_PER_KG_K
        supply_degc = self.parameters.supply_degc
        self._supply_j += refill_j_per_k * supply_degc
        leaving_degc = self._network.push(boiler.cells, steam_kg, supply_degc)
        self._steam_j += refill_j_per_k * leaving_degc + steam_kg * VAPORISATION_J_PER_KG
        temps[top] -= steam_kg * VAPORISATION_J_PER_KG / capacities[top]

    def _follow(self, step_s: float) -> None:
        """Let every probe follow what surrounds it."""
        part = self.parameters.probe
        for number, place in enumerate(self.places):
            if place is Place.BASKET:
                around_degc, wetness = self.basket.at_probe
                tau_s = part.air_tau_s
                if wetness is not None:
                    tau_s = part.dry_tau_s + (part.wet_tau_s - part.dry_tau_s) * wetness
            else:
                around_degc, tau_s = self.place_degc(place), part.wet_tau_s
            self.probes_degc[number] += (around_degc - self.probes_degc[number]) * lag_share(step_s, tau_s)

    # -- warming up

    def _warm_up(self) -> _WarmState:
        """Let a cold machine stand switched on until it has settled, at coarse steps first."""
        for _ in range(int(_WARMING_S / _WARMING_STEP_S)):
            self._step(_WARMING_STEP_S)
        for _ in range(int(_SETTLING_S / STILL_STEP_S)):
            self._step(STILL_STEP_S)
        return _WarmState(tuple(self._network.temps_degc), tuple(boiler.memory for boiler in self._boilers))

    def _restore(self, state: _WarmState) -> None:
        self._network.temps_degc[:] = state.temps_degc
        for boiler, memory in zip(self._boilers, state.boilers, strict=True):
            boiler.memory = memory
        self.probes_degc = [self.place_degc(place) for place in self.places]


@dataclass(frozen=True, slots=True)
class _WarmState:
    """A settled machine: temperatures of all lumps and what its boilers' controllers remember."""

    temps_degc: tuple[float, ...]
    boilers: tuple[tuple[float, float, float], ...]


@lru_cache(maxsize=32)
def _warm_state(machine: parameters.Machine) -> _WarmState:
    """Return a machine that has been on for hours; worked out once for equal parameters."""
    return VirtualMachine(machine, warm=False)._warm_up()  # noqa: SLF001  the same module
