"""Lumps that hold heat and the ways heat takes between them.

Every exchange over a step is the exact solution for the pair it joins, done one pair after the other. So no
step, however long, can overshoot; what one lump loses another gains to the last bit of rounding; and short
steps converge to the joint solution with an error proportional to the step.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, expm1, log

WATER_J_PER_KG_K = 4190.0
"""Specific heat of water; 4180 to 4220 between 20 and 100 °C at 0.1 MPa (CRC Handbook, from memory)."""

VAPORISATION_J_PER_KG = 2_256_500.0
"""Latent heat of water at 101.325 kPa (IAPWS R6-95)."""

ATMOSPHERE_PA = 101_325.0
"""Standard atmosphere (ISO 2533)."""

_BOILING_K = 373.124
"""Water at 101.325 kPa boils at 99.974 °C (IAPWS R7-97)."""

_CLAPEYRON_K = _BOILING_K**2 / (ATMOSPHERE_PA * 0.2765e-3)
"""Fits the slope there, 0.2765 K/kPa (derivative of IAPWS R7-97 region 4)."""


def saturation_degc(pressure_pa: float) -> float:
    """Return the temperature above which water flashes to steam at an absolute pressure.

    Clausius and Clapeyron with a constant fitted at the normal boiling point: within 0.1 K of IAPWS R7-97
    from 60 to 110 kPa, within 3 K at 1 MPa. Enough to decide whether overheated water flashes; where a
    boiling temperature is a reference for a probe, another function is used.
    """
    return 1.0 / (1.0 / _BOILING_K - log(pressure_pa / ATMOSPHERE_PA) / _CLAPEYRON_K) - 273.15


class Network:
    """Lumps of uniform temperature, links between them, losses to the room, and water pushed through.

    Attributes:
        temps_degc: One per lump.
        capacities_j_per_k: One per lump; 0 for a lump that is empty at the moment.
        lost_j: Heat given to the room so far.
    """

    def __init__(self, room_degc: float) -> None:
        self.room_degc = room_degc
        self.temps_degc: list[float] = []
        self.capacities_j_per_k: list[float] = []
        self.lost_j = 0.0
        self._links: list[tuple[int, int, float, float]] = []
        self._stacks: list[tuple[int, int, float, float]] = []
        self._losses: list[tuple[int, float]] = []
        self._factors: dict[tuple[float, bool], _Factors] = {}

    def add(self, capacity_j_per_k: float, temp_degc: float) -> int:
        """Add a lump and return its number."""
        self.capacities_j_per_k.append(capacity_j_per_k)
        self.temps_degc.append(temp_degc)
        return len(self.temps_degc) - 1

    def join(self, one: int, other: int, still_w_per_k: float, flowing_w_per_k: float | None = None) -> None:
        """Join two lumps of constant capacity; the conductance may be another one while water flows."""
        flowing = still_w_per_k if flowing_w_per_k is None else flowing_w_per_k
        self._links.append((one, other, still_w_per_k, flowing))

    def stack(self, lower: int, upper: int, stable_w_per_k: float, rising_w_per_k: float) -> None:
        """Join two layers of water that mix freely only when the lower one is the warmer."""
        self._stacks.append((lower, upper, stable_w_per_k, rising_w_per_k))

    def lose(self, lump: int, w_per_k: float) -> None:
        """Let a lump of constant capacity lose heat to the room."""
        self._losses.append((lump, w_per_k))

    @property
    def stored_j(self) -> float:
        """Return the heat held by all lumps, counted from 0 °C."""
        return sum(c * t for c, t in zip(self.capacities_j_per_k, self.temps_degc, strict=True))

    def relax(self, step_s: float, *, flowing: bool) -> None:
        """Let heat pass through all fixed links, stacks and losses for one step."""
        factors = self._factors.get((step_s, flowing))
        if factors is None:
            factors = self._prepare(step_s, flowing=flowing)
        temps = self.temps_degc
        for one, other, share_one, share_other in factors.links:
            difference = temps[one] - temps[other]
            temps[one] -= difference * share_one
            temps[other] += difference * share_other
        for lower, upper, stable, rising in factors.stacks:
            difference = temps[lower] - temps[upper]
            shares = rising if difference > 0.0 else stable
            temps[lower] -= difference * shares[0]
            temps[upper] += difference * shares[1]
        for lump, share, capacity in factors.losses:
            fall = (temps[lump] - self.room_degc) * share
            temps[lump] -= fall
            self.lost_j += fall * capacity

    def exchange(self, one: int, other: int, w_per_k: float, step_s: float) -> None:
        """Let heat pass between two lumps whose capacities may change; an empty lump takes no part."""
        c_one, c_other = self.capacities_j_per_k[one], self.capacities_j_per_k[other]
        if c_one <= 0.0 or c_other <= 0.0:
            return
        share_one, share_other = _shares(c_one, c_other, w_per_k, step_s)
        difference = self.temps_degc[one] - self.temps_degc[other]
        self.temps_degc[one] -= difference * share_one
        self.temps_degc[other] += difference * share_other

    def cool(self, lump: int, w_per_k: float, step_s: float) -> float:
        """Let a lump whose capacity may change lose heat to the room; return what it lost in J."""
        capacity = self.capacities_j_per_k[lump]
        if capacity <= 0.0:
            return 0.0
        fall = (self.temps_degc[lump] - self.room_degc) * -expm1(-w_per_k * step_s / capacity)
        self.temps_degc[lump] -= fall
        self.lost_j += fall * capacity
        return fall * capacity

    def heat(self, lump: int, heat_j: float) -> None:
        """Put heat into a lump, or take it out."""
        self.temps_degc[lump] += heat_j / self.capacities_j_per_k[lump]

    def pour(self, lump: int, capacity_j_per_k: float, temp_degc: float) -> None:
        """Add matter of a temperature to a lump and mix."""
        if capacity_j_per_k <= 0.0:
            return
        before = self.capacities_j_per_k[lump]
        total = before + capacity_j_per_k
        self.temps_degc[lump] += (temp_degc - self.temps_degc[lump]) * capacity_j_per_k / total
        self.capacities_j_per_k[lump] = total

    def drain(self, lump: int, capacity_j_per_k: float) -> float:
        """Take matter out of a lump at its own temperature; return the heat that left with it in J."""
        self.capacities_j_per_k[lump] -= capacity_j_per_k
        return capacity_j_per_k * self.temps_degc[lump]

    def push(self, path: Sequence[int], water_kg: float, in_degc: float) -> float:
        """Push water through full, well-mixed lumps in order; return the temperature at which it leaves.

        The water of a step is exchanged with each lump as a steady stream through it, so the lump's
        temperature follows the exact exponential and the stream leaves at its mean over the step.
        """
        pushed_j_per_k = water_kg * WATER_J_PER_KG_K
        temps, capacities = self.temps_degc, self.capacities_j_per_k
        for lump in path:
            rise = (in_degc - temps[lump]) * -expm1(-pushed_j_per_k / capacities[lump])
            temps[lump] += rise
            in_degc -= rise * capacities[lump] / pushed_j_per_k
        return in_degc

    def _prepare(self, step_s: float, *, flowing: bool) -> _Factors:
        capacities = self.capacities_j_per_k
        links = [
            (a, b, *_shares(capacities[a], capacities[b], fast if flowing else still, step_s))
            for a, b, still, fast in self._links
        ]
        stacks = [
            (
                low,
                up,
                _shares(capacities[low], capacities[up], stable, step_s),
                _shares(capacities[low], capacities[up], rising, step_s),
            )
            for low, up, stable, rising in self._stacks
        ]
        losses = [
            (lump, -expm1(-w_per_k * step_s / capacities[lump]), capacities[lump])
            for lump, w_per_k in self._losses
        ]
        if len(self._factors) > _FACTORS_KEPT:
            self._factors.clear()
        prepared = self._factors[step_s, flowing] = _Factors(links, stacks, losses)
        return prepared


_FACTORS_KEPT = 64


class _Factors:
    """What a step of one length does to each link: worked out once, used for every such step."""

    __slots__ = ("links", "losses", "stacks")

    def __init__(
        self,
        links: list[tuple[int, int, float, float]],
        stacks: list[tuple[int, int, tuple[float, float], tuple[float, float]]],
        losses: list[tuple[int, float, float]],
    ) -> None:
        self.links = links
        self.stacks = stacks
        self.losses = losses


def _shares(c_one: float, c_other: float, w_per_k: float, step_s: float) -> tuple[float, float]:
    """Return the shares of their difference by which two lumps move towards each other in a step."""
    joint = c_one * c_other / (c_one + c_other)
    moved_j_per_k = joint * -expm1(-w_per_k * step_s / joint)
    return moved_j_per_k / c_one, moved_j_per_k / c_other


def lag_share(step_s: float, tau_s: float) -> float:
    """Return the share of the way a first-order lag goes towards its input in a step."""
    return 1.0 - exp(-step_s / tau_s) if tau_s > 0.0 else 1.0
