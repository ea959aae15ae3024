"""The water's temperature behind a lagging probe: a second, estimated curve beside the reading.

A first-order probe follows `tau * dT/dt = water - T`. Solving that for the water by differentiating readings
would blow
up their noise, so it is never done: of all water temperatures that explain the readings within their noise,
the one that bends least is taken (Tikhonov regularisation with the discrepancy principle; standard textbook
method, from memory). The brew temperature is always computed from the readings, never from this curve.
"""

from __future__ import annotations

from math import isfinite, sqrt
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from benchtemp.errors import BadInput
from benchtemp.probes.noise import noise_of

FloatArray = npt.NDArray[np.float64]

LABEL = "water temperature, lag removed (estimate)"
_LEAST_READINGS = 12
_WEIGHT_DECADES = (-6.0, 12.0)
_RIDGE = 1e-9
"""Keeps the system solvable across a gap in the readings."""
_MOST_POINTS = 100_000


class LagRemoved(NamedTuple):
    """The estimated curve.

    Attributes:
        temp_degc: Water temperature at the readings' times, °C, shape (n,), NaN where there is no reading.
        tau_s: Time constant it was worked out with.
        noise_k: Noise of one reading it was held to, standard deviation.
        noise_gain: How many times noisier a point of this curve is than a reading, for independent noise, far
            from the ends; below 1 it is smoother.
        label: What to call it.
    """

    temp_degc: FloatArray
    tau_s: float
    noise_k: float
    noise_gain: float
    label: str = LABEL


class _Problem:
    """Readings, the lag between water and probe, and the bends of the water's temperature.

    Unknown is the probe's own temperature x on an even grid. The water is constant over each grid interval,
    `w[k] = (x[k+1] - e x[k]) / (1 - e)` with `e = exp(-step / tau)`, and the probe between two grid points
    follows from it exactly, so a reading touches two neighbouring x wherever it falls. The bend of the water
    is the second difference of w and touches four. Both make a system with four diagonals.
    """

    def __init__(self, t: FloatArray, temp: FloatArray, tau_s: float) -> None:
        usual_s = float(np.median(np.diff(t)))
        step_s = max(min(usual_s, tau_s), float(t[-1] - t[0]) / _MOST_POINTS)
        n = max(int(np.ceil(float(t[-1] - t[0]) / step_s)) + 1, 5)
        self.readings = temp
        self.size = n
        self.decay = float(np.exp(-step_s / tau_s))
        self.middle = t[0] + step_s * (np.arange(n - 1) + 0.5)
        self.interval: npt.NDArray[np.int64] = np.minimum(((t - t[0]) / step_s).astype(np.int64), n - 2)
        reached: FloatArray = -np.expm1(-(t - t[0] - step_s * self.interval) / tau_s) / (1.0 - self.decay)
        self.shares: tuple[FloatArray, FloatArray] = (1.0 - reached, reached)
        self.bands = np.zeros((4, n))
        np.add.at(self.bands[3], self.interval, self.shares[0] ** 2)
        np.add.at(self.bands[3], self.interval + 1, self.shares[1] ** 2)
        np.add.at(self.bands[2], self.interval + 1, self.shares[0] * self.shares[1])
        # Second difference of w, w being (x[k+1] - e x[k]) / (1 - e); the division goes into the weight.
        bend = np.convolve((1.0, -2.0, 1.0), (-self.decay, 1.0))
        self.penalty = np.zeros((4, n))
        for off in range(4):
            for at in range(4 - off):
                self.penalty[3 - off, at + off : at + off + n - 3] += bend[at] * bend[at + off]
        self.right_side = self.spread(temp)

    def spread(self, values: FloatArray) -> FloatArray:
        """Return values at the readings gathered on the grid, each by its shares."""
        gathered = np.zeros(self.size)
        np.add.at(gathered, self.interval, self.shares[0] * values)
        np.add.at(gathered, self.interval + 1, self.shares[1] * values)
        return gathered

    def probe(self, weight: float, right_side: FloatArray) -> FloatArray:
        """Solve (readings + weight * bends) x = right_side on the grid."""
        from scipy.linalg import solveh_banded  # noqa: PLC0415  late: keeps scipy out of the start-up time

        bands = self.bands + weight * self.penalty
        bands[3] += _RIDGE
        solved = solveh_banded(bands, right_side, check_finite=False)
        return np.asarray(solved, dtype=np.float64)

    def at_readings(self, probe: FloatArray) -> FloatArray:
        """Return the probe's temperature at the readings' times."""
        return self.shares[0] * probe[self.interval] + self.shares[1] * probe[self.interval + 1]

    def water(self, probe: FloatArray) -> FloatArray:
        """Return the water's temperature in the middle of each grid interval."""
        return (probe[1:] - self.decay * probe[:-1]) / (1.0 - self.decay)

    def misfit_k(self, weight: float) -> float:
        """Return how far the explained readings lie from the real ones, root mean square."""
        away = self.readings - self.at_readings(self.probe(weight, self.right_side))
        return sqrt(float(away @ away) / away.size)

    def gain_at(self, weight: float, t_s: float) -> float:
        """Return the noise gain of the curve at a time: the length of its row of the linear map."""
        place = (t_s - self.middle[0]) / (self.middle[1] - self.middle[0])
        interval = min(max(int(place), 0), self.size - 3)
        row = np.zeros(self.size)
        for at, share in ((interval, 1.0 - (place - interval)), (interval + 1, place - interval)):
            row[at] -= share * self.decay / (1.0 - self.decay)
            row[at + 1] += share / (1.0 - self.decay)
        return float(np.linalg.norm(self.at_readings(self.probe(weight, row))))


