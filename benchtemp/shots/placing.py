"""Exactly when a plateau was left, once it is known to a few seconds.

The model: a plateau (level, slope, curvature and what is left of the approach), and from one moment on a fall
that slows down as the basket cools, at once or through a probe's lag. How fast it falls is thought of as any
of three speeds, give or take. The moment runs over a fine grid, everything else is linear least squares with
priors, and the marginal likelihoods give the moment's expectation and standard deviation.

What makes the difference to a bend between two free curves is the priors: plateaus hardly slope and hardly
curve, and falls begin at their full speed. With them the long stretches to either side count, and a slow fall
in noise is found about as well as the noise allows.
"""

from __future__ import annotations

from math import hypot, sqrt

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.approach import (
    GOOD_EXCESS,
    MODEL_LEAST_S,
    Boundary,
    noise_excess,
    worth_fitting_anew,
)
from benchtemp.shots.bends import FADES_S, RATES_K_PER_S
from benchtemp.shots.segments import cell_means

LEAST_REACH_S = 1.8
LONGEST_REACH_S = 6.0
"""How far to either side of where it is sent the search reaches: even if it is sent there with certainty, and
at most; in between, four standard deviations and a little more."""
STEP_S = 0.2
COARSE_STEP_S = 0.4
COARSE_FROM_S = 3.0
"""Steps of the search, and from which reach on the coarser one will do."""
KNOWN_S = 0.4
"""An end known as well as this bends so sharply that the longest stretch to either side adds little."""
WINDOWS = ((22.0, 22.0, 0.5), (12.0, 12.0, 0.25), (8.0, 5.0, 0.25), (5.0, 2.5, 0.25))
"""How much before and after the search is fitted, averaged over how long, in s; the first only where the end
is not known within `KNOWN_S`, the later ones where the trace does not follow the model so far."""
FALLS_S = np.array([8.0, 60.0])
"""Time constants of falls: a basket in a draught, one in a hot group."""
LAG_S = 0.45
LAG_CHANCE = 0.35
"""Time constant of the lag with which a probe rounds the corner, and how likely, beforehand, it is."""
RATE_SPREAD = 0.7
"""Standard deviation of a fall's speed, as a share of the speed thought of (`RATES_K_PER_S`)."""
_LEFT_SD = np.array([100.0, 0.025, 0.0008, 1.0, 1.0, 1.0])
"""How far from nought, as a standard deviation, they are beforehand: the plateau's level (K; free), slope
(K/s), curvature (K/s²) and what is left of its approach where the fit begins (K, one for each of
`FADES_S`)."""
_LEFT_RIDGE = np.diag(1.0 / _LEFT_SD**2)
_RATES = RATES_K_PER_S[:, None, None]
_RATE_PRECISION = 1.0 / (RATE_SPREAD * _RATES) ** 2
_LOG_KIND_CHANCES = np.log((1.0 - LAG_CHANCE, LAG_CHANCE) * len(FALLS_S))[:, None]


def place_bend(
    t_s: FloatArray, temp_degc: FloatArray, noise_k: float, rough_s: float, spread_s: float
) -> Boundary:
    """Find a bend within a few seconds of a rough one.

    Args:
        t_s: Times of clean readings, from the plateau to well after the bend, shape (n,), n at least 1.
        temp_degc: Their temperatures.
        noise_k: Standard deviation of one reading, more than 0.
        rough_s: Where to look.
        spread_s: How well that is known already, as a standard deviation.

    Returns: the bend; the rough one where fewer than six readings lie about it.
    """
    search_s = min(LONGEST_REACH_S, max(LEAST_REACH_S, 4.0 * spread_s + 0.8))
    best: tuple[float, Boundary] | None = None
    for before_s, after_s, cell_s in WINDOWS[0 if spread_s > KNOWN_S else 1 :]:
        low, high = t_s.searchsorted((rough_s - search_s - before_s, rough_s + search_s + after_s + 1e-6))
        if high - low < 6:
            continue
        level_degc = float(temp_degc[min(max(low, int(t_s.searchsorted(rough_s))), high - 1)])
        cells_s, cells_degc, size = cell_means(t_s[low:high], temp_degc[low:high], cell_s)
        excess, at, spread, temp = _bend(
            cells_s - rough_s, cells_degc - level_degc, size / noise_k**2, search_s
        )
        spread = hypot(spread, MODEL_LEAST_S)
        found = Boundary(rough_s + at, spread, level_degc + temp)
        if best is None or excess < best[0]:
            best = excess, found
        if excess < GOOD_EXCESS:
            break
    if best is None:
        return Boundary(rough_s, max(1.0, spread_s), float(np.interp(rough_s, t_s, temp_degc)))
    return best[1]


