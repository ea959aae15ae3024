"""Plays a shot that lies in memory: at which of its moments the trainee is. Knows no timer and no window."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

SPEEDS = (1.0, 2.0, 4.0)
"""Faster than this nobody's hand can follow a pump."""


class Player:
    """A place in time that moves on by itself.

    Attributes:
        length_s: Where it ends.
    """

    def __init__(self, length_s: float = 0.0, *, clock: Callable[[], float] = time.perf_counter) -> None:
        """Stand still at the beginning.

        Args:
            length_s: Where it ends.
            clock: Seconds from anywhere, for instance a test's own.
        """
        self._clock = clock
        self._speed = SPEEDS[0]
        self.load(length_s)

    def load(self, length_s: float) -> None:
        """Stand still at the beginning of another shot."""
        self.length_s = length_s
        self._from_s = 0.0
        self._from_clock_s: float | None = None

    @property
    def position_s(self) -> float:
        """Return where it is, 0 to `length_s`."""
        if self._from_clock_s is None:
            return self._from_s
        return min(self._from_s + (self._clock() - self._from_clock_s) * self._speed, self.length_s)

    @property
    def playing(self) -> bool:
        """Tell whether it moves; at the end it does not."""
        return self._from_clock_s is not None and not self.over

    @property
    def over(self) -> bool:
        """Tell whether it has reached the end."""
        return self.position_s >= self.length_s - 1e-6

    @property
    def speed(self) -> float:
        """Return how fast it moves, 1 for real time."""
        return self._speed

    def play(self) -> None:
        """Move on."""
        if self._from_clock_s is None:
            self._from_clock_s = self._clock()

    def pause(self) -> None:
        """Stand still."""
        self._from_s, self._from_clock_s = self.position_s, None

    def toggle(self) -> None:
        """Move on, or stand still; at the end, begin again."""
        if self.playing:
            self.pause()
        elif self.over:
            self.seek(0.0)
            self.play()
        else:
            self.play()

    def seek(self, t_s: float) -> None:
        """Go to a moment; whether it moves stays as it was."""
        playing = self.playing
        self._from_s = min(max(t_s, 0.0), self.length_s)
        self._from_clock_s = self._clock() if playing else None

    def set_speed(self, speed: float) -> None:
        """Move at another speed from here on."""
        self.seek(self.position_s)
        self._speed = speed
