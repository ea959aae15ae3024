"""What a live trace that falls may be: the plateau's end, a pressure dip, the far side of a hump, or noise.

Each of them is a family of templates, added to a plateau that may slope and curve a little, for every moment
at which the fall may have begun. Least squares gives each template its size and its misfit; with the noise as
found in the misfit itself these become weights (a Student t likelihood, flat in the size). Their sums say how
likely the end is against the rest, and since when it lasts. Nothing here knows the future, and the same
trail gives the same answer to the last bit.
"""

from __future__ import annotations

from math import exp, log, pi
from typing import NamedTuple

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.trail import Trail

BEFORE_S = 7.0
"""How much of the plateau before the oldest moment is looked at."""
OLDEST_S = 7.0
FINE_UNTIL_S = 4.0
YOUNGEST_S = 0.4
"""A fall began at most so long ago; up to here the moments tried stand close together; and at least."""
SLOPE_SD_K_PER_S = 0.1
CURVATURE_SD = 0.007
"""How plateaus usually slope, and curve (K/s²): standard deviations about none."""
LAGS_S = (0.0, 0.4)
"""Time constants of the probe: how an end's corner is rounded."""
DIP_FALLS_S = (1.2, 2.0, 2.8)
"""How long a dip falls before it comes back the same way."""
SLOW_LEAST_S = 3.0
RATE_RANGE = 0.8
LEAST_RATE = 0.15
"""Sizes thought of for any fall (K/s), and the least that is an end's."""
NOISE_READINGS = 4.0
"""What the running estimate of the noise weighs, in cells."""
DIP_SHARE = 0.45
SHARP_DIPS = 2.8
DIP_LASTS_S = 2.25
DIP_DEEPEST_K = 2.8
"""Dips against ends before anything is seen; how many fall in a straight line; how long and how deep most."""
USUAL_PULL_S = 25.0
AGEING = 5.0
AGES_FROM_S, AGES_TO_S = 10.0, 40.0
"""A pull ends the likelier the longer it has run, while a dip may come at any time. `DIP_SHARE` holds for a
fall that begins so long after pump on, and changes with this power of the time, within these bounds. Common
practice: most pulls take 20 to 40 s."""
NO_FALL = 64.0
SLOW_FALLS = 29.0
SLOW_FROM_S = 3.1
"""Weight of there being no fall at all, and of one that sets in slowly once an end would be so old."""
IN_TIME_S = 2.87
IN_TIME_SPREAD_S = 0.2
"""An end found out when it is older than this, give or take, is found out late."""

_ENDS, _DIPS = len(LAGS_S), len(DIP_FALLS_S)


class Fall(NamedTuple):
    """A fall and what it may be.

    Attributes:
        began_s: When it began, if it is the plateau's end.
        age_s: How long ago that is.
        rate: How fast it falls then, K/s.
        depth_k: How far it has fallen.
        end_chance: How likely it is the end.
        late_chance: How likely it is one that the next cell would find out too late.
    """

    began_s: float
    age_s: float
    rate: float
    depth_k: float
    end_chance: float
    late_chance: float


def weigh_fall(trail: Trail, pump_on_s: float, from_s: float, oldest_s: float = OLDEST_S) -> Fall | None:
    """Weigh what a fall of the last seconds may be; None where nothing like an end is among it.

    Args:
        trail: The last seconds.
        pump_on_s: When the pull began.
        from_s: Nothing before it is used.
        oldest_s: It began at most so long ago.
    """
    if trail.last is None or len(trail.t_s) < 5:
        return None
    now_s = trail.last[0]
    t_s = np.array(trail.t_s)
    low = int(np.searchsorted(t_s, max(from_s, now_s - BEFORE_S - oldest_s)))
    u = t_s[low:] - now_s
    if len(u) < 5:
        return None
    y = np.array(trail.temp_degc[low:]) - trail.temp_degc[-1]
    noise_k = max(trail.noise_k, 0.01)
    age_s, found = _likelihood(u, y, noise_k, oldest_s)
    cell_s = trail.t_s[-1] - trail.t_s[-2]
    return _judge(age_s, found, now_s, now_s - pump_on_s, cell_s)


def _moments(u: FloatArray, oldest_s: float) -> tuple[FloatArray, FloatArray]:
    """Return how long ago the fall may have begun, and how much time each of these moments stands for."""
    cell_s = max(float(u[-1] - u[0]) / (len(u) - 1), 0.05)
    fine_s = max(0.2, 0.33 * cell_s)
    oldest_s = min(oldest_s, -float(u[2]))
    first_s = max(YOUNGEST_S, -float(u[-1]) + 0.6 * cell_s)
    fine = np.arange(first_s, min(FINE_UNTIL_S, oldest_s), fine_s)
    coarse = np.arange(max(FINE_UNTIL_S, first_s), oldest_s, 3.0 * fine_s)
    return np.concatenate((fine, coarse)), np.repeat((fine_s, 3.0 * fine_s), (len(fine), len(coarse)))


