"""Means of readings that are not independent and come in steps."""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from benchtemp.errors import BadInput
from benchtemp.probes.uncertainty import effective_dof

FloatArray = npt.NDArray[np.float64]

_NOTHING_K = 1e-9
"""Scatter below this is rounding in the last binary digit."""
TRIMMED_SHARE = 0.1
"""Share of the readings left out at each end of a trimmed mean."""


_QUIET_SHARE = 0.7
_QUIET_RMS = 0.5565
"""Root mean square of the smaller 70 % of a standard normal sample's absolute values."""


class Mean(NamedTuple):
    """A mean and how sure it is.

    Attributes:
        value: The mean.
        sd: Standard deviation of single readings.
        uncertainty: Standard uncertainty of the mean (type A), at least that of the readings' step.
        dof: Effective degrees of freedom; infinite where only the step makes it uncertain.
        readings: How many readings.
    """

    value: float
    sd: float
    uncertainty: float
    dof: float
    readings: int


def step_of(values: FloatArray) -> float:
    """Return the step in which values come, 0 where it cannot be told.

    Values with at most three decimals come in steps of the last one (0.1 for 94.2 and 94.6); others, such as
    °F turned into °C, in their smallest difference.
    """
    distinct = np.unique(np.round(values[np.isfinite(values)], 6))
    if distinct.size == 0:
        return 0.0
    smallest = float(np.diff(distinct).min()) if distinct.size > 1 else 0.0
    for step in (1.0, 0.1, 0.01, 0.001):
        if np.abs(distinct - np.round(distinct / step) * step).max() < 2e-6:
            return min(step, smallest) if smallest else step
    return smallest


def correlation_length(values: FloatArray) -> float:
    """Return how many readings in a row amount to one independent one, at least 1.

    One and twice the sum of the autocorrelation as far as neighbouring pairs stay positive (Geyer's initial
    positive sequence), from memory of the usual practice for correlated series.

    Args:
        values: Equally spaced readings without NaN, shape (n,).
    """
    n = values.size
    away = values - values.mean()
    power = float(away @ away)
    if n < 4 or power <= n * _NOTHING_K**2:
        return 1.0
    size = 1 << (2 * n - 1).bit_length()
    spectrum = np.fft.rfft(away, size)
    rho = np.fft.irfft(spectrum * spectrum.conj(), size)[: n // 2] / power
    pairs = rho[1 : 1 + 2 * ((rho.size - 1) // 2)].reshape(-1, 2).sum(axis=1)
    ended = np.flatnonzero(pairs <= 0.0)
    kept = pairs[: ended[0]] if ended.size else pairs
    return max(1.0, 1.0 + 2.0 * float(kept.sum()))


def mean_of(values: FloatArray, *, step: float | None = None, trimmed: bool = False) -> Mean:
    """Return the mean of readings with its type A uncertainty.

    Args:
        values: Readings, shape (n,); NaN are left out.
        step: Step in which they come; found from the values where not given.
        trimmed: Leave out the lowest and highest tenth, for readings with stray ones among them (steam
            bubbles).

    Raises:
        BadInput: No readings at all.
    Source: JCGM 100:2008, 4.2.3, with the number of readings divided by `correlation_length`; the readings'
        step as a rectangle (F.2.2.1), which does not average out unless the noise is larger than the step.
    """
    given = values[np.isfinite(values)]
    n = given.size
    if n == 0:
        raise BadInput("There are no readings to take a mean of; check the probe and its plug.")
    sd = float(given.std(ddof=1)) if n > 1 else 0.0
    if sd < _NOTHING_K:
        sd = 0.0
    independent = n / correlation_length(given)
    left_out = int(TRIMMED_SHARE * n) if trimmed else 0
    kept = np.sort(given)[left_out : n - left_out]
    width = step_of(given) if step is None else step
    rounding = width / sqrt(12.0) if sd < width else 0.0
    noise = sd / sqrt(independent)
    uncertainty = sqrt(noise * noise + rounding * rounding)
    return Mean(
        value=float(kept.mean()),
        sd=sd,
        uncertainty=uncertainty,
        dof=effective_dof(uncertainty, (noise,), (max(independent - 1.0, 1.0),)),
        readings=n,
    )


def noise_of(temp_degc: FloatArray) -> float:
    """Return the standard deviation of one reading in K.

    Found from how readings differ from the middle of their neighbours. The larger 30 % of those differences
    are left out, so that a rise does not count as noise; at least the readings' step over √12.
    """
    floor_k = max(step_of(temp_degc) / sqrt(12.0), 1e-3)
    off = np.abs(temp_degc[1:-1] - 0.5 * (temp_degc[:-2] + temp_degc[2:]))
    if off.size < 3:
        return floor_k
    kept = np.sort(off)[: int(np.ceil(_QUIET_SHARE * off.size))]
    return max(sqrt(float(kept @ kept) / kept.size) / (_QUIET_RMS * sqrt(1.5)), floor_k)
