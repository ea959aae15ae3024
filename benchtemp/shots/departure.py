"""Where a plateau ends without a mark: the moment the trace leaves it downwards for good.

Model: from the last climb on, the trace is a plateau (a parabola, and exponentials that fade: the end of the
approach, a hump) which from one moment on falls (exponentials towards a lower level). The moment runs over a grid,
everything else is linear least squares with weak priors; the marginal likelihoods over the grid, "no end" among
them, give the chance of each moment. Where that singles out a few seconds, a second grid of 0.1 s with a plain
bend and only the readings about it gives the moment's expectation and standard deviation.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import erfc, log, pi, sqrt

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.approach import Boundary, noise_excess

CELL_S = 0.5
SEARCH_STEP_S = 1.0
FALLEN_K = 10.0
"""So far below the plateau nothing tells any more when it was left."""
USUAL_PULL_S = 27.0
USUAL_SPREAD = 0.6
"""A weak expectation (log-normal) of how long after the climb began a pull ends: it decides only where the trace
itself leaves tens of seconds open. Common practice, no source."""
_FADES_S = np.array([1.5, 4.0, 10.0])
_FALLS_S = np.array([6.0, 40.0])
_RATES_K_PER_S = (0.1, 0.4, 1.6)
_LEFT_SD = np.array([100.0, 0.05, 0.0012, 2.0, 2.0, 3.0])
CHANCE_OF_NO_END = 0.01
END_UNSEEN_S = 1.5
"""An end in the very last moments of a trace cannot be told from none."""
_BEFORE_S = 10.0
_AFTER_S = 6.0
_SEARCH_S = 3.0
_STEP_S = 0.1
_BEND_SD = np.array([100.0, 0.15, 0.01, 1.0, 0.1])
"""Of level (K), slope (K/s), curvature (K/s²), change of slope and change of curvature."""


@dataclass(frozen=True, slots=True)
class Departure:
    """A plateau's end as far as the whole trace tells.

    Attributes:
        end: When, None where the trace shows no end.
        chance: How sure it is that there is one, 0 to 1.
    """

    end: Boundary | None
    chance: float


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
    t_s, temp_degc = t_s[first:], temp_degc[first:]
    if len(t_s) < 6:
        return Departure(None, 0.0)
    stop = _fallen(t_s, temp_degc, noise_k)
    t_s, temp_degc = t_s[:stop], temp_degc[:stop]
    coarse_s, coarse_degc, weight = _cells(t_s, temp_degc)
    if len(coarse_s) < 6:
        return Departure(None, 0.0)
    grid_s, chances, no_end = _search(coarse_s, coarse_degc, weight / noise_k**2, rise_s)
    if no_end > 0.5:
        return Departure(None, 1.0 - no_end)
    best_s = float(grid_s[int(np.argmax(chances))])
    expected_s = float(chances @ grid_s)
    spread_s = sqrt(float(chances @ (grid_s - expected_s) ** 2))
    near = np.abs(grid_s - best_s) <= _SEARCH_S
    if float(chances[near].sum()) > 0.8:
        return Departure(
            _refine(t_s, temp_degc, noise_k, float(chances[near] @ grid_s[near] / chances[near].sum())),
            1.0 - no_end,
        )
    level_degc = float(np.interp(expected_s, coarse_s, coarse_degc))
    return Departure(Boundary(expected_s, max(spread_s, SEARCH_STEP_S / sqrt(12.0)), level_degc), 1.0 - no_end)


def _fallen(t_s: FloatArray, temp_degc: FloatArray, noise_k: float) -> int:
    """Return how many readings come before the trace is far below the plateau for good."""
    high = np.flatnonzero(temp_degc > temp_degc.max() - FALLEN_K - 5.0 * noise_k)
    return min(len(t_s), max(int(high[-1]) + 2, 6))


def _cells(t_s: FloatArray, temp_degc: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Average over half seconds; return times, temperatures and how many readings each stands for."""
    cell = np.floor((t_s - t_s[0]) / CELL_S)
    first = np.flatnonzero(np.diff(cell, prepend=-1.0) > 0)
    size = np.diff(np.append(first, len(t_s))).astype(np.float64)
    return np.add.reduceat(t_s, first) / size, np.add.reduceat(temp_degc, first) / size, size


