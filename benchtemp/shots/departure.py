"""Where a plateau ends without a mark: the moment the trace leaves it downwards for good.

Model: about the end the trace is a gentle parabola that from one moment on bends downwards (a change of slope, and
of curvature, at that moment). The moment runs over a fine grid; everything else is linear least squares with weak
priors, and the grid's marginal likelihoods give the moment's expectation and standard deviation.
"""

from __future__ import annotations

from math import sqrt

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.approach import Boundary

_BEFORE_S = 10.0
_AFTER_S = 6.0
_SEARCH_S = 3.0
_STEP_S = 0.1
_PRIOR_SD = np.array([100.0, 0.15, 0.01, 1.0, 0.1])
"""Of level (K), slope (K/s), curvature (K/s²), change of slope and change of curvature."""
_LOOKS_S = (4.0, 8.0, 16.0, 32.0)
_STEADY_K_PER_S = 0.25


def rough_departure(
    t_s: FloatArray, temp_degc: FloatArray, noise_k: float, earliest_s: float
) -> tuple[float, float] | None:
    """Find the strongest downward bend that starts a fall for good.

    Straight lines over 4 s before and after each moment are compared, and where no bend shows beyond doubt,
    over 8, 16 and 32 s: the slower the fall, the longer it takes to see.

    Args:
        t_s: Times of clean readings from the rise on, to the next pull or the trace's end, shape (n,).
        temp_degc: Their temperatures.
        noise_k: Standard deviation of one reading.
        earliest_s: No departure is looked for before this, and nothing before it is used.

    Returns: (time in s, change of slope in K/s), or None where nothing leaves.
    """
    count = len(t_s)
    if count < 6:
        return None
    u = t_s - t_s[0]
    y = temp_degc - temp_degc[0]
    sums = np.zeros((5, count + 1))
    np.cumsum(np.vstack((np.ones(count), u, y, u * u, u * y)), axis=1, out=sums[:, 1:])
    here = np.arange(count)
    first = int(np.searchsorted(t_s, earliest_s))
    if first >= count:
        return None
    later_max = np.maximum.accumulate(temp_degc[::-1])[::-1]
    ahead = np.minimum(np.searchsorted(u, u + 3.0), count - 1)
    level = _local_level(sums, u, temp_degc[0])
    # The highest reading from 3 s after a moment on: above the moment's own level, it was no departure for good.
    lasting = (later_max[ahead] < level + 3.0 * noise_k + 0.05) | (u[-1] - u < 3.0)
    lasting &= here >= first
    for look_s in _LOOKS_S:
        low = np.maximum(np.searchsorted(u, u - look_s - 1e-6), first)
        before = _slopes(sums, low, here + 1)
        after = _slopes(sums, here, np.searchsorted(u, u + look_s + 1e-6))
        bend = before[0] - after[0]
        doubt = noise_k * np.sqrt(before[1] + after[1])
        fits = (
            lasting
            & (before[1] < np.inf)
            & (after[1] < np.inf)
            & (before[0] > -_STEADY_K_PER_S - 2.0 * noise_k * np.sqrt(before[1]))
            & (after[0] < -0.03)
            & (bend > np.maximum(0.04, 4.0 * doubt))
        )
        if fits.any():
            best = int(np.argmax(np.where(fits, bend, -np.inf)))
            return float(t_s[best]), float(bend[best])
    return None


def _slopes(
    sums: FloatArray,
    low: np.ndarray[tuple[int], np.dtype[np.intp]],
    high: np.ndarray[tuple[int], np.dtype[np.intp]],
) -> tuple[FloatArray, FloatArray]:
    """Return slopes of straight lines over index ranges, and their variances per unit of noise variance."""
    n, su, sy, suu, suy = sums[:, high] - sums[:, low]
    n = np.maximum(n, 1.0)
    spread = suu - su * su / n
    usable = (n >= 3) & (spread > 1.0)
    safe = np.where(usable, spread, 1.0)
    return np.where(usable, (suy - su * sy / n) / safe, 0.0), np.where(usable, 1.0 / safe, np.inf)


def _local_level(sums: FloatArray, u: FloatArray, offset_degc: float) -> FloatArray:
    low = np.searchsorted(u, u - 1.5)
    high = np.searchsorted(u, u + 0.5)
    high = np.maximum(high, low + 1)
    n = sums[0, high] - sums[0, low]
    return offset_degc + (sums[2, high] - sums[2, low]) / n


def find_end(
    t_s: FloatArray, temp_degc: FloatArray, noise_k: float, rough_s: float, start_s: float, latest_s: float
) -> Boundary:
    """Find the plateau's end near a rough one.

    Args:
        t_s, temp_degc: Clean readings, shape (n,).
        noise_k: Standard deviation of one reading.
        rough_s: Where `rough_departure` saw the bend.
        start_s: The plateau's (rough) start: nothing before it is used.
        latest_s: Nothing after it is used.
    """
    low_s = max(start_s, rough_s - _SEARCH_S - _BEFORE_S)
    high_s = min(latest_s, rough_s + _SEARCH_S + _AFTER_S)
    low, high = np.searchsorted(t_s, (low_s, high_s + 1e-6))
    u = t_s[low:high] - rough_s
    level_degc = float(temp_degc[min(max(low, int(np.searchsorted(t_s, rough_s))), len(temp_degc) - 1)])
    y = temp_degc[low:high] - level_degc
    if len(u) < 5:
        return Boundary(rough_s, 1.0, level_degc)
    grid = np.arange(max(-_SEARCH_S, float(u[0]) + 1.0), min(_SEARCH_S, float(u[-1])) + 1e-9, _STEP_S)
    if not len(grid):
        return Boundary(rough_s, 1.0, level_degc)
    over = np.maximum(u[None, :] - grid[:, None], 0.0)
    columns = np.empty((len(grid), 5, len(u)))
    columns[:, 0] = 1.0
    columns[:, 1] = u
    columns[:, 2] = u * u
    columns[:, 3] = over
    columns[:, 4] = over * over
    grams = np.matmul(columns, columns.transpose(0, 2, 1))
    rights = columns @ y
    power = float(y @ y)
    variance = noise_k**2
    ridge = np.diag(1.0 / _PRIOR_SD**2)
    for _ in range(2):
        precision = grams / variance + ridge
        inverse = np.linalg.inv(precision)
        means = np.einsum("cij,cj->ci", inverse, rights) / variance
        misfit = power / variance - np.einsum("ci,ci->c", means, rights) / variance
        excess = float(misfit.min()) / max(1, len(u) - 5)
        if excess < 1.5:
            break
        variance *= excess
    _, log_det = np.linalg.slogdet(precision)
    log_weight = -0.5 * (misfit - misfit.min()) - 0.5 * log_det
    # The bend leads downwards.
    log_weight = np.where(means[:, 3] < 0.0, log_weight, log_weight - 8.0)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    at = float(weight @ grid)
    spread = float(weight @ (grid - at) ** 2)
    temp = float(weight @ (means[:, 0] + means[:, 1] * at + means[:, 2] * at * at))
    return Boundary(rough_s + at, sqrt(spread + _STEP_S**2 / 12.0), level_degc + temp)
