"""Downward bends in a trace: where one may be, and where the sharpest is.

`search_bend` weighs every moment of a trace that begins on a plateau. Its model: a parabola and exponentials
that fade (the end of the approach, a hump), and from one moment on exponentials towards a lower level. The
moment runs over a grid, everything else is linear least squares with weak priors; the marginal likelihoods,
"no bend" among them, give the chance of each moment.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import erfc, log, pi, sqrt

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.approach import noise_excess, worth_fitting_anew
from benchtemp.shots.climbs import running_sums
from benchtemp.shots.segments import cell_means

SEARCH_STEP_S = 1.0
"""Distance of the moments that are weighed; `placing` finds the end between them."""
USUAL_PULL_S = 27.0
USUAL_SPREAD = 0.5
"""A weak expectation (log-normal) of how long after the climb began a pull ends: it decides only where the
trace itself leaves tens of seconds open. Common practice, no source."""
FLUSH_SHARE = 0.25
USUAL_FLUSH_S = 6.0
"""The same for flushes, and how many of all pulls they are."""
STOPPED_EARLY = 0.1
"""How likely, beforehand, it is that somebody stops a recording while the pump runs."""
CHANCE_OF_NO_END = 0.01
"""However long a trace goes on: the least chance, beforehand, that its pump still runs at its end."""
END_UNSEEN_S = 1.5
"""An end in the very last moments of a trace cannot be told from none."""
BEND_LOOK_S = 3.0
BEND_K_PER_S = 0.4
"""What counts as a sharp bend, and over how many seconds to either side."""
_CELL_S = 0.5
"""Readings are averaged over so long, half a step of the search."""
FADES_S = np.array([1.5, 4.0, 10.0])
"""Time constants of what is left of an approach, or of a hump, on a plateau."""
_FALLS_S = np.array([6.0, 40.0])
"""Time constants of what makes up a fall: a quick part and the basket's cooling."""
_FALLEN_SHARES = 1.0 - np.exp(-3.0 / _FALLS_S)
"""How much of each part is over after 3 s: a bend counts only if by then the trace is down on the whole."""
RATES_K_PER_S = np.array([0.1, 0.4, 1.6])
"""Speeds a fall may begin with, slow, middling and fast, in steps of four; the fit decides between them."""
_LEFT_SD = np.array([100.0, 0.05, 0.0006, 1.0, 1.0, 1.0])
"""How far from nought, as a standard deviation, they are beforehand: level (K; free), slope (K/s), curvature
(K/s²) and what fades (K)."""
_LEFT_RIDGE = np.diag(1.0 / _LEFT_SD**2)


@dataclass(frozen=True, slots=True, eq=False)
class Chances:
    """When a trace may have bent for good.

    Attributes:
        moments_s: A grid of times.
        chance: The chance of each, given that there is a bend; sums to 1.
        none: The chance that there is none.
        evidence: Logarithm of how much better the readings fit with a bend than without one.
    """

    moments_s: FloatArray
    chance: FloatArray
    none: float
    evidence: float


def search_bend(t_s: FloatArray, temp_degc: FloatArray, noise_k: float, rise_s: float) -> Chances | None:
    """Weigh every moment of a trace that begins on a plateau; None where there is too little of it.

    Args:
        t_s: Times of clean readings, shape (n,).
        temp_degc: Their temperatures.
        noise_k: Standard deviation of one reading.
        rise_s: When the pull's climb began.
    """
    if len(t_s) < 6:
        return None
    cell_s, cell_degc, size = cell_means(t_s, temp_degc, _CELL_S)
    if len(cell_s) < 6:
        return None
    return _weigh(cell_s, cell_degc, size / noise_k**2, rise_s)


def sharpest_bend(t_s: FloatArray, temp_degc: FloatArray, noise_k: float) -> int | None:
    """Return the reading about which the slope turns downwards the most, None where it does so nowhere."""
    count = len(t_s)
    if count < 6:
        return None
    u = t_s - t_s[0]
    sums = running_sums(u, temp_degc - temp_degc[0])
    here = np.arange(count)
    slopes, doubts = [], []
    for low, high in (
        (u.searchsorted(u - BEND_LOOK_S - 1e-6), here + 1),
        (here, u.searchsorted(u + BEND_LOOK_S + 1e-6)),
    ):
        n, su, sy, suu, suy = sums.take(high, axis=1) - sums.take(low, axis=1)
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


