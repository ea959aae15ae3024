"""Asking an instrument for readings at a steady rate."""

from __future__ import annotations

from math import ceil, floor

from benchtemp.readings.connection import Port


class Polling:
    """Says when the next question is due, on a grid that does not drift.

    Questions are due at whole multiples of the period from the first one. Points of that grid that pass while
    an answer is awaited drop out; they are not made up for in a burst.

    Args:
        request: What is sent; empty where the interface speaks by itself.
        period_s: Time between questions, s; 0 to ask again at once.
        reply_s: How long to wait for an answer before asking again, s.
    """

    def __init__(self, request: bytes, period_s: float, reply_s: float) -> None:
        self._request = request
        self._period_s = period_s
        self._reply_s = reply_s
        self.restart()

    @property
    def is_on(self) -> bool:
        """Return whether the interface must be asked at all."""
        return bool(self._request)

    def restart(self) -> None:
        """Begin anew: ask at once."""
        self._first_s: float | None = None
        self._due_s = float("-inf")
        self._asked_s: float | None = None

    def answered(self) -> None:
        """Note that the last question was answered."""
        self._asked_s = None

    def ask(self, port: Port, now_s: float) -> float:
        """Ask if it is time to.

        Returns:
            How long to wait until the next question, s; 0 or less where an answer is awaited.

        Raises:
            OSError: The port is gone.
        """
        pause_s = self.pause_s(now_s)
        if pause_s <= 0 and self._asked_s is None:
            port.write(self._request)
            self.note_asked(now_s)
        return pause_s

    def pause_s(self, now_s: float) -> float:
        """Return how long to wait until the next question, s; 0 or less where it or its answer is due now."""
        if self._asked_s is not None:
            if now_s - self._asked_s <= self._reply_s:
                return 0.0
            self._asked_s = None
        if self._first_s is not None and now_s - self._due_s > self._period_s / 2 > 0:
            self._due_s = self._first_s + ceil((now_s - self._first_s) / self._period_s) * self._period_s
        return self._due_s - now_s

    def note_asked(self, now_s: float) -> None:
        """Note that a question was sent, and find out when the next one is due."""
        self._asked_s = now_s
        if self._first_s is None:
            self._first_s = now_s
        self._due_s = now_s
        if self._period_s > 0:
            passed = floor((now_s - self._first_s) / self._period_s + 1e-9)
            self._due_s = self._first_s + (passed + 1) * self._period_s
