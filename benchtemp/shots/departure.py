"""Where a plateau ends without a mark: the moment the trace leaves it downwards for good.

The end is the bend that explains the trace best from the last climb on. Two things in a trace pretend to be
one: the top of a hump, which falls and then calms down, and the portafilter being taken out some time after
the pump went off, which bends more sharply than the end itself. Where the trace holds either, the end is
looked for after the calm, or before the sharper bend, and taken from there if it stands beyond doubt.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.approach import Boundary, smoothed
from benchtemp.shots.bends import search_bend, sharpest_bend
from benchtemp.shots.climbs import running_sums
from benchtemp.shots.placing import place_bend

NEAR_S = 3.0
NEAR_SHARE = 0.8
"""Where so much of the chance lies so close together, there is one place where the end may be."""
HUMP_LONGEST_S = 10.0
HUMP_HIGHEST_K = 7.0
"""A fall that begins so soon after the climb, and goes no deeper, may be a hump's far side."""
HUMP_TOP_S = 7.0
"""An end so soon after the climb may be a hump's top: it counts only if the trace keeps falling."""
BEYOND_DOUBT = 6.0
"""Logarithm of how much better the readings fit with an end than without."""
LIKELY = 0.35 * BEYOND_DOUBT
PLAIN = 2.0 * BEYOND_DOUBT
"""Evidence that is enough where something else speaks for an end, and that speaks for an end itself."""
AFTER_BEND_S = 12.0
"""How much of the trace after its sharpest bend is used to place the end."""
PLUNGE_K_PER_S = 2.6
PLUNGE_S = 3.0
"""A fall as fast as this, over so long, late in a pull, is most likely a portafilter being taken out."""
FALL_S = 5.0
"""Over so long, from a possible end on, the trace must fall faster than a plateau sags."""
SAG_K_PER_S = 0.15
SAG_PLAIN_K_PER_S = 0.11
SAG_PLUNGE_K_PER_S = 0.06
"""A plateau may sag; of two possible ends, one before a slower fall than this is only a sag's onset. Less
will do where the bend is plain, and still less before a plunge."""
STILL_FALLS_K_PER_S = 0.04
"""From an end to the portafilter being taken out a basket cools at least this fast on the whole."""
CAME_BACK_SHARE = 0.6
"""A trace that is less far below its end than this share of its deepest was in a dip."""
CALM_LEAST_S = 3.0
CALM_K_PER_S = 0.2
"""A trace that falls no faster than this, for this long, has calmed down."""
RESTLESS_K_PER_S = 1.5 * CALM_K_PER_S
"""One that falls faster than this is on a hump's far side, or was left."""
LONG_CALM_S = 8.0
LONG_CALM_K_PER_S = 0.12
"""A calm this long, with no faster fall, is a plateau: any end after it will do."""
FALLS_LEAST_S = 4.0
FALLS_LONGEST_S = 12.0
"""Less of a trace behind its top does not show that it only falls; without an end no more is looked at."""
STILL_SHARE = 0.35
"""What keeps falling does so at last at this share of its early speed or faster; a hump slows more."""
EARLY_END_S = 9.0
EARLY_FALL_S = 8.0
"""A pull that ended so soon after its climb was a flush, and after a flush a trace falls, over so long,
faster than a plateau sags."""
TOP_REACH_S = 0.75
"""A top is the highest of means over so much to either side."""
ROUND_TOP_S = 2.5
ROUND_SHARE = 0.6
"""A top is round where the trace, for so long, falls at less than this share of its later speed."""
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