def remove_lag(
    t_s: FloatArray, temp_degc: FloatArray, tau_s: float, *, noise_k: float | None = None
) -> LagRemoved:
    """Return the water's temperature estimated from a lagging probe's readings.

    Args:
        t_s: Times, shape (n,), increasing.
        temp_degc: Readings in °C, shape (n,), NaN where there is none.
        tau_s: The probe's time constant, see `response.measure_time_constant`. Readings should come at least
            twice in it; a shorter lag is hidden between them.
        noise_k: Standard deviation of one reading; found from the readings where not given.

    Raises:
        BadInput: Too few readings, times that do not increase, or a time constant that cannot be.
    """
    if not (isfinite(tau_s) and 0.0 < tau_s <= 120.0):
        raise BadInput(
            f"A time constant of {tau_s:g} s cannot be; measure it by a plunge, or give seconds such as 1.5."
        )
    given = np.isfinite(temp_degc)
    t, temp = t_s[given], temp_degc[given]
    if t.size < _LEAST_READINGS:
        raise BadInput(f"Removing the lag takes at least {_LEAST_READINGS} readings, and there are {t.size}.")
    if not np.all(np.diff(t) > 0.0):
        raise BadInput(
            "The lag cannot be removed from readings whose times do not increase; check the recording."
        )
    level = float(temp.mean())
    problem = _Problem(t, temp - level, tau_s)
    noise = noise_of(temp) if noise_k is None else noise_k
    low, high = _WEIGHT_DECADES
    while high - low > 0.02:
        middle = 0.5 * (low + high)
        if problem.misfit_k(10.0**middle) < noise:
            low = middle
        else:
            high = middle
    weight = 10.0**low
    water = problem.water(problem.probe(weight, problem.right_side)) + level
    curve = np.full(temp_degc.shape, np.nan)
    curve[given] = np.interp(t, problem.middle, water)
    inside = t[np.linspace(0.3 * t.size, 0.7 * t.size, 5).astype(int)]
    gains = [problem.gain_at(weight, float(at)) for at in inside]
    return LagRemoved(curve, tau_s, noise, float(np.median(gains)))
