"""Heating cycles in a watched channel: where it turns, how long cycles take, which were left alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.studies.evidence.channel import Channel
from benchtemp.studies.statistics.line import Line, fit_line

SMOOTH_S = 2.0
"""Turning points are looked for in averages over this long: shorter wiggles are no heating cycle."""
SHORTEST_S = 8.0
"""A cycle shorter than this is the controller's pulsing, not a thermostat's cycle (our choice)."""
NOISES = 6.0
"""A turn must stand out by so many times the noise of an average."""
LEAST_K = 0.08
EDGE = (0.2, 0.8)
"""An edge's line goes through this part of its height."""


@dataclass(frozen=True, slots=True)
class Edge:
    """A rise or a fall of a cycle.

    Attributes:
        at_s: When it passed the middle of its height.
        line: Temperature in °C against time in s through its steep part, None with too few readings.
        period_s: Time between readings.
    """

    at_s: float
    line: Line | None
    period_s: float

    def passes(self, level_degc: float) -> tuple[float, float]:
        """Return when its line is at a level, and the standard uncertainty of that from the readings, s."""
        if self.line is None:
            return self.at_s, self.period_s
        at_s = self.line.x_mean + (level_degc - self.line.at_mean) / self.line.slope
        return at_s, max(self.line.uncertainty_at(at_s) / abs(self.line.slope), 0.02 * self.period_s)


@dataclass(frozen=True, slots=True)
class Cycle:
    """One cycle, from valley to valley.

    Attributes:
        valley_s, peak_s, next_valley_s: When it turned.
        valley_degc, peak_degc, next_valley_degc: At what temperature.
        rising, falling: Its two edges.
        rest_s: From the last use of water to its beginning, infinite without one before; negative where
            water was used in it.
    """

    valley_s: float
    peak_s: float
    next_valley_s: float
    valley_degc: float
    peak_degc: float
    next_valley_degc: float
    rising: Edge
    falling: Edge
    rest_s: float

    @property
    def long_s(self) -> float:
        """Return how long it took."""
        return self.next_valley_s - self.valley_s

    @property
    def height_k(self) -> float:
        """Return its height from valley to peak."""
        return self.peak_degc - 0.5 * (self.valley_degc + self.next_valley_degc)

    @property
    def rise_s(self) -> float:
        """Return how long it rose."""
        return self.peak_s - self.valley_s


def find_cycles(watched: Channel, water_s: Sequence[tuple[float, float]] = ()) -> list[Cycle]:
    """Return the whole cycles of a channel, in order.

    Args:
        watched: The channel.
        water_s: From when to when water was used, each.
    """
    t_s, degc = _averages(watched)
    if len(t_s) < 8:
        return []
    quiet = np.ones(len(t_s), dtype=bool)
    for on_s, off_s in water_s:
        quiet &= (t_s < on_s) | (t_s > off_s + 60.0)
    spread = degc[quiet] if np.count_nonzero(quiet) > 8 else degc
    period_s = float(np.median(np.diff(watched.t_s)))
    noise_k = watched.noise_k / max(1.0, SMOOTH_S / period_s) ** 0.5
    least_k = max(
        LEAST_K, NOISES * noise_k, 0.25 * float(np.quantile(spread, 0.95) - np.quantile(spread, 0.05))
    )
    turns = _turns(degc, least_k)
    valleys = [index for index, peak in turns if not peak]
    found: list[Cycle] = []
    for first, last in pairwise(valleys):
        peak = first + int(np.argmax(degc[first : last + 1]))
        if t_s[last] - t_s[first] < SHORTEST_S or peak in {first, last}:
            continue
        since = [float(t_s[first]) - off_s for on_s, off_s in water_s if on_s < t_s[last]]
        peak_s, top = _top(watched, float(t_s[peak]))
        found.append(
            Cycle(
                valley_s=float(t_s[first]),
                peak_s=peak_s,
                next_valley_s=float(t_s[last]),
                valley_degc=float(degc[first]),
                peak_degc=top,
                next_valley_degc=float(degc[last]),
                rising=_edge(watched, (float(t_s[first]), peak_s), (float(degc[first]), top)),
                falling=_edge(watched, (peak_s, float(t_s[last])), (float(degc[last]), top)),
                rest_s=min(since, default=inf),
            )
        )
    return found


def _averages(watched: Channel) -> tuple[FloatArray, FloatArray]:
    if len(watched.t_s) < 3 or float(np.median(np.diff(watched.t_s))) > 0.5 * SMOOTH_S:
        return watched.t_s, watched.degc
    cell = np.floor((watched.t_s - watched.t_s[0]) / SMOOTH_S).astype(int)
    count = np.bincount(cell)
    filled = count > 0
    t_s = np.bincount(cell, weights=watched.t_s)[filled] / count[filled]
    return t_s, np.bincount(cell, weights=watched.degc)[filled] / count[filled]


def _turns(degc: FloatArray, least_k: float) -> list[tuple[int, bool]]:
    """Return indices of valleys and peaks (True) in turn, each `least_k` away from the one before."""
    found: list[tuple[int, bool]] = []
    low = high = 0
    rising: bool | None = None
    for index, value in enumerate(degc.tolist()):
        if value > degc[high]:
            high = index
        if value < degc[low]:
            low = index
        if rising is not False and degc[high] - value > least_k:
            if rising:
                found.append((high, True))
            rising, low = False, index
            high = index
        elif rising is not True and value - degc[low] > least_k:
            if rising is False:
                found.append((low, False))
            rising, high = True, index
            low = index
    return found


def _top(watched: Channel, near_s: float) -> tuple[float, float]:
    """Return when and at what a peak is reached, from the readings around it."""
    low, high = np.searchsorted(watched.t_s, (near_s - 2.0 * SMOOTH_S, near_s + 2.0 * SMOOTH_S))
    t_s, degc = watched.t_s[low:high], watched.degc[low:high]
    if len(t_s) < 5:
        return near_s, float(degc.max()) if len(degc) else float("nan")
    width = max(1, round(0.25 * SMOOTH_S / float(np.median(np.diff(t_s)))))
    smooth = np.convolve(degc, np.ones(width) / width, mode="same") if width > 1 else degc
    at = int(np.argmax(smooth[width // 2 : len(smooth) - width // 2])) + width // 2
    return float(t_s[at]), float(smooth[at])


def _edge(watched: Channel, between_s: tuple[float, float], ends_degc: tuple[float, float]) -> Edge:
    """Return an edge between two turns, from a line through its steep part."""
    low, high = np.searchsorted(watched.t_s, between_s)
    t_s, degc = watched.t_s[low : high + 1], watched.degc[low : high + 1]
    bottom, top = min(ends_degc), max(ends_degc)
    share = (degc - bottom) / (top - bottom) if top > bottom else np.zeros_like(degc)
    steep = (share > EDGE[0]) & (share < EDGE[1])
    period_s = float(np.median(np.diff(watched.t_s)))
    between = 0.5 * (between_s[0] + between_s[1])
    if np.count_nonzero(steep) < 4 or not np.ptp(degc[steep]) > 0:
        crossing = np.flatnonzero(np.diff(np.signbit(share - 0.5)))
        return Edge(float(t_s[crossing[0]]) if len(crossing) else between, None, period_s)
    # A line of time on temperature would be biased by noise: fit temperature on time and solve.
    line = fit_line(t_s[steep], degc[steep])
    if not line.slope:
        return Edge(between, None, period_s)
    at_s = line.x_mean + (0.5 * (bottom + top) - line.at_mean) / line.slope
    return Edge(float(np.clip(at_s, *between_s)), line, period_s)
