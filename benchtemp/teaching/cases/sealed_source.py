"""A case's machine read live: nothing it says of itself gives the fault away."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from math import isfinite

from msgspec.structs import replace

from benchtemp.readings.reading import Item, Notice, NoticeKind, Reading
from benchtemp.readings.virtual import Scale, VirtualSource
from benchtemp.readings.virtual.instrument import quantised
from benchtemp.teaching.cases.sealed import DOSE_G, Sealed

_LOCKED_IN_S = 20.0
"""So long before the sitting begins a fresh basket is locked in."""


class CaseSource:
    """The machine of a case as a source with a pump and a scale.

    It has been standing, ready, as its owner left it, when it is opened.

    Attributes:
        name: The machine's name.
        channels: `("T1",)`.
        has_weight: A scale stands under the cup.
        details: Facts for a header.
    """

    has_weight = True

    def __init__(
        self,
        sealed: Sealed,
        details: dict[str, object],
        *,
        seed: int,
        rate_hz: float,
        speed: float = 1.0,
        clock: Callable[[], float] = time.perf_counter,
    ) -> None:
        """Describe it; nothing runs before `open`.

        Args:
            sealed: What it is.
            details: What it says of itself.
            seed: Of beds and noise.
            rate_hz: Readings per second of its clock.
            speed: How fast its clock runs, 1 for real time.
            clock: Seconds from anywhere, for instance a test's own.
        """
        probe = sealed.machine.probe
        self.name = sealed.machine.name
        self.channels = ("T1",)
        self.details = details
        self._error_k = sealed.probe_error_k
        self._quantum_k = probe.quantum_k
        self._standing_s = sealed.standing_s
        self._speed = speed
        self._clock = clock
        self._rate_hz = rate_hz
        self._ahead_s = 0.0
        self._lost_s = 0.0
        self._frozen_s: float | None = None
        # Steps are made here, after the probe's error: two roundings would leave a trace of it.
        self._inside = VirtualSource(
            replace(sealed.machine, probe=replace(probe, quantum_k=0.0)),
            seed,
            rate_hz,
            speed=speed,
            scale=Scale(),
            warm=sealed.warm,
            clock=self._inside_clock_s,
        )
        self._told = False

    def _inside_clock_s(self) -> float:
        real_s = self._clock() - self._lost_s if self._frozen_s is None else self._frozen_s
        return real_s + self._ahead_s

    # -- source

    def open(self) -> None:
        """Let the machine stand, lock in a fresh basket, and start the clock."""
        inside = self._inside
        # Working out how it stood takes a moment, which must not pass on its clock.
        self._frozen_s = self._clock()
        self._ahead_s = 0.0
        inside.open()
        inside.lock_in(dose_g=DOSE_G, t_s=self._standing_s - _LOCKED_IN_S)
        self._ahead_s = (self._standing_s - 0.5 / self._rate_hz) / self._speed
        while inside.read():
            pass
        self._ahead_s = self._standing_s / self._speed
        self._lost_s = self._clock() - self._frozen_s
        self._frozen_s = None
        self._told = False

    def read(self) -> Sequence[Item]:
        """Return the readings due by now, waiting at most 0.2 s for the next one."""
        found: list[Item] = []
        if not self._told:
            self._told = True
            text = f"A portafilter with {DOSE_G:g} g is locked in; start the pump."
            found.append(Notice(0.0, NoticeKind.READING, text))
        for item in self._inside.read():
            t_s = round(item.t_s - self._standing_s, 6)
            if t_s < 0.0:
                continue
            if isinstance(item, Reading):
                temps = tuple(
                    quantised(temp + self._error_k, self._quantum_k) if isfinite(temp) else temp
                    for temp in item.temps_degc
                )
                found.append(Reading(t_s, temps, item.weight_g, item.reasons, item.time_estimated))
            elif isinstance(item, Notice):
                found.append(Notice(t_s, item.kind, item.text))
        return found

    def now_s(self) -> float:
        """Return the source's clock."""
        return max(0.0, self._inside.now_s() - self._standing_s)

    def interrupt(self) -> None:
        """Make a waiting `read` return soon."""
        self._inside.interrupt()

    def close(self) -> None:
        """Switch the machine off."""
        self._inside.close()

    # -- what the operator does, from any thread

    def pump(self, *, on: bool, t_s: float) -> None:
        """Start or stop the pump as of `t_s`."""
        self._inside.pump(on=on, t_s=t_s + self._standing_s)

    def flush(self, *, on: bool, t_s: float) -> None:
        """Start or stop water through the group with the portafilter taken out."""
        self._inside.flush(on=on, t_s=t_s + self._standing_s)

    def lock_in(self, *, dose_g: float, t_s: float) -> None:
        """Lock in a fresh dose, 0 g for an empty basket."""
        self._inside.lock_in(dose_g=dose_g, t_s=t_s + self._standing_s)

    def knock_out(self, *, t_s: float) -> None:
        """Take the portafilter out and leave it out."""
        self._inside.knock_out(t_s=t_s + self._standing_s)

    def tare(self) -> bool:
        """Set the scale to zero."""
        return self._inside.tare()
