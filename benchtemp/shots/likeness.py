"""How alike neighbouring readings' noise is, and what that does to noise levels and means.

An interface that averages, or whose converter filters slowly, gives each reading a part of the noise of the
one before. Then differences between neighbours show less than the whole noise, and a mean of n readings is
less sure than n of them promise.

Noise is taken as a first-order autoregressive series with coefficient r. How readings differ from the middle
of their neighbours (`y[i] - (y[i-1] + y[i+1]) / 2`) has a variance of `(3 - r)(1 - r) / 2` in units of the
noise's; the same with the neighbours but one has that of r². Their ratio tells r, and neither a level nor a
slope is in it. A few dozen readings tell it badly, so what they say is weighed against what interfaces
usually do (a prior).
"""

from __future__ import annotations

from math import ceil, exp, log, sqrt
from typing import NamedTuple

import numpy as np

from benchtemp.readings.reading import FloatArray

LEAST_READINGS = 24
"""Fewer say nothing about their neighbours."""
QUIET_SHARE = 0.7
"""The larger differences are left out: spikes, kinks and the steep part of a rise are no noise."""
_QUIET_RMS = 0.5565
"""Root mean square of the smaller 70 % of a standard normal sample's absolute values."""
BLURRED_SHARE = 0.4
"""Noise below this share of the readings' step shows nothing but the step."""
LEAST_NOISE_K = 2e-3
"""Less than this is no noise that would matter."""
RATIO_SPREAD = 2.7
"""Standard deviation of the ratio's logarithm, times the square root of the number of readings: measured."""
EVIDENT_SPREADS = 2.5
"""So many standard deviations from no likeness at all lies what counts as shown by the readings."""
_LEAST_SPREAD = 0.05
"""No noise follows the model better than so."""
_COEFFICIENTS = tuple(0.1 * step for step in range(9))
_PRIOR = (7.0, *(exp(-1.5 * r) for r in _COEFFICIENTS[1:]))
"""Most interfaces give each reading noise of its own; of the rest, less alike is likelier than more."""


def _difference_variance(r: float) -> float:
    return (3.0 - r) * (1.0 - r) / 2.0


_LOG_RATIOS = tuple(log(_difference_variance(r * r) / _difference_variance(r)) for r in _COEFFICIENTS)
_HIDDEN = tuple(1.5 / _difference_variance(r) for r in _COEFFICIENTS)
_COUNTS_FOR = tuple((1.0 + r) / (1.0 - r) for r in _COEFFICIENTS)


class Likeness(NamedTuple):
    """What neighbours share.

    Attributes:
        coefficient: Correlation of the noise of two neighbours, expected from readings and prior.
        hidden: By what a noise level found from differences between neighbours is to be multiplied.
        readings_for_one: How many readings in a row are worth one independent reading in a mean.
        evident: The readings themselves show it, not the prior alone.
    """

    coefficient: float = 0.0
    hidden: float = 1.0
    readings_for_one: float = 1.0
    evident: bool = False

    @property
    def surely_hidden(self) -> float:
        """Return `hidden` where the readings show it, else 1: a search must not be led by a prior."""
        return self.hidden if self.evident else 1.0


UNALIKE = Likeness()


def likeness_of(temp_degc: FloatArray, noise_k: float, quantum_k: float) -> Likeness:
    """Return how alike the noise of neighbouring readings is.

    Args:
        temp_degc: Clean readings at about equal distances, shape (n,).
        noise_k: Their noise level from differences between neighbours.
        quantum_k: Step between the values they can have, 0 where it is too fine to matter.
    """
    count = len(temp_degc)
    if count < LEAST_READINGS or noise_k < max(BLURRED_SHARE * quantum_k, LEAST_NOISE_K):
        return UNALIKE
    middle = temp_degc[2:-2]
    near = _quiet_power(middle - 0.5 * (temp_degc[1:-3] + temp_degc[3:-1]))
    far = _quiet_power(middle - 0.5 * (temp_degc[:-4] + temp_degc[4:]))
    # Rounding is nobody's neighbour: it is in both, and would make all noise look less alike.
    rounding = 1.5 * quantum_k * quantum_k / 12.0
    own = max(near - rounding, 0.1 * near)
    spread = RATIO_SPREAD / sqrt(count) * near / own
    return _expected(log(max(far - rounding, 0.1 * far) / own), spread)


def _quiet_power(off: FloatArray) -> float:
    """Return the variance of differences as their smaller part tells it."""
    squares = off * off
    kept = ceil(QUIET_SHARE * len(squares))
    return float(np.partition(squares, kept - 1)[:kept].sum()) / (kept * _QUIET_RMS**2) + 1e-12


def _expected(log_ratio: float, spread: float) -> Likeness:
    precision = -0.5 / (spread * spread + _LEAST_SPREAD**2)
    weights = [
        prior * exp(precision * (log_ratio - own) ** 2)
        for prior, own in zip(_PRIOR, _LOG_RATIOS, strict=True)
    ]
    total = sum(weights)
    if total < 1e-30:
        # Beyond anything the model knows; what it knows best is nearest.
        weights = [0.0] * len(_PRIOR)
        weights[-1 if log_ratio > 0.0 else 0] = total = 1.0

    def mean(values: tuple[float, ...]) -> float:
        return sum(weight * value for weight, value in zip(weights, values, strict=True)) / total

    return Likeness(
        mean(_COEFFICIENTS),
        sqrt(mean(_HIDDEN)),
        mean(_COUNTS_FOR),
        evident=log_ratio > EVIDENT_SPREADS * spread,
    )
