"""A sealed case: a virtual machine with a fault that nothing in window or files gives away."""

from __future__ import annotations

import time
from collections.abc import Callable

import msgspec

from benchtemp.probes.check import Check
from benchtemp.readings.reading import Stream
from benchtemp.readings.source import Source
from benchtemp.readings.virtual.pot import Bath, VirtualPot


class Brief(msgspec.Struct, frozen=True, kw_only=True):
    """What the trainee is told.

    Attributes:
        code: The case's number.
        machine: The machine's invented name.
        build: What it is, in a few words.
        display_degc: What its display says it brews at.
        dose_g, yield_g, shot_time_s: The recipe in use.
        sound: What a machine of this build does when nothing is wrong, sentence by sentence.
        complaint: What its owner says; the same words for every fault.
        tests: What can be done, sentence by sentence.
    """

    code: int
    machine: str
    build: str
    display_degc: float
    dose_g: float
    yield_g: float
    shot_time_s: float
    sound: tuple[str, ...]
    complaint: str
    tests: tuple[str, ...]


class Case:
    """A case made from its number; the same number is always the same case.

    Attributes:
        code: The number.
        brief: What the trainee is told.
    """

    def __init__(self, code: int) -> None:
        """Seal a case.

        Args:
            code: 1 to 999999; who is given it can open it here and elsewhere.

        Raises:
            BadInput: No such number.
        """
        raise NotImplementedError

    brief: Brief
    code: int

    def open(self, *, speed: float = 1.0, clock: Callable[[], float] = time.perf_counter) -> Source:
        """Return the machine as a source with pump, flush, empty basket and scale, like any virtual machine.

        Opened, it has been standing ready as the owner left it. It has `pump(on=, t_s=)`, `flush(on=, t_s=)`,
        `lock_in(dose_g=, t_s=)` and `tare()`; give `brief.machine` to `start_sitting(machine=…)`.
        """
        raise NotImplementedError

    def pot(
        self, bath: Bath = Bath.POT, *, speed: float = 1.0, clock: Callable[[], float] = time.perf_counter
    ) -> VirtualPot:
        """Return the case's own pot (or ice bath) with the very probe from its basket."""
        raise NotImplementedError

    def pull(
        self, shots: int = 6, *, interval_s: float = 180.0, sitting: int = 1, dose_g: float | None = None
    ) -> Stream:
        """Pull shots by script at once and return the recording; its header gives nothing away.

        Args:
            shots: How many, 1 to 40.
            interval_s: Pump on to pump on.
            sitting: Other beds and noise for another number; the machine starts as the owner left it.
            dose_g: Another dose; 0 lets water through the empty basket.

        Raises:
            BadInput: The shots do not fit.
        """
        raise NotImplementedError

    def boil(self, *, sitting: int = 1) -> Check:
        """Hold the probe into the case's pot at once and return the check."""
        raise NotImplementedError
