"""The clock of a virtual source: real time or faster, with readings due at whole multiples of a period."""

from __future__ import annotations

import threading
from collections.abc import Callable
from math import inf

from benchtemp.errors import BadInput

RATE_MIN_HZ, RATE_MAX_HZ = 0.1, 1000.0
SPEED_MIN = 0.25
HURRIED_S = 6.0
"""How long a stretch that is hurried through takes in real time, where no limit of speed prevents it."""
HURRY_MIN, HURRY_MAX = 20.0, 240.0
_WAIT_S = 0.2
_AHEAD_S = 0.05
"""How far the hurrying clock may be ahead of what has been read, s of real time."""


class PacedClock:
    """Tells what time it is on a virtual source's clock, and waits for its next reading.

    `now_s`, `hurry`, `stop_hurrying`, `interrupt` and `stop` may be called by any thread. The time never
    goes back between `start` and `stop`.

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
        self._lock = threading.Lock()
        self._wake = threading.Event()
        self._from_s = 0.0
        self._from_clock_s = 0.0
        self._hurry = 0.0
        self._hurry_until_s = -inf
        self._read_s = 0.0

    def start(self) -> None:
        """Begin at 0."""
        with self._lock:
            self._from_s = self._read_s = 0.0
            self._from_clock_s = self._clock()
            self._hurry_until_s = -inf
            self.runs = True
        self._wake.clear()

    def stop(self) -> None:
        """Stand at 0 again and wait no longer."""
        self.runs = False
        self._wake.set()

    def interrupt(self) -> None:
        """Make a wait return soon."""
        self._wake.set()

    # -- time

    def now_s(self) -> float:
        """Return the time, which runs `speed` times as fast as real time, or faster while it hurries."""
        with self._lock:
            return self._now_s()

    def _now_s(self) -> float:
        if not self.runs:
            return 0.0
        real_s = self._clock()
        if not self.hurrying:
            return self._from_s + (real_s - self._from_clock_s) * self._speed
        position_s = self._from_s + (real_s - self._from_clock_s) * self._hurry
        limit_s = max(self._from_s, self._read_s + _AHEAD_S * self._hurry)
        if min(position_s, limit_s) >= self._hurry_until_s:
            beyond_s = (position_s - self._hurry_until_s) / self._hurry if position_s <= limit_s else 0.0
            self._from_s, self._from_clock_s = self._hurry_until_s, real_s - beyond_s
            self._hurry_until_s = -inf
            return self._from_s + beyond_s * self._speed
        if position_s > limit_s:
            # Whoever reads cannot keep up: what is lost is lost, or the clock would run away from him.
            self._from_s, self._from_clock_s = limit_s, real_s
            return limit_s
        return position_s

    @property
    def hurrying(self) -> bool:
        """Tell whether it runs fast until some time."""
        return self._hurry_until_s > -inf

    def hurry(self, until_s: float) -> None:
        """Run fast until a time of its own, then as before; a time already past changes nothing."""
        with self._lock:
            now_s = self._now_s()
            if until_s <= now_s:
                return
            self._from_s, self._from_clock_s = now_s, self._clock()
            fast = min(HURRY_MAX, max(HURRY_MIN, (until_s - now_s) / HURRIED_S))
            self._hurry, self._hurry_until_s = max(self._speed, fast), until_s
        self._wake.set()

    def stop_hurrying(self) -> None:
        """Run at its usual speed again."""
        with self._lock:
            if self.hurrying:
                self._from_s, self._from_clock_s = self._now_s(), self._clock()
                self._hurry_until_s = -inf

    # -- readings

    def due_s(self, index: int) -> float:
        """Return when a reading, counted from 0, is due."""
        return index / self._rate_hz

    def have_read(self, to_s: float) -> None:
        """Take note of how far readings were given out: a hurrying clock waits for them."""
        self._read_s = to_s

    def wait_for(self, index: int) -> None:
        """Wait for a reading to be due, at most 0.2 s of real time."""
        speed = self._hurry if self.hurrying else self._speed
        wait_s = (self.due_s(index) - self.now_s()) / speed
        if wait_s > 0.0:
            self._wake.wait(min(wait_s, _WAIT_S))
            self._wake.clear()
