"""What lies under a case's seal: which fault, how large, and the virtual machine that has it."""

from __future__ import annotations

import random

import msgspec

from benchtemp.readings.virtual.parameters import Basket, Boiler, Machine, Probe, Pump, SensorSite, Thermostat
from benchtemp.teaching.cases.fault import Fault

BUILD = "single boiler, electronic thermostat, rotary pump"
SOUND_OFFSET_K = 2.5
"""How far the boiler's setpoint lies above the brew temperature when all is well, found on the model."""
PROBE_LOW_K = -0.8
DOSE_G = 18.0
YIELD_G = 36.0

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
_PROBE_SPREAD_K = 0.05


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


def unsealed(code: int) -> Sealed:
    """Return what a case is; equal for equal numbers."""
    chance = random.Random(f"case {code}")  # noqa: S311  no examination secrecy is claimed
    fault = chance.choice(tuple(Fault))
    name = chance.choice(_NAMES)
    display_degc = round(chance.uniform(91.5, 94.5) * 2.0) / 2.0
    # Everything is drawn for every case, so that no draw depends on the fault.
    offset_k = chance.choice((-1.0, 1.0)) * round(chance.uniform(0.7, 2.2), 1)
    below_k, above_k = round(chance.uniform(2.8, 3.6), 1), round(chance.uniform(8.2, 10.0), 1)
    cold_s = round(chance.uniform(300.0, 560.0))
    flow_kg_per_s = round(chance.uniform(0.0012, 0.0015), 5)
    error_k = round(chance.gauss(0.0, _PROBE_SPREAD_K), 3)
    wrong_k = offset_k if fault is Fault.OFFSET else 0.0
    worn = fault is Fault.THERMOSTAT
    size_k = {Fault.OFFSET: offset_k, Fault.PROBE_LOW: PROBE_LOW_K}.get(fault)
    machine = Machine(
        name=name,
        kind=BUILD,
        boiler=Boiler(
            control=Thermostat(
                setpoint_degc=round(display_degc + SOUND_OFFSET_K + wrong_k, 2),
                below_k=below_k if worn else _SOUND_BAND_K,
                above_k=above_k if worn else _SOUND_BAND_K,
            ),
            water_kg=0.5,
            cells=3,
            metal_kg=1.8,
            wetted_w_per_k=160.0,
            wetted_flowing_w_per_k=220.0,
            sensor=SensorSite.METAL,
            sensor_tau_s=1.5,
        ),
        pump=Pump(free_flow_kg_per_s=flow_kg_per_s) if fault is Fault.SLOW_FLOW else Pump(),
        basket=Basket(spread_share=0.03),
        probe=Probe(noise_k=0.05, quantum_k=0.1),
    )
    return Sealed(
        fault=fault,
        size_k=size_k,
        machine=machine,
        probe_error_k=error_k + (PROBE_LOW_K if fault is Fault.PROBE_LOW else 0.0),
        warm=fault is not Fault.COLD_GROUP,
        standing_s=float(cold_s),
        display_degc=display_degc,
    )
