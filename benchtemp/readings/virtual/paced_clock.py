"""The clock of a virtual source: real time or faster, with readings due at whole multiples of a period."""

from __future__ import annotations

import threading
from collections.abc import Callable

from benchtemp.errors import BadInput

RATE_MIN_HZ, RATE_MAX_HZ = 0.1, 1000.0
SPEED_MIN = 0.25
_WAIT_S = 0.2


class PacedClock:
    """Tells what time it is on a virtual source's clock, and waits for its next reading.

    `now_s`, `interrupt` and `stop` may be called by any thread.

    Attributes:
        runs: Between `start` and `stop`.
    """

    def __init__(self, rate_hz: float, speed: float, speed_max: float, clock: Callable[[], float]) -> None:
        """Set it up; it stands at 0 before `start`.

        Args:
            rate_hz: Readings per second of this clock.
            speed: How fast it runs, 1 for real time.
            speed_max: How fast it may run.
            clock: Seconds from anywhere, in real time.

        Raises:
            BadInput: Rate or speed cannot be.
        """
        if not RATE_MIN_HZ <= rate_hz <= RATE_MAX_HZ:
            raise BadInput(
                f"{rate_hz:g} readings a second cannot be; choose {RATE_MIN_HZ:g} to {RATE_MAX_HZ:g} Hz."
            )
        if not SPEED_MIN <= speed <= speed_max:
            raise BadInput(f"A speed of {speed:g} cannot be; choose {SPEED_MIN:g} to {speed_max:g}.")
        self.runs = False
        self._rate_hz = rate_hz
        self._speed = speed
        self._clock = clock
        self._wake = threading.Event()
        self._began_s = 0.0

    def start(self) -> None:
        """Begin at 0."""
        self.runs = True
        self._wake.clear()
        self._began_s = self._clock()

    def stop(self) -> None:
        """Stand at 0 again and wait no longer."""
        self.runs = False
        self._wake.set()

    def interrupt(self) -> None:
        """Make a wait return soon."""
        self._wake.set()

    def now_s(self) -> float:
        """Return the time, which runs `speed` times as fast as real time."""
        return (self._clock() - self._began_s) * self._speed if self.runs else 0.0

    def due_s(self, index: int) -> float:
        """Return when a reading, counted from 0, is due."""
        return index / self._rate_hz

    def wait_for(self, index: int) -> None:
        """Wait for a reading to be due, at most 0.2 s of real time."""
        wait_s = (self.due_s(index) - self.now_s()) / self._speed
        if wait_s > 0.0:
            self._wake.wait(min(wait_s, _WAIT_S))
            self._wake.clear()
