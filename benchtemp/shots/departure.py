"""Where a plateau ends without a mark: the moment the trace leaves it downwards for good.

Model: from the last climb on, the trace is a plateau (a parabola, and exponentials that fade: the end of the
approach, a hump) which from one moment on falls (exponentials towards a lower level). The moment runs over a
grid, everything else is linear least squares with weak priors; the marginal likelihoods over the grid, "no
end" among them, give the chance of each moment. Where that singles out a few seconds, a second grid of 0.1 s
with a plain bend and only the readings about it gives the moment's expectation and standard deviation.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import erfc, log, pi, sqrt

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.approach import GOOD_EXCESS, Boundary, noise_excess, running_sums

CELL_S = 0.5
FINE_CELL_S = 0.25
SEARCH_STEP_S = 1.0
HUMP_LONGEST_S = 10.0
HUMP_HIGHEST_K = 7.0
BEYOND_DOUBT = 6.0
"""Logarithm of how much better the readings fit with a departure than without."""
BEND_LOOK_S = 3.0
BEND_K_PER_S = 0.4
BEYOND_BEND_S = 12.0
"""A bend sharper than this may be an end; how much of what follows it is used to tell."""
FALL_K_PER_S = 0.15
"""A plateau may sag; where more than one end is possible, one before a slower fall than this is a sag's
onset."""
CALM_LEAST_S = 3.0
CALM_K_PER_S = 0.2
PLATEAU_FALLS_K_PER_S = 0.35
"""Faster than this not even the far side of a hump falls as the pump goes off."""
USUAL_PULL_S = 27.0
USUAL_SPREAD = 0.5
"""A weak expectation (log-normal) of how long after the climb began a pull ends: it decides only where the
trace itself leaves tens of seconds open. Common practice, no source."""
FLUSH_SHARE = 0.25
USUAL_FLUSH_S = 6.0
"""The same for flushes, and how many of all pulls they are."""
_FADES_S = np.array([1.5, 4.0, 10.0])
_FALLS_S = np.array([6.0, 40.0])
_RATES_K_PER_S = (0.1, 0.4, 1.6)
_LEFT_SD = np.array([100.0, 0.05, 0.0012, 2.0, 2.0, 3.0])
CHANCE_OF_NO_END = 0.01
STOPPED_EARLY = 0.3
"""How likely, beforehand, it is that somebody stops a recording while the pump runs."""
END_UNSEEN_S = 1.5
"""An end in the very last moments of a trace cannot be told from none."""
_WINDOWS_S = ((12.0, 12.0), (8.0, 5.0), (5.0, 2.5))
"""How much before and after the search range is fitted; less where more cannot be followed."""
_LAGS_S = (0.0, 0.3, 1.0)
_LAG_CHANCES = (0.7, 0.2, 0.1)
_SEARCH_S = 3.0
_STEP_S = 0.15
_LEVEL_SD = np.array([100.0, 0.15, 0.01])
_BEND_SD = 1.0
_CURVE_SD = 0.1
"""Of level (K), slope (K/s), curvature (K/s²), change of slope (K/s) and change of curvature (K/s²)."""


@dataclass(frozen=True, slots=True)
class Departure:
    """A plateau's end as far as the whole trace tells.

    Attributes:
        end: When, None where the trace shows no end.
        evidence: Logarithm of how much better the readings fit with an end than without one.
    """

    end: Boundary | None
    evidence: float


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
    stop = len(t_s)
    # A bend right after the climb is a hump's top, or a flush's end: neither hides an end before it.
    from_row = int(np.searchsorted(t_s, climbed_s + HUMP_LONGEST_S))
    sharpest = _sharpest_bend(t_s[from_row:], temp_degc[from_row:], noise_k)
    found = None
    if sharpest is not None:
        # The sharpest bend may be the portafilter being taken out, some time after the pump went off: is
        # there an end before it?
        bend = from_row + sharpest
        bend_s = float(t_s[bend])
        stop = int(np.searchsorted(t_s, bend_s + BEYOND_BEND_S))
        if _slope(t_s, temp_degc, bend_s - CALM_LEAST_S, bend_s) < -0.5 * FALL_K_PER_S:
            earlier = _from(t_s[first:bend], temp_degc[first:bend], noise_k, rise_s)
            if (
                earlier.end is not None
                and earlier.evidence > BEYOND_DOUBT
                and _slope(t_s, temp_degc, earlier.end.t_s, min(earlier.end.t_s + 5.0, bend_s))
                < -FALL_K_PER_S
            ):
                found = earlier
    if found is None:
        found = _from(t_s[first:stop], temp_degc[first:stop], noise_k, rise_s)
    if found.end is not None and found.end.t_s - climbed_s < HUMP_LONGEST_S:
        # What fell so soon after the climb may have been a hump: if the trace calms down and is left once
        # more, beyond doubt, that second departure is the end.
        calm = _calm(t_s, temp_degc, int(np.searchsorted(t_s, found.end.t_s + 1.0)))
        if calm is not None:
            later = _from(t_s[calm:], temp_degc[calm:], noise_k, rise_s)
            if (
                later.end is not None
                and later.evidence > BEYOND_DOUBT
                and later.end.t_s - t_s[calm] > CALM_LEAST_S
                and temp_degc[first:calm].max() - temp_degc[calm] < HUMP_HIGHEST_K
            ):
                return later
    if found.end is None:
        # Nothing but a fall since the climb: the pump went off as the climb ended.
        low, high = first, int(np.searchsorted(t_s, climbed_s + HUMP_LONGEST_S))
        fastest = CALM_K_PER_S
    else:
        low, high = np.searchsorted(t_s, (found.end.t_s - CALM_LEAST_S - 1.0, found.end.t_s))
        fastest = PLATEAU_FALLS_K_PER_S
    if _falls(t_s[low:high], temp_degc[low:high], noise_k, fastest):
        top = first + int(np.argmax(temp_degc[first:high])) if high > first else first
        return Departure(Boundary(float(t_s[top]), 1.0, float(temp_degc[top])), found.evidence)
    return found


def _sharpest_bend(t_s: FloatArray, temp_degc: FloatArray, noise_k: float) -> int | None:
    """Return the reading about which the slope turns downwards the most, None where it does so nowhere."""
    count = len(t_s)
    if count < 6:
        return None
    u = t_s - t_s[0]
    sums = running_sums(u, temp_degc - temp_degc[0])
    here = np.arange(count)
    slopes, doubts = [], []
    for low, high in (
        (np.searchsorted(u, u - BEND_LOOK_S - 1e-6), here + 1),
        (here, np.searchsorted(u, u + BEND_LOOK_S + 1e-6)),
    ):
        n, su, sy, suu, suy = sums[:, high] - sums[:, low]
        spread = suu - su * su / n
        usable = (n >= 3) & (spread > 0.5)
        safe = np.where(usable, spread, 1.0)
        slopes.append(np.where(usable, (suy - su * sy / n) / safe, np.nan))
        doubts.append(1.0 / safe)
    change = slopes[0] - slopes[1]
    sharp = (change > BEND_K_PER_S) & (change > 5.0 * noise_k * np.sqrt(doubts[0] + doubts[1]))
    sharp &= slopes[1] < -BEND_K_PER_S
    if not sharp.any():
        return None
    return int(np.argmax(np.where(sharp, change, -np.inf)))


def _slope(t_s: FloatArray, temp_degc: FloatArray, from_s: float, to_s: float) -> float:
    """Return the slope of the line through a stretch; 0 of fewer than three readings."""
    low, high = np.searchsorted(t_s, (from_s, to_s))
    if high - low < 3:
        return 0.0
    u = t_s[low:high] - t_s[low:high].mean()
    return float(u @ temp_degc[low:high]) / float(u @ u)


def _falls(t_s: FloatArray, temp_degc: FloatArray, noise_k: float, fastest: float) -> bool:
    """Tell whether a stretch falls faster, beyond doubt, than a plateau may."""
    if len(t_s) < 3:
        return False
    u = t_s - t_s[0]
    u = u - u.mean()
    spread = float(u @ u)
    return float(u @ temp_degc) / spread < -fastest - 2.0 * noise_k / sqrt(spread)


def _calm(t_s: FloatArray, temp_degc: FloatArray, first: int) -> int | None:
    """Return the first reading from one on at which the trace no longer falls."""
    if len(t_s) - first < 4:
        return None
    u = t_s[first:] - t_s[first]
    sums = running_sums(u, temp_degc[first:] - temp_degc[first])
    high = np.searchsorted(u, u + CALM_LEAST_S + 1e-6)
    n, su, sy, suu, suy = sums[:, high] - sums[:, : len(u)]
    spread = suu - su * su / n
    usable = (u[high - 1] - u > 0.6 * CALM_LEAST_S) & (spread > 0)
    slope = np.where(usable, (suy - su * sy / n) / np.where(usable, spread, 1.0), -np.inf)
    calm = np.flatnonzero(slope > -CALM_K_PER_S)
    return first + int(calm[0]) if len(calm) else None


def _from(t_s: FloatArray, temp_degc: FloatArray, noise_k: float, rise_s: float) -> Departure:
    """Find the end in a trace that begins on the plateau."""
    if len(t_s) < 6:
        return Departure(None, 0.0)
    coarse_s, coarse_degc, weight = _cells(t_s, temp_degc, CELL_S)
    if len(coarse_s) < 6:
        return Departure(None, 0.0)
    grid_s, chances, no_end, evidence = _search(coarse_s, coarse_degc, weight / noise_k**2, rise_s)
    if no_end > 0.5:
        return Departure(None, evidence)
    best_s = float(grid_s[int(np.argmax(chances))])
    expected_s = float(chances @ grid_s)
    spread_s = sqrt(float(chances @ (grid_s - expected_s) ** 2))
    near = np.abs(grid_s - best_s) <= _SEARCH_S
    share = float(chances[near].sum())
    if share > 0.8:
        rough_s = float(chances[near] @ grid_s[near]) / share
        return Departure(_refine(t_s, temp_degc, noise_k, rough_s), evidence)
    level_degc = float(np.interp(expected_s, coarse_s, coarse_degc))
    return Departure(Boundary(expected_s, max(spread_s, SEARCH_STEP_S / sqrt(12.0)), level_degc), evidence)


def _cells(
    t_s: FloatArray, temp_degc: FloatArray, cell_s: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Average over short cells; return times, temperatures and how many readings each stands for."""
    cell = np.floor((t_s - t_s[0]) / cell_s)
    first = np.flatnonzero(np.diff(cell, prepend=-1.0) > 0)
    size = np.diff(np.append(first, len(t_s))).astype(np.float64)
    return np.add.reduceat(t_s, first) / size, np.add.reduceat(temp_degc, first) / size, size