@dataclass(frozen=True, slots=True)
class _Bend:
    """About where a stretch of readings ends.

    Attributes:
        first, stop: The stretch.
        t_s: When, None where the stretch shows no end.
        evidence: As in `Departure`.
        spread_s: Standard deviation of what is not known about the moment.
        alone: There is no other place where the end may as well be.
    """

    first: int
    stop: int | None
    t_s: float | None
    evidence: float = 0.0
    spread_s: float = 0.0
    alone: bool = True


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
        return int(self.t_s.searchsorted(t_s))

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
        high = u.searchsorted(u + length_s + 1e-6)
        n, su, sy, suu, suy = sums.take(high, axis=1) - sums[:, : len(u)]
        spread = suu - su * su / n
        usable = (u[high - 1] - u > 0.6 * length_s) & (spread > 0)
        return np.where(usable, (suy - su * sy / n) / np.where(usable, spread, 1.0), np.nan)

    def came_back(self, end: Boundary, stop: int) -> bool:
        """Tell whether the trace fell from an end and was nearly back before a later reading: a dip."""
        first = self.row(end.t_s)
        after = self.temp_degc[first:stop]
        if len(after) < 4:
            return False
        lowest_k = end.temp_degc - float(np.min(after))
        return end.temp_degc - float(np.median(after[-3:])) < CAME_BACK_SHARE * lowest_k - 2.0 * self.noise_k

    def keeps_falling(self, from_s: float, to_s: float) -> bool:
        """Tell whether the trace falls over a stretch and goes on to its end, as no hump does."""
        early, early_doubt = self.slope(from_s, 0.5 * (from_s + to_s))
        late, late_doubt = self.slope(min(from_s + 0.7 * (to_s - from_s), to_s - 3.0), to_s)
        return (
            early < -SAG_K_PER_S - early_doubt
            and late < -SAG_K_PER_S - late_doubt
            and late < STILL_SHARE * early
        )

    def bend(self, first: int = 0, stop: int | None = None) -> _Bend:
        """Weigh where a stretch may have ended."""
        chances = search_bend(self.t_s[first:stop], self.temp_degc[first:stop], self.noise_k, self.rise_s)
        if chances is None:
            return _Bend(first, stop, None)
        if chances.none > 0.5:
            return _Bend(first, stop, None, chances.evidence)
        moments_s, chance = chances.moments_s, chances.chance
        near = np.abs(moments_s - moments_s[int(np.argmax(chance))]) <= NEAR_S
        share = float(chance[near].sum())
        alone = share > NEAR_SHARE
        if alone:
            chance = np.where(near, chance, 0.0) / share
        at_s = float(chance @ moments_s)
        spread_s = sqrt(float(chance @ (moments_s - at_s) ** 2))
        return _Bend(first, stop, at_s, chances.evidence, spread_s, alone)

    def place(self, bend: _Bend) -> Departure:
        """Return the end that a stretch shows, as exactly as can be."""
        if bend.t_s is None:
            return Departure(None, bend.evidence)
        part = slice(bend.first, bend.stop)
        end = place_bend(self.t_s[part], self.temp_degc[part], self.noise_k, bend.t_s, bend.spread_s)
        if not bend.alone:
            # The trace leaves many seconds open, and not only about here.
            end = replace(end, uncertainty_s=max(end.uncertainty_s, bend.spread_s))
        return Departure(end, bend.evidence)

    def end(self, first: int = 0, stop: int | None = None) -> Departure:
        """Return the end that explains a stretch best."""
        return self.place(self.bend(first, stop))


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
    first = int(t_s.searchsorted(climbed_s))
    readings = _Readings(t_s[first:], temp_degc[first:], noise_k, rise_s)
    if len(readings.t_s) < 6:
        return Departure(None)
    # A bend right after the climb is a hump's top, or a flush's end: neither hides an end before it.
    early = readings.row(climbed_s + HUMP_LONGEST_S)
    sharpest = sharpest_bend(readings.t_s[early:], readings.temp_degc[early:], noise_k)
    stop = None
    found: Departure | None = None
    if sharpest is not None:
        bend = early + sharpest
        stop = readings.row(float(readings.t_s[bend]) + AFTER_BEND_S)
        found = _before_a_sharper_bend(readings, climbed_s, bend)
    found = found or _after_a_hump(readings, climbed_s, stop) or readings.end(0, stop)
    found = _after_a_sag(readings, found, climbed_s, stop) or found
    top = _only_falls(readings, found, climbed_s)
    return found if top is None else Departure(top, found.evidence)


