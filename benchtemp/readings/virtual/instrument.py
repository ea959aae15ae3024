"""What an interface and a scale report of a virtual machine: noise, steps, an offset, sometimes a spike."""

from __future__ import annotations

import random
from math import nan

from benchtemp.readings.reading import Reading
from benchtemp.readings.virtual.machine import VirtualMachine
from benchtemp.readings.virtual.parameters import Probe, Scale
from benchtemp.readings.virtual.thermal import lag_share

_DECIMALS = 6


def quantised(value: float, quantum: float) -> float:
    """Return the nearest multiple of a step, free of binary leftovers; without a step six decimals.

    >>> quantised(92.34, 0.25)
    92.25
    """
    return round(round(value / quantum) * quantum if quantum > 0.0 else value, _DECIMALS)


class Instrument:
    """Reads a machine's probes and the scale under its cup.

    Attributes:
        machine: What is read.
        channels: `("T1", …)`, one per probe of the machine.
    """

    def __init__(
        self, machine: VirtualMachine, *, seed: int, probe: Probe | None = None, scale: Scale | None = None
    ) -> None:
        """Connect.

        Args:
            machine: What is read.
            seed: Of the noise; each channel has a sequence of its own.
            probe: Noise, step and offset to report with; None for the machine's own.
            scale: None without one.
        """
        self.machine = machine
        self.channels = tuple(f"T{number}" for number in range(1, len(machine.places) + 1))
        self._probe = probe or machine.parameters.probe
        self._scale = scale
        self._noises = [random.Random(f"noise {seed} {name}") for name in self.channels]  # noqa: S311  no secret
        self._scale_noise = random.Random(f"noise {seed} scale")  # noqa: S311  no secret depends on it
        self._scale_g = 0.0
        self._tare_g = 0.0
        self._read_at_s = machine.t_s
        self._spikes_k: dict[int, float] = {}

    def spike(self, delta_k: float, channel: int = 0) -> None:
        """Let one channel's next value be far off."""
        self._spikes_k[channel] = delta_k

    def tare(self) -> None:
        """Call what is on the scale now zero."""
        self._tare_g = self._scale_g

    def renew_cup(self) -> None:
        """Put an empty cup on the scale and set it to zero."""
        self._scale_g = self._tare_g = self.machine.cup_g

    def reading(self, t_s: float) -> Reading:
        """Return what is reported at the machine's present instant, stamped `t_s`."""
        part = self._probe
        temps = []
        for number, (degc, noise) in enumerate(zip(self.machine.probes_degc, self._noises, strict=True)):
            spike_k = self._spikes_k.pop(number, 0.0) if self._spikes_k else 0.0
            error_k = part.offset_k + spike_k + noise.gauss(0.0, part.noise_k)
            temps.append(quantised(degc + error_k, part.quantum_k))
        return Reading(t_s, tuple(temps), self._weight_g())

    def _weight_g(self) -> float:
        if self._scale is None:
            return nan
        part = self._scale
        step_s = self.machine.t_s - self._read_at_s
        self._read_at_s = self.machine.t_s
        self._scale_g += (self.machine.cup_g - self._scale_g) * lag_share(step_s, part.tau_s)
        shown_g = self._scale_g - self._tare_g + self._scale_noise.gauss(0.0, part.noise_g)
        return quantised(shown_g, part.quantum_g) + 0.0
