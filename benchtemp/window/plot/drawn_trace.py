"""The readings as they are drawn: gaps broken, instants of the scale alone left out. Knows no widgets."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from benchtemp.bench.trace import TraceView
    from benchtemp.readings.reading import FloatArray

GAP_PERIODS = 3.5
"""A pause longer than this many usual periods is drawn as a gap."""
GAP_LEAST_S = 0.5


def with_gaps(
    t_s: FloatArray, temps_degc: FloatArray, weight_g: FloatArray, before_s: float | None, gap_s: float
) -> tuple[FloatArray, FloatArray]:
    """Return times and temperatures for drawing: an empty row wherever readings paused.

    Args:
        t_s: Shape (rows,), strictly rising.
        temps_degc: Shape (rows, channels), NaN where there is none.
        weight_g: Shape (rows,); a row with a weight and no temperature belongs to the scale alone.
        before_s: Time of the reading drawn last before these, None for the first ones.
        gap_s: The longest pause that is still drawn through.
    """
    drawn = np.isfinite(temps_degc).any(axis=1) | ~np.isfinite(weight_g)
    if not drawn.all():
        t_s, temps_degc = t_s[drawn], temps_degc[drawn]
    if not len(t_s):
        return t_s, temps_degc
    pauses_s = np.diff(t_s, prepend=t_s[0] if before_s is None else before_s)
    breaks = np.flatnonzero(pauses_s > gap_s)
    if len(breaks):
        t_s = np.insert(t_s, breaks, t_s[breaks] - pauses_s[breaks] / 2)
        temps_degc = np.insert(temps_degc, breaks, np.nan, axis=0)
    return t_s, temps_degc


class DrawnTrace:
    """Follows a growing `TraceView` and keeps what is drawn of it, touching new rows only.

    Its arrays are only appended to, so what was given to a curve stays true.
    """

    def __init__(self, rows_max: int = 160_000) -> None:
        self._rows_max = rows_max
        self.reset(0)

    def reset(self, channel_count: int) -> None:
        """Forget everything."""
        self._t_s = np.empty(2048)
        self._temps = np.empty((2048, channel_count))
        self._rows = 0
        self._taken = 0
        self._last_taken_s: float | None = None
        self._last_drawn_s: float | None = None

    def take(self, trace: TraceView, period_s: float | None) -> bool:
        """Bring in rows not seen yet; tell whether anything is new.

        A trace that starts anew (a replay moved back) is noticed and drawn from its beginning.
        """
        channel_count = trace.temps_degc.shape[1]
        if channel_count != self._temps.shape[1] or not self._continues(trace):
            self.reset(channel_count)
        start = max(0, self._taken - trace.first_row)
        if start == len(trace.t_s):
            return False
        gap_s = max(GAP_PERIODS * period_s if period_s else 2.0, GAP_LEAST_S)
        t_s, temps = with_gaps(
            trace.t_s[start:], trace.temps_degc[start:], trace.weight_g[start:], self._last_drawn_s, gap_s
        )
        self._append(t_s, temps)
        self._taken = trace.first_row + len(trace.t_s)
        self._last_taken_s = float(trace.t_s[-1])
        if len(t_s):
            self._last_drawn_s = float(t_s[-1])
        return bool(len(t_s))

    def _continues(self, trace: TraceView) -> bool:
        last = self._taken - 1 - trace.first_row
        if self._taken == 0 or last < 0:
            return True
        return last < len(trace.t_s) and float(trace.t_s[last]) == self._last_taken_s

    def _append(self, t_s: FloatArray, temps: FloatArray) -> None:
        needed = self._rows + len(t_s)
        if needed > len(self._t_s):
            keep_from = self._rows // 2 if needed > self._rows_max else 0
            kept = self._rows - keep_from
            capacity = 2 * (kept + len(t_s))
            new_t, new_temps = np.empty(capacity), np.empty((capacity, self._temps.shape[1]))
            new_t[:kept] = self._t_s[keep_from : self._rows]
            new_temps[:kept] = self._temps[keep_from : self._rows]
            self._t_s, self._temps, self._rows = new_t, new_temps, kept
            needed = kept + len(t_s)
        self._t_s[self._rows : needed] = t_s
        self._temps[self._rows : needed] = temps
        self._rows = needed

    @property
    def t_s(self) -> FloatArray:
        """Return all drawn times, shape (rows,)."""
        return self._t_s[: self._rows]

    def between(self, start_s: float, end_s: float) -> tuple[FloatArray, FloatArray]:
        """Return times and temperatures from a time to another, with one row beyond on either side."""
        t_s = self._t_s[: self._rows]
        first = max(0, int(np.searchsorted(t_s, start_s)) - 1)
        last = min(self._rows, int(np.searchsorted(t_s, end_s, side="right")) + 1)
        return t_s[first:last], self._temps[first:last]
