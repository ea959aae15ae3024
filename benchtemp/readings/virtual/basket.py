"""Portafilter, basket and bed: how water fills the space above the bed, soaks it, and runs into the cup."""

from __future__ import annotations

from itertools import pairwise
from math import expm1

from benchtemp.readings.virtual import parameters
from benchtemp.readings.virtual.parameters import BRASS_J_PER_KG_K, COFFEE_J_PER_KG_K, STEEL_J_PER_KG_K
from benchtemp.readings.virtual.thermal import WATER_J_PER_KG_K, Network, lag_share

_CAPILLARY_PA = 2.0e4
"""What draws water into a dry bed without any pump pressure (estimate)."""
_EROSION_KG = 0.02
"""Water after which most of the fall in resistance has happened (estimate)."""
_VENT_TAU_S = 0.5
"""How fast the space above the bed empties through a three-way valve (estimate)."""
_REFERENCE_DOSE_KG = 0.018
_RUNNING_KG_PER_S = 1e-4
"""Below this, water in an empty basket does not count as running."""


class Basket:
    """Portafilter and basket, in the group or out of it, with a bed of coffee or empty.

    Attributes:
        locked: Whether it is locked into the group.
        dose_kg: Dry coffee in it, 0 when empty.
        cup_kg: What has dripped into the cup since the last tare.
        head: Lump of the water above the bed.
        layers: Lumps of the bed, top first.
        cup_j, drain_j, knocked_j, coffee_j: Heat that left with the drink, down the drain and with spent
            beds, and that came in with dry coffee, counted from 0 °C.
    """

    def __init__(self, part: parameters.Basket, network: Network, group: int, start_degc: float) -> None:
        self.part = part
        self.network = network
        self.locked = True
        self.dose_kg = 0.0
        self.cup_kg = 0.0
        self.cup_j = self.drain_j = self.knocked_j = self.coffee_j = 0.0
        self.basket = network.add(part.basket_kg * STEEL_J_PER_KG_K, start_degc)
        self.portafilter = network.add(part.portafilter_kg * BRASS_J_PER_KG_K, start_degc)
        network.join(self.basket, self.portafilter, part.rim_w_per_k)
        self.head = network.add(0.0, start_degc)
        self.layers = [network.add(0.0, start_degc) for _ in part.layers]
        self._group = group
        self._water_kg = [0.0] * len(part.layers)
        self._head_kg = 0.0
        self._resistance_factor = 1.0
        self._passed_kg = 0.0
        self._spout_kg = 0.0
        self._stream_kg_per_s = 0.0
        self._stream_degc = start_degc

    # -- handling

    def lock_in(self, dose_kg: float, resistance_factor: float = 1.0) -> None:
        """Knock out what is there, fill with dry coffee at room temperature and lock in."""
        self.knock_out()
        self.locked = True
        self.dose_kg = dose_kg
        self.cup_kg = self._spout_kg = 0.0
        self._resistance_factor = resistance_factor
        self._passed_kg = 0.0
        for lump, share in zip(self.layers, self.part.layers, strict=True):
            capacity = dose_kg * share * COFFEE_J_PER_KG_K
            self.network.pour(lump, capacity, self.network.room_degc)
            self.coffee_j += capacity * self.network.room_degc

    def knock_out(self) -> None:
        """Take the portafilter out of the group and empty it."""
        network = self.network
        self.knocked_j += network.drain(self.head, network.capacities_j_per_k[self.head])
        for lump in self.layers:
            self.knocked_j += network.drain(lump, network.capacities_j_per_k[lump])
            # What is poured next into an empty lump sets its temperature by itself; nothing is left behind.
            network.capacities_j_per_k[lump] = 0.0
        network.capacities_j_per_k[self.head] = 0.0
        self._water_kg = [0.0] * len(self.layers)
        self._head_kg = 0.0
        self.dose_kg = 0.0
        self.locked = False

    # -- water

    @property
    def resistance_pa_s_per_kg(self) -> float:
        """Return the bed's resistance now, 0 where nothing holds water back."""
        if not self.locked or self.dose_kg <= 0.0:
            return 0.0
        part = self.part
        soaked = sum(self._water_kg) / (self.dose_kg * part.soak_kg_per_kg)
        wetness = part.dry_share + (1.0 - part.dry_share) * min(1.0, soaked)
        erosion = 1.0 + part.erosion_share * expm1(-self._passed_kg / _EROSION_KG)
        size = self.dose_kg / _REFERENCE_DOSE_KG * self._resistance_factor
        return part.resistance_pa_s_per_kg * size * wetness * erosion

    @property
    def space_full(self) -> bool:
        """Tell whether the space above the bed is full."""
        return self._head_kg >= self.part.headspace_kg - 1e-9

    def take_kg(self, delivery_kg_per_s: float, pressure_pa: float, step_s: float) -> tuple[float, float]:
        """Return what enters the group in a step, and what of the water above the bed goes into it, in kg."""
        offered = delivery_kg_per_s * step_s
        resistance = self.resistance_pa_s_per_kg
        if resistance <= 0.0:
            return offered, 0.0
        drawn = (pressure_pa + (_CAPILLARY_PA if self._head_kg > 0.0 else 0.0)) / resistance * step_s
        entering = min(offered, self.part.headspace_kg - self._head_kg + drawn)
        return entering, min(drawn, self._head_kg + entering)

    def receive(self, entering_kg: float, water_degc: float, drawn_kg: float, step_s: float) -> None:
        """Take water from the group and let it go its way."""
        network = self.network
        self._stream_kg_per_s = entering_kg / step_s
        if entering_kg > 0.0:
            self._stream_degc = water_degc
        if entering_kg <= 0.0 and drawn_kg <= 0.0:
            return
        if not self.locked:
            self.drain_j += entering_kg * WATER_J_PER_KG_K * water_degc
            return
        if self.dose_kg <= 0.0:
            left_degc = network.push((self.basket,), entering_kg, water_degc)
            self.drain_j += entering_kg * WATER_J_PER_KG_K * left_degc
            return
        network.pour(self.head, entering_kg * WATER_J_PER_KG_K, water_degc)
        self._head_kg += entering_kg
        if drawn_kg > 0.0:
            drawn_kg = min(drawn_kg, self._head_kg)
            degc = network.temps_degc[self.head]
            self._set_head(self._head_kg - drawn_kg)
            self._soak(drawn_kg, degc)

    def still(self) -> None:
        """Note that no water moves."""
        self._stream_kg_per_s = 0.0

    def vent(self, step_s: float) -> None:
        """Empty the space above the bed through the valve for one step."""
        if self._head_kg > 0.0:
            left = self._head_kg * (1.0 - lag_share(step_s, _VENT_TAU_S))
            left = left if left > 1e-6 else 0.0
            self.drain_j += (self._head_kg - left) * WATER_J_PER_KG_K * self.network.temps_degc[self.head]
            self._set_head(left)

    def _set_head(self, kg: float) -> None:
        self._head_kg = kg
        self.network.capacities_j_per_k[self.head] = kg * WATER_J_PER_KG_K

    def _soak(self, water_kg: float, degc: float) -> None:
        """Let water run down through the bed: each layer first fills, then passes on what comes."""
        network, part = self.network, self.part
        for number, (lump, share) in enumerate(zip(self.layers, part.layers, strict=True)):
            held = min(water_kg, self.dose_kg * share * part.soak_kg_per_kg - self._water_kg[number])
            if held > 0.0:
                network.pour(lump, held * WATER_J_PER_KG_K, degc)
                self._water_kg[number] += held
                water_kg -= held
            if water_kg <= 1e-12:
                return
            degc = network.push((lump,), water_kg, degc)
        self._passed_kg += water_kg
        self._spout_kg += water_kg
        self.cup_j += water_kg * WATER_J_PER_KG_K * degc

    # -- heat

    def relax(self, step_s: float, *, pressed: bool) -> None:
        """Exchange heat within the basket, with the group and with the room for one step."""
        network, part = self.network, self.part
        if self.locked:
            network.exchange(self.portafilter, self._group, part.seat_w_per_k, step_s)
            network.cool(self.portafilter, part.loss_w_per_k, step_s)
        else:
            network.cool(self.portafilter, part.loss_w_per_k + part.loss_out_w_per_k, step_s)
        if self.dose_kg > 0.0:
            wet = self.wetness
            contact = part.dry_factor + (1.0 - part.dry_factor) * wet
            for lump, share in zip(self.layers, part.layers, strict=True):
                network.exchange(lump, self.basket, part.wall_w_per_k * share * contact, step_s)
            for upper, lower in pairwise(self.layers):
                network.exchange(upper, lower, part.layer_w_per_k * contact, step_s)
            top = self.layers[0]
            if self._head_kg > 0.0:
                network.exchange(self.head, self._group, part.screen_w_per_k, step_s)
            else:
                network.exchange(top, self._group, part.screen_w_per_k * contact, step_s)
            if wet > 0.0 and not pressed:
                network.cool(top, part.drying_w_per_k * wet, step_s)
        released = self._spout_kg * lag_share(step_s, part.spout_tau_s)
        self._spout_kg -= released
        self.cup_kg += released

    @property
    def poured_kg(self) -> float:
        """Return what has left the bed since it was locked in: in the cup, or on its way there."""
        return self.cup_kg + self._spout_kg

    @property
    def wetness(self) -> float:
        """Return how far the bed's top layer has soaked, 0 to 1."""
        if self.dose_kg <= 0.0:
            return 0.0
        return min(1.0, self._water_kg[0] / (self.dose_kg * self.part.layers[0] * self.part.soak_kg_per_kg))

    @property
    def at_probe(self) -> tuple[float, float | None]:
        """Return °C around the probe and how well it is wetted, 0 to 1; None in nothing but air."""
        temps = self.network.temps_degc
        if self.dose_kg > 0.0:
            return temps[self.layers[0]], self.wetness
        if not self.locked:
            # In the open the bare junction feels the air as much as the hot metal around it.
            return (temps[self.basket] + self.network.room_degc) / 2.0, None
        if self._stream_kg_per_s > _RUNNING_KG_PER_S:
            return self._stream_degc, 1.0
        return temps[self.basket], None
