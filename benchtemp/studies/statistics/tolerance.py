"""Tolerance intervals: between which bounds a given share of all shots will lie, at a level of confidence."""

from __future__ import annotations

from functools import lru_cache
from math import exp, inf, log

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.statistics import mean, standard_deviation
from benchtemp.studies.statistics.intervals import LEVEL, Interval

_NODES = 61


@lru_cache(maxsize=256)
def tolerance_factor(count: int, share: float = 0.95, level: float = LEVEL) -> float:
    """Return k so that mean ± k·sd of `count` values holds `share` of them all, with confidence `level`.

    The exact two-sided factor for normal scatter: the share held is averaged over where the mean and the
    standard deviation may lie, by quadrature. (The shorter formula of Howe, within 1 % of it, is not used.)

    Args:
        count: How many values the mean and the standard deviation come from; infinite below 2.
        share: Share to be held, above 0 and below 1.
        level: Level of confidence, above 0 and below 1.

    Source: Meeker, Hahn, Escobar, Statistical Intervals, 2nd ed. 2017, Table J.5b gives printed values.
    """
    from scipy.optimize import brentq  # noqa: PLC0415  (start-up time)
    from scipy.special import chdtrc, chndtrix  # noqa: PLC0415

    if count < 2:
        return inf
    dof = count - 1
    nodes, weights = np.polynomial.hermite_e.hermegauss(_NODES)
    weights = weights / weights.sum()
    # The half width about a mean that is off by z/√n which still holds the share: a noncentral chi-squared.
    squares = chndtrix(share, 1.0, nodes**2 / count)

    def off(log_factor: float) -> float:
        held = chdtrc(dof, dof * squares / exp(log_factor) ** 2)
        return float(weights @ held) - level

    return exp(float(brentq(off, log(0.1), log(1e5), xtol=1e-12)))


def tolerance_interval(values: FloatArray, share: float = 0.95, level: float = LEVEL) -> Interval:
    """Return the interval that holds `share` of all shots; unbounded below two shots."""
    if len(values) < 2:
        return Interval(low=-inf, high=inf, level=level)
    half = tolerance_factor(len(values), share, level) * standard_deviation(values)
    middle = mean(values)
    return Interval(low=middle - half, high=middle + half, level=level)