def _search(
    t_s: FloatArray, temp_degc: FloatArray, precision: FloatArray, rise_s: float
) -> tuple[FloatArray, FloatArray, float, float]:
    """Return a grid of moments, the chance of each (given an end), the chance of no end, and the evidence."""
    u = t_s - t_s[0]
    y = temp_degc - temp_degc[0]
    count = len(u)
    grid = np.arange(0.0, max(float(u[-1]) - END_UNSEEN_S, 1.0), SEARCH_STEP_S)
    left = np.empty((6, count))
    left[0] = 1.0
    left[1] = u
    left[2] = u * u
    left[3:] = np.exp(-u / _FADES_S[:, None])
    # 1 - exp(-(u - moment) / fall) after the moment, 0 before it: an outer product, so no exponential per
    # cell.
    right = np.where(
        u > grid[:, None],
        1.0 - np.exp(grid / _FALLS_S[:, None])[:, :, None] * np.exp(-u / _FALLS_S[:, None])[:, None],
        0.0,
    )
    left_p, right_p = left * precision, right * precision
    left_left, left_y = left_p @ left.T, left_p @ y
    left_right = right_p @ left.T
    right_y = right_p @ y
    a = np.einsum("mn,mn->m", right_p[0], right[0])
    b = np.einsum("mn,mn->m", right_p[0], right[1])
    c = np.einsum("mn,mn->m", right_p[1], right[1])
    power = float(precision @ (y * y))
    scale = 1.0
    for _ in range(2):
        inverse = np.linalg.inv(left_left * scale + np.diag(1.0 / _LEFT_SD**2))
        left_mean = inverse @ left_y * scale
        none_misfit = scale * (power - float(left_mean @ left_y))
        taken = left_right @ inverse * scale**2
        aa = a * scale - (taken[0] * left_right[0]).sum(axis=1)
        bb = b * scale - (taken[0] * left_right[1]).sum(axis=1)
        cc = c * scale - (taken[1] * left_right[1]).sum(axis=1)
        r = right_y * scale - left_right @ left_mean * scale
        gains = []
        for rate in _RATES_K_PER_S:
            prior_a, prior_c = (1.0 / (rate * _FALLS_S)) ** 2
            det = (aa + prior_a) * (cc + prior_c) - bb * bb
            size_a = ((cc + prior_c) * r[0] - bb * r[1]) / det
            size_c = ((aa + prior_a) * r[1] - bb * r[0]) / det
            gain = 0.5 * (size_a * r[0] + size_c * r[1])
            fall = size_a * (1.0 - np.exp(-3.0 / _FALLS_S[0])) + size_c * (1.0 - np.exp(-3.0 / _FALLS_S[1]))
            gains.append(
                (gain, gain - 0.5 * np.log(det / (prior_a * prior_c)) - np.where(fall < 0.0, 0.0, 1e6))
            )
        misfit = none_misfit - 2.0 * max(float(gain.max()) for gain, _ in gains)
        scale /= noise_excess(misfit, count - 6)
    log_weight = np.logaddexp.reduce([weight for _, weight in gains], axis=0) - log(len(gains))
    evidence = float(log_weight.max())
    after_rise = np.maximum(grid + float(t_s[0]) - rise_s, 1.0)
    expected = sum(
        share * np.exp(-0.5 * (np.log(after_rise / middle_s) / USUAL_SPREAD) ** 2)
        for share, middle_s in ((1.0 - FLUSH_SHARE, USUAL_PULL_S), (FLUSH_SHARE, USUAL_FLUSH_S))
    )
    log_weight += np.log(expected * SEARCH_STEP_S / (USUAL_SPREAD * sqrt(2.0 * pi) * after_rise) + 1e-12)
    # What is left of the expectation beyond the trace's end is the chance that no end is in it.
    seen = log(max(float(after_rise[-1]), 1.0) / USUAL_PULL_S) / USUAL_SPREAD
    log_none = log(max(0.5 * erfc(seen / sqrt(2.0)), CHANCE_OF_NO_END) * STOPPED_EARLY)
    highest = max(float(log_weight.max()), log_none)
    weight = np.exp(log_weight - highest)
    none = float(np.exp(log_none - highest))
    total = float(weight.sum())
    return grid + float(t_s[0]), weight / max(total, 1e-300), none / (none + total), evidence