def _weigh(t_s: FloatArray, temp_degc: FloatArray, precision: FloatArray, rise_s: float) -> Chances:
    """Do the sums of `search_bend` on averaged readings with one over the variance of each."""
    u = t_s - t_s[0]
    y = temp_degc - temp_degc[0]
    count = len(u)
    grid = np.arange(0.0, max(float(u[-1]) - END_UNSEEN_S, 1.0), SEARCH_STEP_S)
    left = np.empty((6, count))
    left[0] = 1.0
    left[1] = u
    left[2] = u * u
    left[3:] = np.exp(-u / FADES_S[:, None])
    # 1 - exp(-(u - moment) / fall) after the moment, 0 before it, where it would be negative: an outer
    # product, so no exponential per cell.
    right = 1.0 - np.exp(grid / _FALLS_S[:, None])[:, :, None] * np.exp(-u / _FALLS_S[:, None])[:, None]
    np.maximum(right, 0.0, out=right)
    left_p, right_p = left * precision, right * precision
    left_left, left_y = left_p @ left.T, left_p @ y
    left_right = right_p @ left.T
    right_y = right_p @ y
    a = np.einsum("mn,mn->m", right_p[0], right[0])
    b = np.einsum("mn,mn->m", right_p[0], right[1])
    c = np.einsum("mn,mn->m", right_p[1], right[1])
    power = float(precision @ (y * y))
    prior_a, prior_c = (1.0 / (RATES_K_PER_S * _FALLS_S[:, None])[:, :, None]) ** 2
    scale = 1.0
    excess = 0.0
    while True:
        inverse = np.linalg.inv(left_left * scale + _LEFT_RIDGE)
        left_mean = inverse @ left_y * scale
        none_misfit = scale * (power - float(left_mean @ left_y))
        taken = left_right @ inverse * scale**2
        aa = a * scale - (taken[0] * left_right[0]).sum(axis=1)
        bb = b * scale - (taken[0] * left_right[1]).sum(axis=1)
        cc = c * scale - (taken[1] * left_right[1]).sum(axis=1)
        r = right_y * scale - left_right @ left_mean * scale
        # One row for each of the rates a fall may have.
        aa_prior, cc_prior = aa + prior_a, cc + prior_c
        det = aa_prior * cc_prior - bb * bb
        size_a = (cc_prior * r[0] - bb * r[1]) / det
        size_c = (aa_prior * r[1] - bb * r[0]) / det
        gain = 0.5 * (size_a * r[0] + size_c * r[1])
        misfit = none_misfit - 2.0 * float(gain.max())
        if excess:
            break
        excess = noise_excess(misfit, count - 6)
        if not worth_fitting_anew(excess):
            break
        scale /= excess
    fall = size_a * _FALLEN_SHARES[0] + size_c * _FALLEN_SHARES[1]
    of_rates = gain - 0.5 * np.log(det / (prior_a * prior_c)) - np.where(fall < 0.0, 0.0, 1e6)
    log_weight = np.logaddexp.reduce(of_rates, axis=0) - log(len(of_rates))
    log_weight[_rises_above(u, y, precision * scale, grid)] -= 1e6
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
    return Chances(grid + float(t_s[0]), weight / max(total, 1e-300), none / (none + total), evidence)


def _rises_above(
    u: FloatArray, y: FloatArray, precision: FloatArray, grid: FloatArray
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Tell of each moment whether the trace is higher later on: it was not left there for good."""
    sums = np.zeros((2, len(u) + 1))
    np.cumsum(precision, out=sums[0, 1:])
    np.cumsum(precision * y, out=sums[1, 1:])
    low, high = u.searchsorted((u - 1.01, u + 1.01))
    weight, total = sums.take(high, axis=1) - sums.take(low, axis=1)
    surely = total / weight - 2.0 / np.sqrt(weight)
    highest = np.maximum.accumulate(surely[::-1])[::-1]
    here = np.minimum(u.searchsorted(grid), len(u) - 1)
    later = np.minimum(u.searchsorted(grid + 2.0), len(u) - 1)
    return np.asarray(highest[later] > (total / weight + 1.0 / np.sqrt(weight))[here])