def _search(
    t_s: FloatArray, temp_degc: FloatArray, precision: FloatArray, rise_s: float
) -> tuple[FloatArray, FloatArray, float]:
    """Return a grid of moments, the chance of each (given that there is an end), and the chance of no end."""
    u = t_s - t_s[0]
    y = temp_degc - temp_degc[0]
    count = len(u)
    grid = np.arange(0.0, max(float(u[-1]) - END_UNSEEN_S, 1.0), SEARCH_STEP_S)
    left = np.empty((6, count))
    left[0] = 1.0
    left[1] = u
    left[2] = u * u
    left[3:] = np.exp(-u / _FADES_S[:, None])
    # 1 - exp(-(u - moment) / fall) after the moment, 0 before it: an outer product, so no exponential per cell.
    right = np.where(
        u > grid[:, None], 1.0 - np.exp(grid / _FALLS_S[:, None])[:, :, None] * np.exp(-u / _FALLS_S[:, None])[:, None], 0.0
    )
    left_p, right_p = left * precision, right * precision
    left_left, left_y = left_p @ left.T, left_p @ y
    left_right = right_p @ left.T
    right_y = right_p @ y
    a = (right_p[0] * right[0]).sum(axis=1)
    b = (right_p[0] * right[1]).sum(axis=1)
    c = (right_p[1] * right[1]).sum(axis=1)
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
            gains.append((gain, gain - 0.5 * np.log(det / (prior_a * prior_c)) - np.where(fall < 0.0, 0.0, 1e6)))
        misfit = none_misfit - 2.0 * max(float(gain.max()) for gain, _ in gains)
        scale /= noise_excess(misfit, count - 6)
    log_weight = np.logaddexp.reduce([weight for _, weight in gains], axis=0) - log(len(gains))
    after_rise = np.maximum(grid + float(t_s[0]) - rise_s, 1.0)
    prior = -0.5 * (np.log(after_rise / USUAL_PULL_S) / USUAL_SPREAD) ** 2
    log_weight += prior + log(SEARCH_STEP_S / (USUAL_SPREAD * sqrt(2.0 * pi))) - np.log(after_rise)
    # What is left of the expectation beyond the trace's end is the chance that no end is in it.
    seen = log(max(float(after_rise[-1]), 1.0) / USUAL_PULL_S) / USUAL_SPREAD
    log_none = log(max(0.5 * erfc(seen / sqrt(2.0)), CHANCE_OF_NO_END))
    highest = max(float(log_weight.max()), log_none)
    weight = np.exp(log_weight - highest)
    none = float(np.exp(log_none - highest))
    total = float(weight.sum())
    return grid + float(t_s[0]), weight / total, none / (none + total)


def _refine(t_s: FloatArray, temp_degc: FloatArray, noise_k: float, rough_s: float) -> Boundary:
    """Find the end within a few seconds of a rough one."""
    low, high = np.searchsorted(
        t_s, (rough_s - _SEARCH_S - _BEFORE_S, rough_s + _SEARCH_S + _AFTER_S + 1e-6)
    )
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
    ridge = np.diag(1.0 / _BEND_SD**2)
    for _ in range(2):
        precision = grams / variance + ridge
        inverse = np.linalg.inv(precision)
        means = np.einsum("cij,cj->ci", inverse, rights) / variance
        misfit = power / variance - np.einsum("ci,ci->c", means, rights) / variance
        variance *= noise_excess(float(misfit.min()), len(u) - 5)
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