def _bend(
    u: FloatArray, y: FloatArray, precision: FloatArray, search_s: float
) -> tuple[float, float, float, float]:
    """Fit a plateau that is left from one moment on, at once or with a probe's lag.

    Args:
        u: Times about the rough end, shape (n,), n at least 6.
        y: Temperatures less some level.
        precision: One over the variance of each.
        search_s: How far from the rough end the moment may lie.

    Returns: (excess of the residuals' variance, the moment, its standard uncertainty, temperature at the
    moment).
    """
    step_s = STEP_S if search_s <= COARSE_FROM_S else COARSE_STEP_S
    low_s, high_s = max(-search_s, float(u[0]) + 1.0), min(search_s, float(u[-1]))
    moments = np.arange(low_s, high_s + 1e-9, step_s)
    if not len(moments):
        moments = np.zeros(1)
    v = u - u[0]
    left = np.concatenate((np.stack((np.ones(len(u)), u, u * u)), np.exp(-v / FADES_S[:, None])))
    falls = _falls(u, moments)
    left_p, falls_p = left * precision, falls * precision
    left_left, left_y = left_p @ left.T, left_p @ y
    falls_left, falls_y = falls_p @ left.T, falls_p @ y
    own = np.einsum("kmn,kmn->km", falls_p, falls)
    power = float(precision @ (y * y))
    scale, excess = 1.0, 0.0
    while True:
        inverse = np.linalg.inv(left_left * scale + _LEFT_RIDGE)
        left_mean = inverse @ left_y * scale
        none_misfit = scale * (power - float(left_mean @ left_y))
        weight = own * scale - np.einsum("kmi,kmi->km", falls_left @ inverse, falls_left) * scale**2
        along = (falls_y - falls_left @ left_mean) * scale
        # One row for each of the rates a fall may have.
        of_rates = weight + _RATE_PRECISION
        rate = (along + _RATES * _RATE_PRECISION) / of_rates
        gain = 0.5 * (rate * rate * of_rates - 1.0 / RATE_SPREAD**2)
        if excess:
            break
        excess = noise_excess(none_misfit - 2.0 * float(gain.max()), len(u) - 5)
        if not worth_fitting_anew(excess):
            break
        scale /= excess
    log_weight = gain + 0.5 * np.log(_RATE_PRECISION / of_rates) + _LOG_KIND_CHANCES
    chances = np.exp(log_weight - log_weight.max())
    chances /= chances.sum()
    chance = chances.sum(axis=(0, 1))
    at = float(chance @ moments)
    spread = sqrt(float(chance @ (moments - at) ** 2) + step_s**2 / 12.0)
    # The plateau without what the likeliest fall takes from it, at the moment.
    _, kind, moment = chosen = np.unravel_index(int(np.argmax(chances)), chances.shape)
    level = inverse @ (left_y - falls_left[kind, moment] * rate[chosen]) * scale
    fade = np.exp((float(u[0]) - at) / FADES_S)
    return excess, at, spread, float(level[:3] @ (1.0, at, at * at) + level[3:] @ fade)


def _falls(u: FloatArray, moments: FloatArray) -> FloatArray:
    """Return falls of 1 K/s that slow down, at once and with a lag, shape (kinds, moments, cells)."""
    v = np.maximum(u - moments[:, None], 0.0)
    lagging = np.exp(v / -LAG_S)
    falls = []
    for fall_s in FALLS_S:
        fading = np.exp(v / -fall_s)
        falls += [
            fall_s * (fading - 1.0),
            fall_s * ((fall_s * fading - LAG_S * lagging) / (fall_s - LAG_S) - 1.0),
        ]
    return np.stack(falls)