def _templates(u: FloatArray, ages_s: FloatArray) -> FloatArray:
    """Return falls of about 1 K/s, shape (kinds, moments, cells): ends, dips, one that sets in slowly."""
    v = np.maximum(u + ages_s[:, None], 0.0)
    ends = [v if lag_s == 0.0 else v - lag_s * (1.0 - np.exp(v / -lag_s)) for lag_s in LAGS_S]
    dips = [0.32 * fall_s * (1.0 - np.cos(np.minimum(v / fall_s, 2.0) * pi)) for fall_s in DIP_FALLS_S]
    return np.stack((*ends, *dips, 0.25 * v * v))


def _plateau(u: FloatArray, noise_k: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return an orthonormal basis of level, slope and curvature, shape (3, cells + 2).

    Two more observations, of no slope and no curvature, hold both to what is usual.
    """
    w = u - 0.5 * u[0]
    count = len(u)
    rows = np.zeros((3, count + 2))
    rows[0, :count] = 1.0
    rows[1, :count] = w
    rows[2, :count] = w * w
    rows[1, count] = noise_k / SLOPE_SD_K_PER_S
    rows[2, count + 1] = noise_k / CURVATURE_SD
    for i in range(3):
        for j in range(i):
            rows[i] -= np.sum(rows[i] * rows[j]) * rows[j]
        rows[i] /= np.sqrt(np.sum(rows[i] * rows[i]))
    return rows[0, :count], rows[1, :count], rows[2, :count]


class _Chances(NamedTuple):
    """What the trace says of each template, up to a common factor.

    Attributes:
        rate: Size found for each template, K/s, shape (kinds, moments).
        chance: How likely each is, shape (kinds, moments).
        none: How likely no fall at all is.
    """

    rate: FloatArray
    chance: FloatArray
    none: float


def _likelihood(u: FloatArray, y: FloatArray, noise_k: float, oldest_s: float) -> tuple[FloatArray, _Chances]:
    """Fit every template; return how long ago each moment lies, and what the trace says."""
    age_s, apart_s = _moments(u, oldest_s)
    shapes = _templates(u, age_s)
    own = np.sum(shapes * shapes, axis=2)
    along = np.sum(shapes * y, axis=2)
    misfit = float(np.sum(y * y))
    for row in _plateau(u, noise_k):
        held = float(np.sum(row * y))
        part = np.sum(shapes * row, axis=2)
        misfit -= held * held
        own -= part * part
        along -= part * held
    own = np.maximum(own, 1e-9)
    rate = -along / own
    known = NOISE_READINGS * noise_k * noise_k
    freedom = len(u) + NOISE_READINGS - 3.0
    left = np.maximum(misfit - along * along / own, 0.0) + known
    sd = np.sqrt(left / freedom / own)
    weight = -0.5 * freedom * np.log(left) + np.log(np.minimum(sd / RATE_RANGE, 1.0))
    short = np.minimum((rate[:_ENDS] - LEAST_RATE) / sd[:_ENDS], 0.0)
    weight[:_ENDS] -= 0.5 * short * short
    weight[rate <= 0.0] = -np.inf
    none = -0.5 * freedom * log(max(misfit, 0.0) + known)
    best = max(float(weight.max(initial=none)), none)
    return age_s, _Chances(rate, np.exp(weight - best) * apart_s, exp(none - best))


def _judge(age_s: FloatArray, found: _Chances, now_s: float, running_s: float, cell_s: float) -> Fall | None:
    """Sum up what the templates say, of a pull that began so long ago; None where no end is among them."""
    lags_s, tops_s = np.array(LAGS_S)[:, None], np.array(DIP_FALLS_S)[:, None]
    end, dip, slow = np.split(found.chance, (_ENDS, _ENDS + _DIPS))
    end_rate, dip_rate, _ = np.split(found.rate, (_ENDS, _ENDS + _DIPS))
    end = end / _ENDS
    total = float(end.sum())
    if total <= 0.0:
        return None
    mean_s = float((end * age_s).sum()) / total
    depth_k = end_rate * np.maximum(age_s - lags_s, 0.0)
    # A dip that falls in a straight line looks like an end for as long as it falls.
    lasting_s = np.maximum(age_s - 0.5 * lags_s, 0.0)
    unturned = np.exp(-((lasting_s / DIP_LASTS_S) ** 4.4) - (depth_k / DIP_DEEPEST_K) ** 4)
    dip_k = 0.64 * dip_rate * np.minimum(age_s, tops_s)
    shallow = np.exp(-((dip_k / DIP_DEEPEST_K) ** 4))
    dips = float((dip * shallow).sum()) / _DIPS + SHARP_DIPS * float((end * unturned).sum())
    ran_s = min(max(running_s - mean_s, AGES_FROM_S), AGES_TO_S)
    other = DIP_SHARE * (USUAL_PULL_S / ran_s) ** AGEING * dips + NO_FALL * found.none
    if mean_s > SLOW_FROM_S:
        other += SLOW_FALLS * float(slow[:, age_s >= SLOW_LEAST_S].sum())
    too_late = np.minimum(np.maximum((age_s + cell_s - IN_TIME_S) / IN_TIME_SPREAD_S + 0.5, 0.0), 1.0)
    return Fall(
        now_s - mean_s,
        mean_s,
        float((end * end_rate).sum()) / total,
        float((end * depth_k).sum()) / total,
        total / (total + other),
        float((end * too_late).sum()) / (total + other),
    )
