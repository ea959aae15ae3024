"""A probe's time constant, measured by plunging it from one temperature into another.

The time constant is the time to 63.2 % (1 - 1/e) of a sudden step; a first-order sensor has reached 95 %
after three of them. It belongs to the medium: plunge into water, moving, at about the temperature of use.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log, sqrt

import msgspec
import numpy as np
import numpy.typing as npt

from benchtemp.errors import BadInput
from benchtemp.probes.noise import correlation_length, noise_of

FloatArray = npt.NDArray[np.float64]

REACHED_AT_TAU = 1.0 - exp(-1.0)
LEAST_STEP_K = 10.0
CAUTIONS = (
    "The water is hot: hold the probe by its cable or grip, and keep hands out of the steam.",
    "Plunge it into an open, wide pot that cannot tip, and not against the wall or the bottom.",
)
_LEAST_READINGS = 6
_LEAST_ON_THE_WAY = 4
_FIT_FROM = 0.1
"""Share of the step from which the exponential is fitted: before it the water is still closing around the
probe."""


class TimeConstant(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """What a plunge told.

    Attributes:
        tau_s: The time constant recommended: from the fitted exponential, s.
        uncertainty_s: Its standard uncertainty, s.
        crossing_s: Time from the plunge to 63.2 % of the step as read off the trace, s.
        plunge_s: When the probe met the water, on the trace's clock.
        start_degc, end_degc: Temperatures before and long after.
        scatter_k: Standard deviation of the readings about the exponential.
        first_order: Whether the trace follows an exponential well enough to be described by one number.
        measured: When, ISO 8601; empty where it was not noted.
    """

    tau_s: float
    uncertainty_s: float
    crossing_s: float
    plunge_s: float
    start_degc: float
    end_degc: float
    scatter_k: float
    first_order: bool = True
    measured: str = ""


def measure_time_constant(
    t_s: FloatArray, temp_degc: FloatArray, *, plunge_s: float | None = None, measured: str = ""
) -> TimeConstant:
    """Return the time constant from one plunge.

    The trace begins with the probe at rest, holds one plunge and goes on until the reading has settled again.
    To the readings beyond a tenth of the step an exponential is fitted with free end, size and time constant;
    where it leaves the level at rest is the moment of the plunge, unless that was marked.

    Args:
        t_s: Times, shape (n,), increasing.
        temp_degc: Readings in °C, shape (n,); NaN are left out.
        plunge_s: When the probe met the water, where that was marked; used for `crossing_s` alone.
        measured: When, kept with the result.

    Raises:
        BadInput: No plunge in the trace, too few readings on the way, or it ends before the reading has
            settled.
    """
    given = np.isfinite(temp_degc)
    t, temp = t_s[given], temp_degc[given]
    if t.size < 4 * _LEAST_READINGS:
        raise BadInput(
            "The trace holds too few readings for a time constant; start it well before the plunge."
        )
    tail = temp[-max(4, t.size // 10) :]
    end = float(np.median(tail))
    noise_k = noise_of(temp)
    rest = _readings_at_rest(temp, end, noise_k)
    start = float(np.median(temp[: max(rest, 1)]))
    height = end - start
    if abs(height) < LEAST_STEP_K:
        raise BadInput(
            f"The reading moved only from {start:.1f} to {end:.1f} °C; plunge the probe from room "
            "temperature into hot water."
        )
    if rest < 3:
        raise BadInput("The trace begins on the way; start it some seconds before the plunge.")
    half = tail.size // 2
    if abs(float(tail[half:].mean() - tail[:half].mean())) > 0.01 * abs(height) + 2.0 * noise_k:
        raise BadInput(
            "The trace ends before the reading has settled; leave the probe in the water for longer."
        )
    share = (temp - start) / height
    first = int(np.argmax(share >= _FIT_FROM))
    crossed = int(np.argmax(share >= REACHED_AT_TAU))
    if np.count_nonzero((share[first:] >= _FIT_FROM) & (share[first:] <= 0.95)) < _LEAST_ON_THE_WAY:
        raise BadInput(
            "The step is over within a reading or two: the interface sends too seldom to tell this probe's "
            "time constant; it is shorter than a few times the time between readings."
        )
    rough_s = max(float(t[crossed] - t[first]), float(np.median(np.diff(t))))
    until = int(np.searchsorted(t, t[first] + 12.0 * rough_s))
    tau, tau_u, fit_end, met_s, scatter_k = _fit(t[first:until], temp[first:until], rough_s, start, end)
    level = start + REACHED_AT_TAU * (fit_end - start)
    crossing_s = _crossing(t, temp, level, rising=height > 0.0) - (met_s if plunge_s is None else plunge_s)
    return TimeConstant(
        tau_s=tau,
        uncertainty_s=tau_u,
        crossing_s=crossing_s,
        plunge_s=met_s,
        start_degc=start,
        end_degc=fit_end,
        scatter_k=scatter_k,
        first_order=abs(crossing_s - tau) <= 0.1 * tau + 2.0 * tau_u
        and scatter_k <= 2.0 * noise_k + 0.005 * abs(height),
        measured=measured,
    )


def _readings_at_rest(temp: FloatArray, end_degc: float, noise_k: float) -> int:
    """Return how many readings stand before the probe leaves its rest, the last of them left out."""
    start = float(np.median(temp[:3]))
    away = np.abs(temp - start) > 0.02 * abs(end_degc - start) + 5.0 * noise_k
    return max(int(np.argmax(away)) - 1, 0)


def _fit(
    t: FloatArray, temp: FloatArray, rough_s: float, start_degc: float, end_degc: float
) -> tuple[float, float, float, float, float]:
    """Return time constant, its uncertainty, end level, moment of the plunge, scatter about the curve."""
    from scipy.optimize import least_squares  # noqa: PLC0415  late: keeps scipy out of the start-up time

    since = t - t[0]

    def residuals(p: FloatArray) -> FloatArray:
        away: FloatArray = p[0] - p[1] * np.exp(-since / p[2]) - temp
        return away

    begin = np.array([end_degc, end_degc - temp[0], rough_s])
    low, high = [-np.inf, -np.inf, 0.02 * rough_s], [np.inf, np.inf, 50.0 * rough_s]
    found = least_squares(residuals, begin, bounds=(low, high), x_scale=np.maximum(np.abs(begin), 1e-3))
    end, size, tau = (float(value) for value in found.x)
    scatter = sqrt(2.0 * float(found.cost) / max(t.size - 3, 1))
    jacobian = np.asarray(found.jac, dtype=np.float64)
    covariance = np.linalg.pinv(jacobian.T @ jacobian) * scatter**2
    # Readings that are wrong together (stirring, steps) carry less than their number says.
    tau_u = sqrt(float(covariance[2, 2]) * correlation_length(residuals(found.x)))
    met_s = (
        float(t[0]) + tau * log(size / (end - start_degc)) if size / (end - start_degc) > 0.0 else float(t[0])
    )
    return tau, tau_u, end, met_s, scatter


def _crossing(t: FloatArray, temp: FloatArray, level_degc: float, *, rising: bool) -> float:
    """Return when the readings first cross a level, between readings by the straight line."""
    at = max(int(np.argmax(temp >= level_degc if rising else temp <= level_degc)), 1)
    step = float(temp[at] - temp[at - 1])
    part = (level_degc - float(temp[at - 1])) / step if step else 1.0
    return float(t[at - 1] + part * (t[at] - t[at - 1]))


def mean_time_constant(plunges: Sequence[TimeConstant]) -> TimeConstant:
    """Return the mean of several plunges, its uncertainty from how they differ.

    No two plunges meet the water alike, so the uncertainty of a single one (its readings' noise) is too small
    for what another one will give; three or more tell.

    Raises:
        BadInput: No plunges.
    """
    if not plunges:
        raise BadInput("There is no plunge to take a time constant from; plunge the probe first.")
    n = len(plunges)
    mean = sum(plunge.tau_s for plunge in plunges) / n
    within = sqrt(sum(plunge.uncertainty_s**2 for plunge in plunges)) / n
    between = sqrt(sum((plunge.tau_s - mean) ** 2 for plunge in plunges) / (n - 1) / n) if n > 1 else 0.0
    return msgspec.structs.replace(
        plunges[-1],
        tau_s=mean,
        uncertainty_s=max(within, between),
        crossing_s=sum(plunge.crossing_s for plunge in plunges) / n,
        scatter_k=max(plunge.scatter_k for plunge in plunges),
        first_order=all(plunge.first_order for plunge in plunges),
    )
