"""Where a plateau ends without a mark: the moment the trace leaves it downwards for good.

The end is the bend that explains the trace best from the last climb on. Two things in a trace pretend to be
one: the top of a hump, which falls and then calms down, and the portafilter being taken out some time after
the pump went off, which bends more sharply than the end itself. Where the trace holds either, the end is
looked for after the calm, or before the sharper bend, and taken from there if it stands beyond doubt.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.approach import Boundary
from benchtemp.shots.bends import SEARCH_S, SEARCH_STEP_S, place_bend, search_bend, sharpest_bend
from benchtemp.shots.climbs import running_sums

HUMP_LONGEST_S = 10.0
HUMP_HIGHEST_K = 7.0
"""A fall within this of the climb, and no deeper, may be a hump's far side."""
BEYOND_DOUBT = 6.0
"""Logarithm of how much better the readings fit with an end than without."""
AFTER_BEND_S = 12.0
"""How much of the trace after its sharpest bend is used to place the end."""
SAG_K_PER_S = 0.15
"""A plateau may sag; of two possible ends, one before a slower fall than this is only a sag's onset."""
CALM_LEAST_S = 3.0
CALM_K_PER_S = 0.2
"""A trace that falls no faster than this, for this long, has calmed down."""
PLATEAU_FALLS_K_PER_S = 0.35
"""Faster than this not even the far side of a hump falls as the pump goes off."""


@dataclass(frozen=True, slots=True)
class Departure:
    """A plateau's end as far as the trace tells.

    Attributes:
        end: When, None where the trace shows no end.
        evidence: Logarithm of how much better the readings fit with an end than without one.
    """

    end: Boundary | None
    evidence: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class _Readings:
    """The readings from the last climb on, and what is known beforehand.

    Attributes:
        t_s: Times, shape (n,).
        temp_degc: Temperatures.
        noise_k: Standard deviation of one reading.
        rise_s: When the pull's climb began.
    """

    t_s: FloatArray
    temp_degc: FloatArray
    noise_k: float
    rise_s: float

    def row(self, t_s: float) -> int:
        """Return the first reading at or after a moment."""
        return int(np.searchsorted(self.t_s, t_s))

    def slope(self, from_s: float, to_s: float) -> tuple[float, float]:
        """Return the slope of the line through a stretch and its doubt; (0, inf) of too few readings."""
        low, high = self.row(from_s), self.row(to_s)
        if high - low < 3:
            return 0.0, float("inf")
        u = self.t_s[low:high] - self.t_s[low:high].mean()
        spread = float(u @ u)
        return float(u @ self.temp_degc[low:high]) / spread, self.noise_k / sqrt(spread)

    def slopes(self, length_s: float) -> FloatArray:
        """Return the slope of the line that begins at each reading, NaN where the trace is too short."""
        u = self.t_s - self.t_s[0]
        sums = running_sums(u, self.temp_degc - self.temp_degc[0])
        high = np.searchsorted(u, u + length_s + 1e-6)
        n, su, sy, suu, suy = sums[:, high] - sums[:, : len(u)]
        spread = suu - su * su / n
        usable = (u[high - 1] - u > 0.6 * length_s) & (spread > 0)
        return np.where(usable, (suy - su * sy / n) / np.where(usable, spread, 1.0), np.nan)

    def end(self, first: int = 0, stop: int | None = None) -> Departure:
        """Return the end that explains a stretch best."""
        t_s, temp_degc = self.t_s[first:stop], self.temp_degc[first:stop]
        chances = search_bend(t_s, temp_degc, self.noise_k, self.rise_s)
        if chances is None:
            return Departure(None)
        if chances.none > 0.5:
            return Departure(None, chances.evidence)
        moments_s, chance = chances.moments_s, chances.chance
        near = np.abs(moments_s - moments_s[int(np.argmax(chance))]) <= SEARCH_S
        share = float(chance[near].sum())
        if share > 0.8:
            rough_s = float(chance[near] @ moments_s[near]) / share
            return Departure(place_bend(t_s, temp_degc, self.noise_k, rough_s), chances.evidence)
        # The trace leaves many seconds open: what is expected, and how widely.
        expected_s = float(chance @ moments_s)
        spread_s = sqrt(float(chance @ (moments_s - expected_s) ** 2) + SEARCH_STEP_S**2 / 12.0)
        level_degc = float(np.interp(expected_s, t_s, temp_degc))
        return Departure(Boundary(expected_s, spread_s, level_degc), chances.evidence)