def _refine(t_s: FloatArray, temp_degc: FloatArray, noise_k: float, rough_s: float) -> Boundary:
    """Find the end within a few seconds of a rough one."""
    best: tuple[float, Boundary] | None = None
    for before_s, after_s in _WINDOWS_S:
        low, high = np.searchsorted(
            t_s, (rough_s - _SEARCH_S - before_s, rough_s + _SEARCH_S + after_s + 1e-6)
        )
        if high - low < 6:
            continue
        level_degc = float(temp_degc[min(max(low, int(np.searchsorted(t_s, rough_s))), high - 1)])
        cell_s, cell_degc, size = _cells(t_s[low:high], temp_degc[low:high], FINE_CELL_S)
        excess, at, spread, temp = _bend(cell_s - rough_s, cell_degc - level_degc, size / noise_k**2)
        found = Boundary(rough_s + at, spread, level_degc + temp)
        if best is None or excess < best[0]:
            best = excess, found
        if excess < GOOD_EXCESS:
            break
    if best is None:
        return Boundary(rough_s, 1.0, float(np.interp(rough_s, t_s, temp_degc)))
    return best[1]


def _bend(u: FloatArray, y: FloatArray, precision: FloatArray) -> tuple[float, float, float, float]:
    """Fit a parabola that bends down from one moment on, at once or with a probe's lag.

    Args:
        u: Times about the rough end, shape (n,), n at least 6.
        y: Temperatures less some level.
        precision: One over the variance of each.

    Returns: (excess of the residuals' variance, the moment, its standard uncertainty, temperature at the
    moment).
    """
    count = len(u)
    moments = np.arange(max(-_SEARCH_S, float(u[0]) + 1.0), min(_SEARCH_S, float(u[-1])) + 1e-9, _STEP_S)
    if not len(moments):
        moments = np.zeros(1)
    left = np.stack((np.ones(count), u, u * u))
    over = np.maximum(u - moments[:, None], 0.0)
    bends = [over]
    for lag_s in _LAGS_S[1:]:
        faded = np.exp(moments / lag_s)[:, None] * np.exp(-u / lag_s)
        bends.append(np.where(over > 0.0, over - lag_s * (1.0 - faded), 0.0))
    bend = np.concatenate(bends)
    curve = over * over
    curve_p = curve * precision
    kinds = len(_LAGS_S)
    left_p, bend_p = left * precision, bend * precision
    left_left, left_y = left_p @ left.T, left_p @ y
    bend_left, bend_y = bend_p @ left.T, bend_p @ y
    curve_left, curve_y = np.tile(curve_p @ left.T, (kinds, 1)), np.tile(curve_p @ y, kinds)
    a = np.einsum("mn,mn->m", bend_p, bend)
    b = np.einsum("kmn,mn->km", bend.reshape(kinds, len(moments), count), curve_p).ravel()
    c = np.tile(np.einsum("mn,mn->m", curve_p, curve), kinds)
    grid = np.tile(moments, kinds)
    power = float(precision @ (y * y))
    scale, excess = 1.0, 1.0
    for _ in range(2):
        inverse = np.linalg.inv(left_left * scale + np.diag(1.0 / _LEVEL_SD**2))
        left_mean = inverse @ left_y * scale
        none_misfit = scale * (power - float(left_mean @ left_y))
        bend_taken, curve_taken = bend_left @ inverse * scale**2, curve_left @ inverse * scale**2
        aa = a * scale - np.einsum("mi,mi->m", bend_taken, bend_left) + 1.0 / _BEND_SD**2
        bb = b * scale - np.einsum("mi,mi->m", bend_taken, curve_left)
        cc = c * scale - np.einsum("mi,mi->m", curve_taken, curve_left) + 1.0 / _CURVE_SD**2
        p = (bend_y - bend_left @ left_mean) * scale
        q = (curve_y - curve_left @ left_mean) * scale
        det = aa * cc - bb * bb
        size, size_curve = (cc * p - bb * q) / det, (aa * q - bb * p) / det
        gain = 0.5 * (size * p + size_curve * q)
        factor = noise_excess(none_misfit - 2.0 * float(gain.max()), count - 5)
        excess *= factor
        scale /= factor
    log_weight = gain - 0.5 * np.log(det) + np.repeat(np.log(_LAG_CHANCES), len(moments))
    # The bend leads downwards.
    log_weight[size >= 0.0] -= 1e6
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    at = float(weight @ grid)
    spread = sqrt(float(weight @ (grid - at) ** 2) + _STEP_S**2 / 12.0)
    # The parabola without what the bend takes from it, at the moment.
    chosen = int(np.argmax(weight))
    rest = left_y - bend_left[chosen] * size[chosen] - curve_left[chosen] * size_curve[chosen]
    level = inverse @ rest * scale
    return excess, at, spread, float(level[0] + level[1] * at + level[2] * at * at)
