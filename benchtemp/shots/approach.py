"""Where a plateau begins: the last moment at which the probe still climbs faster than 0.25 °C/s.

Model: on its way onto the plateau the probe follows `a + b t + c t² + A exp(-t/τ1) + B exp(-t/τ2)`. One
exponential is a probe or a puck catching up, the second a hump, a second lag or a rounded rise. The two time
constants run over a grid; for each pair the other coefficients and their covariance come from linear least
squares with weak priors, and the pairs are weighted by how well they explain the readings (marginal
likelihood). What is asked of this mixture is the chance that the slope is above 0.25 °C/s at each moment,
from which the start's expectation and standard deviation follow. Under Gaussian noise and within the model no
estimator has a smaller mean square error; a finite difference of the readings needs several times as many of
them.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, hypot, sqrt

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.climbs import CLIMB_K_PER_S, Climb
from benchtemp.shots.statistics import median

_TAUS_S = np.geomspace(0.3, 12.0, 9)
_PAIRS = np.array([(i, j) for i in range(len(_TAUS_S)) for j in range(i + 2, len(_TAUS_S))])
_COLUMNS = np.hstack((np.tile((0, 1, 2), (len(_PAIRS), 1)), _PAIRS + 3))
"""Which of level, slope, curvature and all the exponentials each pair's fit is made of."""
_PRIOR_SD = np.array([100.0, 0.1, 0.003, 12.0, 12.0])
"""Of level (K), slope (K/s), curvature (K/s²) and the two exponentials' sizes at the window's beginning
(K)."""
_PRIOR_RIDGE = np.diag(1.0 / _PRIOR_SD**2)
_WINDOWS = ((6.0, 15.0), (3.0, 8.0), (1.5, 5.0), (0.8, 3.5))
"""How far below the plateau (K) the fitted part of the rise begins, and how long after the rise it goes on
(s)."""
_LATEST_S = 9.0
"""The start lies no further than this behind the middle of the last stretch that surely climbs."""
GOOD_EXCESS = 1.1
EXCESS_WORTH_IT = 1.15
"""By so much the residuals must differ from the noise known beforehand to fit anew."""
MODEL_FACTOR = 1.3
MODEL_LEAST_S = 0.1
"""No trace follows the model quite: by how much what noise alone would allow is widened."""
_PRIOR_FREEDOM = 10.0


@dataclass(frozen=True, slots=True)
class Boundary:
    """One end of a plateau.

    Attributes:
        t_s: When.
        uncertainty_s: Its standard uncertainty from noise and sampling.
        temp_degc: The fitted temperature at that moment, on the plateau's side.
    """

    t_s: float
    uncertainty_s: float
    temp_degc: float


def noise_excess(misfit: float, freedom: int) -> float:
    """Return by how much the variance of the readings must be corrected after a fit.

    The noise is known beforehand from how readings differ from their neighbours; a fit's own residuals say
    more the more of them there are. A model that cannot follow the trace is thus believed no more than it
    deserves.

    Args:
        misfit: Sum of squared residuals in units of the variance known beforehand.
        freedom: Readings less parameters.
    """
    return (_PRIOR_FREEDOM + misfit) / (_PRIOR_FREEDOM + max(freedom, 0))


def worth_fitting_anew(excess: float) -> bool:
    """Tell whether the noise differs enough from what was known beforehand to change a fit."""
    return not 1.0 / EXCESS_WORTH_IT < excess < EXCESS_WORTH_IT


def find_start(t_s: FloatArray, temp_degc: FloatArray, noise_k: float, climb: Climb) -> Boundary:
    """Find the plateau's start in a trace that runs from before the rise to the plateau's end.

    Args:
        t_s: Times of clean readings, shape (n,).
        temp_degc: Their temperatures.
        noise_k: Standard deviation of one reading.
        climb: What `last_climb` found in these readings.
    """
    last = climb.index
    best: tuple[float, _Mixture, int, int] | None = None
    for reach_k, after_s in _WINDOWS:
        first, stop = _window(t_s, temp_degc, noise_k, last, (max(reach_k, 15.0 * noise_k), after_s))
        u = t_s[first:stop] - t_s[first]
        if len(u) < 4:
            continue
        fit = _Mixture(u, temp_degc[first:stop] - temp_degc[stop - 1], noise_k)
        if best is None or fit.excess < best[0]:
            best = fit.excess, fit, first, stop
        if fit.excess < GOOD_EXCESS:
            break
    if best is None:
        return Boundary(float(t_s[last]), float(t_s[-1] - t_s[0]) / sqrt(12.0), float(temp_degc[last]))
    _, fit, first, stop = best
    until_s = min(float(t_s[stop - 1]), climb.middle_s + _LATEST_S)
    start_u, uncertainty_s = fit.last_climb(until_s - float(t_s[first]), climb.since_s - float(t_s[first]))
    uncertainty_s = hypot(MODEL_FACTOR * uncertainty_s, MODEL_LEAST_S)
    return Boundary(
        float(t_s[first]) + start_u, uncertainty_s, float(temp_degc[stop - 1]) + fit.temp_at(start_u)
    )


