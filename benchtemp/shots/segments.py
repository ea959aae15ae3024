"""Where in a trace a pull may be: climbs that water through the puck could have made."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.trace import Trace

GRID_S = 0.5
RISE_K_PER_S = 0.35
"""A climb goes on for as long as it is this fast."""
RISE_LEAST_K = 4.0
RISE_FAST_K_PER_S = 0.7
"""A climb that is lower or slower is a thermostat's or a draught's doing, not a pump's."""
LOW_RISE_K = 7.5
LOW_RISE_FAST_K_PER_S = 1.5
"""One that is lower and slower than this may be either."""
ONSET_SHARE = 0.08
"""A rise begins where the climb exceeds this share of its fastest: what crept up before was not the
pump's."""
HOT_WATER_DEGC = 50.0
"""A climb that halts below this was a portafilter being locked in, not water."""
PAUSE_LONGEST_S = 12.0
PAUSE_DROP_K = 4.0
"""Within these a climb that halts and goes on is one pull: a pre-infusion pause."""
DIP_LONGEST_S = 8.0
DIP_DEEPEST_K = 5.0
"""Within these a trace that falls and comes back is one pull: a dip in the pressure."""


@dataclass(frozen=True, slots=True)
class Rise:
    """A climb.

    Attributes:
        start_s: When it began.
        top_s: When it was no longer fast.
        height_k: From beginning to top.
        fastest_k_per_s: Over about 2 s.
    """

    start_s: float
    top_s: float
    height_k: float
    fastest_k_per_s: float

    @property
    def doubtful(self) -> bool:
        """Tell whether a thermostat may have made it as well as a pump."""
        return self.height_k < LOW_RISE_K and self.fastest_k_per_s < LOW_RISE_FAST_K_PER_S


def coarse(trace: Trace) -> tuple[FloatArray, FloatArray]:
    """Return times and temperatures averaged over half seconds (no average across an empty one)."""
    t_s, temp_degc = trace.t_s, trace.temp_degc
    if trace.period_s > 0.7 * GRID_S or len(t_s) < 3:
        return t_s, temp_degc
    return cell_means(t_s, temp_degc, GRID_S)[:2]


def cell_means(
    t_s: FloatArray, temp_degc: FloatArray, cell_s: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Average over short cells; return times, temperatures and how many readings each stands for."""
    cell = np.floor((t_s - t_s[0]) / cell_s)
    first = np.concatenate(([0], np.flatnonzero(cell[1:] > cell[:-1]) + 1))
    size = np.empty(len(first))
    size[:-1] = first[1:] - first[:-1]
    size[-1] = len(t_s) - first[-1]
    return np.add.reduceat(t_s, first) / size, np.add.reduceat(temp_degc, first) / size, size


def find_rises(trace: Trace) -> list[Rise]:
    """Return the climbs that may have begun a pull, in order; a pause or a dip does not split one."""
    t_s, y = coarse(trace)
    count = len(t_s)
    if count < 4:
        return []
    reach = max(1, round(1.0 / max(GRID_S, trace.period_s)))
    index = np.arange(count)
    low, high = np.maximum(index - reach, 0), np.minimum(index + reach, count - 1)
    slope = (y[high] - y[low]) / (t_s[high] - t_s[low])
    climbing = slope > RISE_K_PER_S
    if not climbing.any():
        return []
    change = np.flatnonzero(np.diff(np.concatenate(([False], climbing, [False])).astype(np.int8)))
    found: list[Rise] = []
    open_run: tuple[int, int] | None = None
    runs = [(int(a), int(b) - 1) for a, b in zip(change[::2], change[1::2], strict=True)]
    for begin, end in runs:
        if open_run is not None and _same_pull(t_s, y, open_run, begin, end):
            open_run = (open_run[0], end)
            continue
        if open_run is not None:
            _add(found, t_s, y, slope, open_run)
        open_run = (begin, end)
    if open_run is not None:
        _add(found, t_s, y, slope, open_run)
    return found


def _same_pull(t_s: FloatArray, y: FloatArray, before: tuple[int, int], begin: int, end: int) -> bool:
    top = float(y[before[1]])
    if top < HOT_WATER_DEGC:
        return False
    between = y[before[1] : begin + 1]
    drop_k = top - float(between.min())
    if t_s[begin] - t_s[before[1]] < PAUSE_LONGEST_S and drop_k < PAUSE_DROP_K:
        return True
    highest_k = float(y[begin : end + 1].max())
    left = np.flatnonzero(between >= highest_k - 0.5)
    depth_k = highest_k - float(between.min())
    return bool(
        len(left) and depth_k < DIP_DEEPEST_K and t_s[begin] - t_s[before[1] + int(left[-1])] < DIP_LONGEST_S
    )


def _add(found: list[Rise], t_s: FloatArray, y: FloatArray, slope: FloatArray, run: tuple[int, int]) -> None:
    begin, end = run
    fastest = float(slope[begin : end + 1].max())
    begin += int(np.argmax(slope[begin : end + 1] > ONSET_SHARE * fastest))
    low = float(y[max(0, begin - 1) : begin + 1].min())
    height_k = float(y[begin : end + 1].max()) - low
    if height_k >= RISE_LEAST_K and fastest >= RISE_FAST_K_PER_S:
        # Slopes look a second ahead: the rise begins where the trace itself leaves the level it comes from.
        leave = begin
        while leave < end and y[leave + 1] < low + max(ONSET_SHARE * fastest, 0.02 * height_k):
            leave += 1
        found.append(Rise(float(t_s[leave]), float(t_s[end]), height_k, fastest))
