"""The pump at work: how delivery and pressure build up, pre-infusion, and the valve that lets go."""

from __future__ import annotations

from benchtemp.readings.virtual import parameters
from benchtemp.readings.virtual.parameters import PumpKind
from benchtemp.readings.virtual.thermal import lag_share

_VENT_TAU_S = 0.4
"""How fast a three-way valve lets the pressure go (estimate)."""
_SEEP_TAU_S = 1.0
"""How fast pressure goes through the bed alone, without such a valve (estimate)."""


class Pump:
    """The pump.

    Attributes:
        on: Whether the operator's switch is on.
        running: Whether it turns; it rests in the pause of a pre-infusion.
        delivery_kg_per_s: What it would deliver against no resistance at this moment.
        pressure_pa: Gauge pressure above the bed.
    """

    def __init__(self, part: parameters.Pump) -> None:
        self.part = part
        self.on = False
        self.running = False
        self.delivery_kg_per_s = 0.0
        self.pressure_pa = 0.0
        self._on_for_s = 0.0

    def switch(self, *, on: bool) -> None:
        """Start or stop; starting begins the pre-infusion anew."""
        if on and not self.on:
            self._on_for_s = 0.0
        self.on = on

    def until_change_s(self) -> float:
        """Return how long until the pre-infusion's next change, infinite when none is coming."""
        part = self.part
        if not self.on or part.preinfusion_s <= 0.0:
            return float("inf")
        for change_s in (part.preinfusion_s, part.preinfusion_s + part.pause_s):
            if change_s - self._on_for_s > 1e-9:
                return change_s - self._on_for_s
        return float("inf")

    def step(self, step_s: float, *, resistance_pa_s_per_kg: float, space_full: bool) -> None:
        """Let delivery and pressure follow for one step.

        Args:
            step_s: Must not reach past `until_change_s`.
            resistance_pa_s_per_kg: Of the bed; 0 when nothing holds the water back.
            space_full: Whether the space above the bed is full, so that pressure can grow.
        """
        part = self.part
        share, limit_pa, self.running = self._phase()
        self._on_for_s += step_s
        wanted = share * part.free_flow_kg_per_s if self.running else 0.0
        # The delivery builds up slowly and stops at once: valves close, nothing coasts.
        rise = lag_share(step_s, part.start_tau_s)
        self.delivery_kg_per_s = (
            min(wanted, self.delivery_kg_per_s + (wanted - self.delivery_kg_per_s) * rise) if wanted else 0.0
        )
        if not self.running or resistance_pa_s_per_kg <= 0.0:
            vented = not self.on and part.three_way_valve
            tau_s = _VENT_TAU_S if vented or resistance_pa_s_per_kg <= 0.0 else _SEEP_TAU_S
            self.pressure_pa -= self.pressure_pa * lag_share(step_s, tau_s)
        elif space_full:
            held_pa = min(limit_pa, self._deliverable_pa(resistance_pa_s_per_kg, share))
            self.pressure_pa += (held_pa - self.pressure_pa) * lag_share(step_s, part.pressure_tau_s)

    def _phase(self) -> tuple[float, float, bool]:
        """Return share of delivery, pressure limit and whether the pump turns now."""
        part = self.part
        if not self.on:
            return 0.0, 0.0, False
        if self._on_for_s < part.preinfusion_s - 1e-9:
            return part.preinfusion_share, part.preinfusion_pa, True
        if part.preinfusion_s > 0.0 and self._on_for_s < part.preinfusion_s + part.pause_s - 1e-9:
            return 0.0, 0.0, False
        return 1.0, part.pressure_pa, True

    def _deliverable_pa(self, resistance_pa_s_per_kg: float, share: float) -> float:
        """Return the pressure at which what is delivered equals what the bed lets through."""
        free = share * self.part.free_flow_kg_per_s
        if self.part.kind is PumpKind.ROTARY:
            return free * resistance_pa_s_per_kg
        # Delivery falls in a straight line from free at 0 to nothing at the stall pressure.
        return self.part.stall_pa / (1.0 + self.part.stall_pa / (free * resistance_pa_s_per_kg))