def _window(
    t_s: FloatArray, temp_degc: FloatArray, noise_k: float, last: int, size: tuple[float, float]
) -> tuple[int, int]:
    """Choose the readings to fit: from the late part of the rise to well onto the plateau."""
    reach_k, after_s = size
    stop = int(t_s.searchsorted(t_s[last] + after_s))
    stop = min(len(t_s), max(stop, last + 5))
    level_degc = median(temp_degc[last : min(stop, last + 1 + (stop - last + 1) // 2)])
    below = np.flatnonzero(temp_degc[: last + 1] < level_degc - reach_k)
    first = int(below[-1]) + 1 if len(below) else 0
    first = min(max(first, int(t_s.searchsorted(t_s[last] - 12.0))), last)
    # Not past the foot of this last climb, nor the steepest part of it: before that something else went on.
    backwards, readings = smoothed(t_s[first : last + 1], temp_degc[first : last + 1])
    backwards = backwards[::-1]
    lowest = np.minimum.accumulate(backwards)
    fell = np.flatnonzero(backwards > lowest + 4.0 * noise_k / sqrt(readings) + 0.05)
    reach = int(fell[0]) if len(fell) else len(backwards)
    first = last - int(np.argmin(backwards[:reach]))
    if last - first >= 2:
        span = max(1, int(t_s.searchsorted(t_s[first] + 0.6)) - first)
        if last + 1 - first > span:
            climb = (temp_degc[first + span : last + 1] - temp_degc[first : last + 1 - span]) / (
                t_s[first + span : last + 1] - t_s[first : last + 1 - span]
            )
            first += int(np.argmax(climb))
    return max(0, min(first, last - 1)), stop


def smoothed(t_s: FloatArray, temp_degc: FloatArray, reach_s: float = 0.5) -> tuple[FloatArray, float]:
    """Return means of what lies within a reach of each reading, and how many readings a mean usually holds.

    Args:
        t_s: Times, shape (n,), n at least 1.
        temp_degc: Temperatures.
        reach_s: To either side.
    """
    low = t_s.searchsorted(t_s - reach_s - 1e-6)
    high = t_s.searchsorted(t_s + reach_s + 1e-6)
    sums = np.concatenate(([0.0], np.cumsum(temp_degc - temp_degc[0])))
    return temp_degc[0] + (sums[high] - sums[low]) / (high - low), median(high - low)


class _Mixture:
    """The weighted family of fits."""

    def __init__(self, u: FloatArray, y: FloatArray, noise_k: float) -> None:
        waves = np.exp(-u[:, None] / _TAUS_S)
        columns = np.hstack((np.ones((len(u), 1)), u[:, None], (u * u)[:, None], waves))
        gram = columns.T @ columns
        right = columns.T @ y
        grams = gram[_COLUMNS[:, :, None], _COLUMNS[:, None, :]]
        rights = right[_COLUMNS]
        power = float(y @ y)
        variance = noise_k**2
        self.excess = 0.0
        while True:
            precision = grams / variance + _PRIOR_RIDGE
            inverse = np.linalg.inv(precision)
            means = np.einsum("cij,cj->ci", inverse, rights) / variance
            misfit = power / variance - np.einsum("ci,ci->c", means, rights) / variance
            best = float(misfit.min())
            if self.excess:
                break
            self.excess = noise_excess(best, len(u) - 4)
            if not worth_fitting_anew(self.excess):
                break
            variance *= self.excess
        _, log_det = np.linalg.slogdet(precision)
        log_weight = -0.5 * (misfit - best) - 0.5 * log_det
        log_weight -= log_weight.max()
        keep = np.flatnonzero(log_weight > -5.5)
        weight = np.exp(log_weight[keep])
        self._weight = weight / weight.sum()
        self._means = means[keep]
        self._cov = inverse[keep]
        self._tau_s = _TAUS_S[_PAIRS[keep]]

    def last_climb(self, to_u: float, climbing_u: float) -> tuple[float, float]:
        """Return expectation and standard deviation of the last moment with a slope above the limit.

        Args:
            to_u: It lies before this.
            climbing_u: It lies after this, whatever the fit says.
        """
        grid_s = np.arange(max(0.0, climbing_u), max(to_u, climbing_u) + 0.05, 0.1)
        rows = np.empty((len(self._weight), len(grid_s), 5))
        rows[:, :, 0] = 0.0
        rows[:, :, 1] = 1.0
        rows[:, :, 2] = 2.0 * grid_s
        rows[:, :, 3:] = -np.exp(-grid_s[None, :, None] / self._tau_s[:, None, :]) / self._tau_s[:, None, :]
        slope = np.matmul(rows, self._means[:, :, None])[:, :, 0]
        spread = np.sqrt(np.maximum(np.einsum("cgi,cgi->cg", np.matmul(rows, self._cov), rows), 1e-12))
        chance = self._weight @ _normal_share((slope - CLIMB_K_PER_S) / spread)
        later = np.maximum.accumulate(chance[::-1])[::-1]
        later[0] = 1.0
        step_s = float(grid_s[1] - grid_s[0]) if len(grid_s) > 1 else 0.1
        expected = float(later.sum()) * step_s - 0.5 * step_s
        square = 2.0 * float(((grid_s - grid_s[0]) * later).sum()) * step_s
        return float(grid_s[0]) + max(expected, 0.0), sqrt(max(square - expected**2, 0.0) + step_s**2 / 12.0)

    def temp_at(self, u: float) -> float:
        """Return the fitted temperature at a moment, relative to the level given."""
        value = 0.0
        fits = zip(self._weight.tolist(), self._means.tolist(), self._tau_s.tolist(), strict=True)
        for weight, (level, slope, curve, size1, size2), (tau1, tau2) in fits:
            value += weight * (
                level + slope * u + curve * u * u + size1 * exp(-u / tau1) + size2 * exp(-u / tau2)
            )
        return value


def _normal_share(z: FloatArray) -> FloatArray:
    """Return the normal distribution function to 2e-4: a logistic with a cubic term (from memory)."""
    z = np.clip(z, -8.0, 8.0)
    return 1.0 / (1.0 + np.exp(-z * (1.5976 + 0.070566 * z * z)))