def _before_a_sharper_bend(readings: _Readings, climbed_s: float, bend: int) -> Departure | None:
    """Find an end that came before a sharper bend: then that was the portafilter being taken out."""
    bend_s = float(readings.t_s[bend])
    speed, _ = readings.slope(bend_s, bend_s + PLUNGE_S)
    plunges = speed < -PLUNGE_K_PER_S
    rough = readings.bend(0, bend)
    if rough.t_s is None or rough.evidence < (LIKELY if plunges else BEYOND_DOUBT):
        return None
    found = readings.place(rough)
    assert found.end is not None
    # So early it may be a hump's top.
    if found.end.t_s - climbed_s < HUMP_TOP_S and not readings.keeps_falling(found.end.t_s, bend_s):
        return None
    if readings.came_back(found.end, bend):
        return None
    if plunges:
        sag_k_per_s = SAG_PLUNGE_K_PER_S
    else:
        sag_k_per_s = SAG_PLAIN_K_PER_S if found.evidence > PLAIN else SAG_K_PER_S
    fall, _ = readings.slope(found.end.t_s, min(found.end.t_s + FALL_S, bend_s))
    all_along, _ = readings.slope(found.end.t_s, bend_s)
    return found if fall < -sag_k_per_s and all_along < -STILL_FALLS_K_PER_S else None


def _after_a_hump(readings: _Readings, climbed_s: float, stop: int | None) -> Departure | None:
    """Find an end after a hump: the trace fell soon after the climb, calmed down, and was left once more."""
    slopes = readings.slopes(CALM_LEAST_S)
    top = readings.row(climbed_s + HUMP_LONGEST_S)
    restless = np.flatnonzero(slopes[:top] < -RESTLESS_K_PER_S)
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
    if found.end is None or found.end.t_s - readings.t_s[calm] < CALM_LEAST_S:
        return None
    calm_s = float(readings.t_s[calm])
    slope, doubt = readings.slope(calm_s, calm_s + LONG_CALM_S)
    lasts = slope > -LONG_CALM_K_PER_S - doubt and found.end.t_s - calm_s > LONG_CALM_S
    return found if lasts or found.evidence > BEYOND_DOUBT else None


def _after_a_sag(
    readings: _Readings, found: Departure, climbed_s: float, stop: int | None
) -> Departure | None:
    """Find an end later than one so early and so slow that it is only a sag's onset."""
    if found.end is None or found.end.t_s - climbed_s > EARLY_END_S:
        return None
    slope, doubt = readings.slope(found.end.t_s, found.end.t_s + EARLY_FALL_S)
    if slope < -SAG_K_PER_S + doubt:
        return None
    later = readings.end(readings.row(found.end.t_s + CALM_LEAST_S), stop)
    return later if later.end is not None else None


def _only_falls(readings: _Readings, found: Departure, climbed_s: float) -> Boundary | None:
    """Return the top of a trace that has done nothing but fall since its climb: it ended as the climb did."""
    # Of single readings the highest of a round top is often a late one.
    level_degc, _ = smoothed(readings.t_s, readings.temp_degc, TOP_REACH_S)
    highest = int(np.argmax(level_degc[: max(1, readings.row(climbed_s + HUMP_LONGEST_S))]))
    top_s = float(readings.t_s[highest])
    last_s = float(readings.t_s[-1])
    if found.end is None:
        until_s = min(top_s + FALLS_LONGEST_S, last_s)
        slope, doubt = readings.slope(top_s, until_s)
        falls = slope < -CALM_K_PER_S - doubt
    else:
        until_s = min(found.end.t_s + 2.0 * found.end.uncertainty_s, last_s)
        falls = readings.keeps_falling(top_s, until_s) and not _ends_a_hump(
            readings, found.end, found.evidence, (top_s, until_s)
        )
    if not falls or until_s - top_s < FALLS_LEAST_S:
        return None
    return Boundary(top_s, 1.0, float(readings.temp_degc[highest]))


def _ends_a_hump(readings: _Readings, end: Boundary, evidence: float, stretch_s: tuple[float, float]) -> bool:
    """Tell whether a stretch that keeps falling is a hump's far side: a round top, and a clear end."""
    top_s, until_s = stretch_s
    onset, doubt = readings.slope(top_s, top_s + ROUND_TOP_S)
    early, _ = readings.slope(top_s, 0.5 * (top_s + until_s))
    round_top = onset > ROUND_SHARE * early + doubt
    late, doubt = readings.slope(end.t_s - CALM_LEAST_S - 1.0, end.t_s)
    clear = evidence > BEYOND_DOUBT and end.uncertainty_s < CALM_LEAST_S
    return round_top and clear and late > -PLATEAU_FALLS_K_PER_S - 2.0 * doubt
