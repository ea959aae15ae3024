"""What lies under a case's seal: which fault, how large, and the virtual machine that has it."""

from __future__ import annotations

import random

import msgspec

from benchtemp.readings.virtual.parameters import Basket, Boiler, Machine, Probe, Pump, SensorSite, Thermostat
from benchtemp.teaching.cases.fault import Fault

BUILD = "single boiler, electronic thermostat, rotary pump"
SOUND_OFFSET_K = 2.5
"""How far the boiler's setpoint lies above the brew temperature when all is well, found on the model."""
DOSE_G = 18.0
YIELD_G = 36.0
BED_SPREAD_SHARE = 0.03
"""Standard deviation of how much one bed resists beside the next."""

OFFSETS_K = (0.7, 2.2)
"""Sizes of a wrong offset, up or down."""
PROBE_LOW_K = -0.8
PROBE_SPREAD_K = 0.05
"""Standard deviation of what a sound probe reads beside the truth."""
WORN_BELOW_K, WORN_ABOVE_K = (2.8, 3.6), (8.2, 10.0)
"""How far below and above its setpoint a worn thermostat switches."""
COLD_FOR_S = (300.0, 560.0)
"""How long a cold machine has been on when it is first seen."""
SLOW_KG_PER_S = (0.0012, 0.0015)
"""What a narrowed jet or a tired pump lets through at most."""
FINE_SHARE, COARSE_SHARE = (1.5, 1.9), (0.5, 0.65)
"""How much a bed ground too fine or too coarse resists beside a right one."""

_NAMES = (
    "Tarnbeck Corner",
    "Wexholme Nine",
    "Osterby Lane",
    "Grundale Middle",
    "Fennimore Row",
    "Hollowmere Left",
    "Pellawick Door",
    "Marrowsea Back",
)
_SOUND_BAND_K = 0.3


class Sealed(msgspec.Struct, frozen=True, kw_only=True):
    """What a case really is.

    Attributes:
        fault: The one fault, or none.
        size_k: Its size in K where it has one; None otherwise.
        machine: The virtual machine with the fault in it; its probe's own error is not.
        probe_error_k: What the probe reads beside the truth.
        warm: Whether the machine was on for hours; otherwise only for `standing_s`.
        standing_s: How long it stands before a sitting begins.
        display_degc: What its display says it brews at.
    """

    fault: Fault
    size_k: float | None
    machine: Machine
    probe_error_k: float
    warm: bool
    standing_s: float
    display_degc: float

    @property
    def display_above_k(self) -> float:
        """Return by how much the display shows more than the boiler's setpoint: less, as a rule."""
        return self.display_degc - self.machine.boiler.control.setpoint_degc


def machine_of_build(
    *,
    name: str = "",
    display_degc: float = 93.0,
    offset_k: float = 0.0,
    band_k: tuple[float, float] = (_SOUND_BAND_K, _SOUND_BAND_K),
    free_flow_kg_per_s: float | None = None,
    resistance_share: float = 1.0,
    spread_share: float = BED_SPREAD_SHARE,
) -> Machine:
    """Return a machine of the cases' build; sound but for what is given.

    Args:
        name: Its name.
        display_degc: What its display says it brews at.
        offset_k: How far it brews above that.
        band_k: How far below and above the setpoint its thermostat switches.
        free_flow_kg_per_s: What its pump delivers against nothing, None for all a sound one does.
        resistance_share: How much the beds resist beside right ones.
        spread_share: Standard deviation of that from bed to bed.
    """
    usual = Basket()
    return Machine(
        name=name,
        kind=BUILD,
        boiler=Boiler(
            control=Thermostat(
                setpoint_degc=round(display_degc + SOUND_OFFSET_K + offset_k, 2),
                below_k=band_k[0],
                above_k=band_k[1],
            ),
            water_kg=0.5,
            cells=3,
            metal_kg=1.8,
            wetted_w_per_k=160.0,
            wetted_flowing_w_per_k=220.0,
            sensor=SensorSite.METAL,
            sensor_tau_s=1.5,
        ),
        pump=Pump() if free_flow_kg_per_s is None else Pump(free_flow_kg_per_s=free_flow_kg_per_s),
        basket=Basket(
            spread_share=spread_share,
            resistance_pa_s_per_kg=usual.resistance_pa_s_per_kg * resistance_share,
        ),
        probe=Probe(noise_k=0.05, quantum_k=0.1),
    )


def unsealed(code: int) -> Sealed:
    """Return what a case is; equal for equal numbers."""
    chance = random.Random(f"case {code}")  # noqa: S311  no examination secrecy is claimed
    fault = chance.choice(tuple(Fault))
    name = chance.choice(_NAMES)
    display_degc = round(chance.uniform(91.5, 94.5) * 2.0) / 2.0
    # Everything is drawn for every case, so that no draw depends on the fault.
    offset_k = chance.choice((-1.0, 1.0)) * round(chance.uniform(*OFFSETS_K), 1)
    worn_k = round(chance.uniform(*WORN_BELOW_K), 1), round(chance.uniform(*WORN_ABOVE_K), 1)
    standing_s = float(round(chance.uniform(*COLD_FOR_S)))
    slow_kg_per_s = round(chance.uniform(*SLOW_KG_PER_S), 5)
    error_k = round(chance.gauss(0.0, PROBE_SPREAD_K), 3)
    ground_share = round(chance.uniform(*chance.choice((FINE_SHARE, COARSE_SHARE))), 2)
    return Sealed(
        fault=fault,
        size_k={Fault.OFFSET: offset_k, Fault.PROBE_LOW: PROBE_LOW_K}.get(fault),
        machine=machine_of_build(
            name=name,
            display_degc=display_degc,
            offset_k=offset_k if fault is Fault.OFFSET else 0.0,
            band_k=worn_k if fault is Fault.THERMOSTAT else (_SOUND_BAND_K, _SOUND_BAND_K),
            free_flow_kg_per_s=slow_kg_per_s if fault is Fault.SLOW_FLOW else None,
            resistance_share=ground_share if fault is Fault.GRIND else 1.0,
        ),
        probe_error_k=error_k + (PROBE_LOW_K if fault is Fault.PROBE_LOW else 0.0),
        warm=fault is not Fault.COLD_GROUP,
        standing_s=standing_s,
        display_degc=display_degc,
    )