def find_departure(
    t_s: FloatArray, temp_degc: FloatArray, noise_k: float, *, climbed_s: float, rise_s: float
) -> Departure:
    """Find a plateau's end.

    Args:
        t_s: Times of clean readings, to the next pull or the trace's end, shape (n,).
        temp_degc: Their temperatures.
        noise_k: Standard deviation of one reading.
        climbed_s: When the trace still climbed for the last time; nothing before it is used.
        rise_s: When the pull's climb began.
    """
    first = int(np.searchsorted(t_s, climbed_s))
    readings = _Readings(t_s[first:], temp_degc[first:], noise_k, rise_s)
    if len(readings.t_s) < 6:
        return Departure(None)
    # A bend right after the climb is a hump's top, or a flush's end: neither hides an end before it.
    early = readings.row(climbed_s + HUMP_LONGEST_S)
    sharpest = sharpest_bend(readings.t_s[early:], readings.temp_degc[early:], noise_k)
    stop = None
    if sharpest is not None:
        bend = early + sharpest
        found = _before_a_sharper_bend(readings, bend)
        if found is not None:
            return found
        stop = readings.row(float(readings.t_s[bend]) + AFTER_BEND_S)
    found = _after_a_hump(readings, climbed_s, stop)
    if found is not None:
        return found
    return _unless_it_only_falls(readings, readings.end(0, stop), climbed_s)


def _before_a_sharper_bend(readings: _Readings, bend: int) -> Departure | None:
    """Find an end that came before a sharper bend: then that was the portafilter being taken out."""
    bend_s = float(readings.t_s[bend])
    # At one reading a second a single missing one must not leave too few to see that the trace fell already.
    falling, _ = readings.slope(min(bend_s - CALM_LEAST_S, float(readings.t_s[max(0, bend - 4)])), bend_s)
    if falling > -0.5 * SAG_K_PER_S:
        return None
    found = readings.end(0, bend)
    if found.end is None or found.evidence < BEYOND_DOUBT:
        return None
    fall, _ = readings.slope(found.end.t_s, min(found.end.t_s + 5.0, bend_s))
    return found if fall < -SAG_K_PER_S else None


def _after_a_hump(readings: _Readings, climbed_s: float, stop: int | None) -> Departure | None:
    """Find an end after a hump: the trace fell soon after the climb, calmed down, and was left once more."""
    slopes = readings.slopes(CALM_LEAST_S)
    top = readings.row(climbed_s + HUMP_LONGEST_S)
    restless = np.flatnonzero(slopes[:top] < -1.5 * CALM_K_PER_S)
    if not len(restless):
        return None
    calm_rows = np.flatnonzero(slopes[restless[0] :] > -CALM_K_PER_S)
    if not len(calm_rows):
        return None
    calm = int(restless[0] + calm_rows[0])
    fallen_k = float(readings.temp_degc[:calm].max() - readings.temp_degc[calm])
    if fallen_k > HUMP_HIGHEST_K:
        return None
    found = readings.end(calm, stop)
    if found.end is None or found.evidence < BEYOND_DOUBT:
        return None
    return found if found.end.t_s - readings.t_s[calm] > CALM_LEAST_S else None


def _unless_it_only_falls(readings: _Readings, found: Departure, climbed_s: float) -> Departure:
    """Return what was found, unless the trace has done nothing but fall: then it ended as the climb did."""
    if found.end is None:
        low_s, high_s, fastest = climbed_s, climbed_s + HUMP_LONGEST_S, CALM_K_PER_S
    else:
        low_s, high_s = found.end.t_s - CALM_LEAST_S - 1.0, found.end.t_s
        fastest = PLATEAU_FALLS_K_PER_S
    slope, doubt = readings.slope(low_s, high_s)
    if slope > -fastest - 2.0 * doubt:
        return found
    top = int(np.argmax(readings.temp_degc[: max(1, readings.row(high_s))]))
    at_top = Boundary(float(readings.t_s[top]), 1.0, float(readings.temp_degc[top]))
    return Departure(at_top, found.evidence)
