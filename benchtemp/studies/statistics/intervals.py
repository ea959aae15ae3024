"""Intervals: where a mean, a spread or a share may lie, given the shots at hand.

All of them suppose independent shots with normal scatter; what a study finds against that is among its
concerns.
"""

from __future__ import annotations

from math import inf, isfinite, sqrt

import msgspec
import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.statistics import mean, standard_deviation

LEVEL = 0.95
"""The level of confidence used where nothing else is asked for."""


class Interval(msgspec.Struct, frozen=True, kw_only=True):
    """From `low` to `high`, in the unit of what it is about; infinite where the data set no bound.

    Attributes:
        level: Level of confidence, 0 to 1.
    """

    low: float
    high: float
    level: float = LEVEL

    @property
    def half_width(self) -> float:
        """Return half its length."""
        return 0.5 * (self.high - self.low)

    @property
    def bounded(self) -> bool:
        """Tell whether both ends are finite."""
        return isfinite(self.low) and isfinite(self.high)

    def holds(self, value: float) -> bool:
        """Tell whether a value lies in it, ends included."""
        return self.low <= value <= self.high


EVERYWHERE = Interval(low=-inf, high=inf)


def t_factor(dof: float, level: float = LEVEL) -> float:
    """Return Student's factor for a two-sided interval; infinite without degrees of freedom."""
    from scipy.special import ndtri, stdtrit  # noqa: PLC0415  (start-up time)

    if dof <= 0:
        return inf
    upper = 0.5 * (1.0 + level)
    return float(ndtri(upper)) if not isfinite(dof) else float(stdtrit(dof, upper))


def t_test_p(estimate: float, uncertainty: float, dof: float) -> float:
    """Return how likely an estimate at least this far from 0 is by chance, two-sided; NaN without scatter."""
    from scipy.special import stdtr  # noqa: PLC0415

    if not uncertainty > 0 or dof <= 0:
        return float("nan")
    return float(2.0 * stdtr(dof, -abs(estimate) / uncertainty))


def around(estimate: float, uncertainty: float, dof: float, level: float = LEVEL) -> Interval:
    """Return the t interval about an estimate; unbounded where its uncertainty is unknown."""
    if not isfinite(uncertainty) or dof <= 0:
        return Interval(low=-inf, high=inf, level=level)
    half = t_factor(dof, level) * uncertainty
    return Interval(low=estimate - half, high=estimate + half, level=level)


def mean_interval(values: FloatArray, level: float = LEVEL) -> Interval:
    """Return the interval of a mean from its shots' scatter; unbounded with fewer than two."""
    count = len(values)
    if count < 2:
        return Interval(low=-inf, high=inf, level=level)
    return around(mean(values), standard_deviation(values) / sqrt(count), count - 1, level)


def next_value_interval(values: FloatArray, level: float = LEVEL) -> Interval:
    """Return where one further shot will lie (a prediction interval); unbounded with fewer than two."""
    count = len(values)
    if count < 2:
        return Interval(low=-inf, high=inf, level=level)
    return around(mean(values), standard_deviation(values) * sqrt(1.0 + 1.0 / count), count - 1, level)


def sd_interval(sd: float, dof: float, level: float = LEVEL) -> Interval:
    """Return the interval of a standard deviation known with `dof` degrees of freedom.

    Source: chi-squared distribution of the sample variance, NIST/SEMATECH e-Handbook 7.2.3.
    """
    from scipy.special import chdtri  # noqa: PLC0415

    if dof <= 0 or not isfinite(sd):
        return Interval(low=0.0, high=inf, level=level)
    tail = 0.5 * (1.0 - level)
    return Interval(
        low=sd * sqrt(dof / float(chdtri(dof, tail))),
        high=sd * sqrt(dof / float(chdtri(dof, 1.0 - tail))),
        level=level,
    )


def sd_ratio_interval(
    sd_one: float, dof_one: float, sd_other: float, dof_other: float, level: float = LEVEL
) -> Interval:
    """Return the interval of the ratio of two standard deviations (F distribution; needs normal scatter)."""
    from scipy.special import fdtri  # noqa: PLC0415

    if dof_one <= 0 or dof_other <= 0 or not sd_other > 0:
        return Interval(low=0.0, high=inf, level=level)
    tail = 0.5 * (1.0 - level)
    ratio = sd_one / sd_other
    return Interval(
        low=ratio / sqrt(float(fdtri(dof_one, dof_other, 1.0 - tail))),
        high=ratio / sqrt(float(fdtri(dof_one, dof_other, tail))),
        level=level,
    )


def share_interval(hits: int, count: int, level: float = LEVEL) -> Interval:
    """Return the interval of a share of which `hits` out of `count` were seen.

    Source: Wilson's score interval, NIST/SEMATECH e-Handbook 7.2.4.1.
    """
    from scipy.special import ndtri  # noqa: PLC0415

    if count < 1:
        return Interval(low=0.0, high=1.0, level=level)
    z = float(ndtri(0.5 * (1.0 + level)))
    share = hits / count
    middle = (share + z * z / (2 * count)) / (1 + z * z / count)
    half = z / (1 + z * z / count) * sqrt(share * (1 - share) / count + z * z / (4 * count * count))
    return Interval(low=max(0.0, middle - half), high=min(1.0, middle + half), level=level)


def pooled_sd(groups: list[FloatArray]) -> tuple[float, int]:
    """Return the scatter within groups and its degrees of freedom; (NaN, 0) where no group has two values."""
    dof = sum(len(group) - 1 for group in groups if len(group) > 1)
    if dof < 1:
        return float("nan"), 0
    squares = sum(standard_deviation(group) ** 2 * (len(group) - 1) for group in groups if len(group) > 1)
    return sqrt(squares / dof), dof


def as_array(values: list[float] | tuple[float, ...]) -> FloatArray:
    """Return numbers as an array of floats."""
    return np.asarray(values, dtype=np.float64)
