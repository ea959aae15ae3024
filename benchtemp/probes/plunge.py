"""Watching a plunge reading by reading, until a time constant can be taken from it."""

from __future__ import annotations

from array import array
from enum import StrEnum
from math import inf, nan

import numpy as np

from benchtemp.errors import BadInput
from benchtemp.probes.noise import noise_of
from benchtemp.probes.response import LEAST_STEP_K, FloatArray, TimeConstant, measure_time_constant
from benchtemp.probes.settle import usable

HOW_TO = (
    "Keep a wide pot of water at or near the boil; let the dry probe hang in the air of the room beside it.",
    "Start, wait some seconds, then plunge the probe into the middle in one go and keep it there, moving.",
    "Leave it until the reading has settled; three plunges tell how far they differ.",
)
OPEN_S = 10.0
_REST_S = 3.0
_STILL_S = 5.0
_LOOK_EVERY_S = 0.5


class PlungeState(StrEnum):
    """How far the plunge is."""

    RESTING = "at rest"
    """Not enough readings at rest yet: do not plunge."""
    READY = "plunge now"
    MOVING = "settling"
    DONE = "done"


class PlungeWatch:
    """Takes readings of one probe and finds by itself when its plunge is over; saves nothing.

    Attributes:
        state: How far it is.
        temp_degc: The last reading, NaN where it gave none.
        result: The time constant once it is done, None before.
        complaint: Why the last try to read it failed; empty where none did.
    """

    def __init__(self, *, measured: str = "", longest_s: float = 300.0) -> None:
        """Begin.

        Args:
            measured: When, ISO 8601; kept with the result.
            longest_s: How long it may take altogether.
        """
        self.state = PlungeState.RESTING
        self.temp_degc = nan
        self.result: TimeConstant | None = None
        self.complaint = ""
        self._measured = measured
        self._longest_s = longest_s
        self._times = array("d")
        self._temps = array("d")
        self._first_s: float | None = None
        self._last_usable_s = -inf
        self._left_s: float | None = None
        self._next_look_s = -inf

    def step(self, t_s: float, reported_degc: float) -> PlungeState:
        """Take in one reading, as reported.

        Raises:
            BadInput: It has taken too long, or the probe has been open for long; the sentence says what is
                wrong.
        """
        if self.result is not None:
            return self.state
        if self._first_s is None:
            self._first_s = self._last_usable_s = t_s
        self.temp_degc = reported_degc
        if not usable(reported_degc):
            if t_s - self._last_usable_s > OPEN_S:
                raise BadInput(
                    "The probe gives no temperature: it is open; check plug and wires and start again."
                )
            return self.state
        self._last_usable_s = t_s
        self._times.append(t_s)
        self._temps.append(reported_degc)
        if t_s >= self._next_look_s:
            self._next_look_s = t_s + _LOOK_EVERY_S
            self._look(t_s)
        if self.result is None and t_s - self._first_s > self._longest_s:
            raise BadInput(self.complaint or self._nothing_happened())
        return self.state

    def _nothing_happened(self) -> str:
        return (
            f"The reading never moved by more than {LEAST_STEP_K:g} °C and settled again within "
            f"{self._longest_s:.0f} s; plunge the probe from room temperature into hot water."
        )

    def _look(self, t_s: float) -> None:
        times, temps = np.array(self._times), np.array(self._temps)
        resting = temps[: max(3, int(np.searchsorted(times, times[0] + _REST_S)))]
        away = np.abs(temps - float(np.median(resting))) > LEAST_STEP_K
        # One reading alone proves nothing.
        left = np.flatnonzero(away[:-1] & away[1:])
        if not left.size:
            self.state = PlungeState.READY if t_s - times[0] >= _REST_S else PlungeState.RESTING
            return
        self.state = PlungeState.MOVING
        start, end = float(np.median(resting)), float(np.median(temps[-5:]))
        height = abs(end - start)
        share = np.abs(temps - start) / max(height, LEAST_STEP_K)
        first = int(np.argmax(share >= 0.1))
        rise_s = float(times[int(np.argmax(share >= 0.9))] - times[first])
        still_s = max(_STILL_S, 1.5 * rise_s)
        if t_s - times[first] < still_s + rise_s:
            return
        last = temps[times >= t_s - still_s]
        if float(np.ptp(last)) > 0.015 * height + 6.0 * noise_of(temps):
            return
        try:
            self.result = measure_time_constant(times, temps, measured=self._measured)
        except BadInput as error:
            self.complaint = str(error)
        else:
            self.state = PlungeState.DONE

    def trace(self) -> tuple[FloatArray, FloatArray]:
        """Return times and reported temperatures so far, both of shape (n,)."""
        return np.array(self._times), np.array(self._temps)
