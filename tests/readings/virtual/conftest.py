"""Shots on virtual machines, made by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from benchtemp.readings.virtual import TracePoint, VirtualMachine


@dataclass
class Pulled:
    """A shot: seconds since pump on, junction and water without noise, and what came of it."""

    t_s: np.ndarray
    probe_degc: np.ndarray
    water_degc: np.ndarray
    arriving_degc: np.ndarray
    start_degc: float
    cup_g: float

    def at(self, t_s: float) -> float:
        """Return the junction's temperature so long after pump on."""
        return float(np.interp(t_s, self.t_s, self.probe_degc))

    @property
    def settled_degc(self) -> float:
        """Return the junction's mean from 15 s on."""
        return float(self.probe_degc[self.t_s > 15.0].mean())


def pull_shot(
    machine: VirtualMachine, *, seconds: float = 25.0, locked_in_s: float = 12.0, out_s: float = 8.0
) -> Pulled:
    """Prepare and pull one shot; the machine stands right after pump off when this returns."""
    machine.knock_out()
    machine.advance(machine.t_s + out_s)
    machine.lock_in(18.0)
    machine.advance(machine.t_s + locked_in_s)
    start_degc, start_s = machine.probes_degc[0], machine.t_s
    machine.trace = trace = list[TracePoint]()
    machine.pump(on=True)
    machine.advance(start_s + seconds)
    machine.pump(on=False)
    machine.trace = None
    t_s, probe, water, arriving = (np.array(column) for column in zip(*trace, strict=True))
    return Pulled(t_s - start_s, probe, water, arriving, start_degc, machine.cup_g)


@pytest.fixture
def pull() -> Callable[..., Pulled]:
    return pull_shot
