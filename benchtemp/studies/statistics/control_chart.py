"""The individuals control chart: whether shots scatter as by chance alone, or something happened."""

from __future__ import annotations

from functools import lru_cache
from math import exp, lgamma, sqrt

import msgspec
import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.statistics import mean

RUN_LENGTH = 8
"""So many shots in a row on one side of the mean are a signal (a customary run rule)."""


class ChartConstants(msgspec.Struct, frozen=True, kw_only=True):
    """Factors of control charts for samples of `count` normal values.

    Attributes:
        d2, d3: Mean and standard deviation of the sample's range, in standard deviations of one value.
        c4: Mean of the sample's standard deviation, in the same.
        a2: Half width of a chart of means, in mean ranges.
        lower_d3, upper_d4: Limits of a chart of ranges, in mean ranges.
    """

    count: int
    d2: float
    d3: float
    c4: float
    a2: float
    lower_d3: float
    upper_d4: float


@lru_cache(maxsize=32)
def chart_constants(count: int) -> ChartConstants:
    """Return the control-chart constants for samples of `count` values, at least 2, by integration.

    Source: definitions as in usual factor tables (Montgomery; NIST/SEMATECH e-Handbook 6.3.2.1).
    """
    from scipy.special import ndtr  # noqa: PLC0415  (start-up time)

    if count < 2:
        raise ValueError("A range needs at least two values.")
    nodes, weights = np.polynomial.legendre.leggauss(160)
    x, w = 8.5 * nodes, 8.5 * weights
    below = ndtr(x)
    d2 = float(w @ (1.0 - below**count - (1.0 - below) ** count))
    # E[R²] = 2 ∬ over x < y of the chance that the sample reaches from below x to above y; there is a kink
    # where x = y, so y runs over nodes of its own above each x.
    total = 0.0
    for x_i, w_i, below_i in zip(x.tolist(), w.tolist(), below.tolist(), strict=True):
        half = 0.5 * (8.5 - x_i)
        above = ndtr(x_i + half * (nodes + 1.0))
        chance = 1.0 - above**count - (1.0 - below_i) ** count + (above - below_i) ** count
        total += w_i * half * float(weights @ chance)
    d3 = sqrt(2.0 * total - d2 * d2)
    c4 = sqrt(2.0 / (count - 1)) * exp(lgamma(count / 2) - lgamma((count - 1) / 2))
    return ChartConstants(
        count=count,
        d2=d2,
        d3=d3,
        c4=c4,
        a2=3.0 / (d2 * sqrt(count)),
        lower_d3=max(0.0, 1.0 - 3.0 * d3 / d2),
        upper_d4=1.0 + 3.0 * d3 / d2,
    )


class IndividualsChart(msgspec.Struct, frozen=True, kw_only=True):
    """An individuals chart with its moving range.

    Attributes:
        centre, lower, upper: Mean and limits of the single values.
        mean_moving_range, upper_moving_range: Mean and upper limit of the difference between neighbours.
        moving_ranges: One fewer than there are values.
        beyond: Indices of values outside the limits.
        jumps: Indices of values whose moving range is above its limit.
        runs: First and last index of each run of eight or more on one side of the centre.
    """

    centre: float
    lower: float
    upper: float
    mean_moving_range: float
    upper_moving_range: float
    moving_ranges: tuple[float, ...]
    beyond: tuple[int, ...] = ()
    jumps: tuple[int, ...] = ()
    runs: tuple[tuple[int, int], ...] = ()

    @property
    def steady(self) -> bool:
        """Tell whether there is no signal."""
        return not (self.beyond or self.jumps or self.runs)


def individuals_chart(values: FloatArray) -> IndividualsChart:
    """Return the chart of at least two values in the order in which they came.

    Limits lie three standard deviations off, taken from the mean moving range so that a slow drift does not
    widen them.

    Source: NIST/SEMATECH e-Handbook 6.3.2.2 (there with d2 = 1.128; here 2/√π = 1.12838).
    """
    constants = chart_constants(2)
    ranges = np.abs(np.diff(values))
    mean_range = float(ranges.mean())
    centre = mean(values)
    half = 3.0 * mean_range / constants.d2
    upper_range = constants.upper_d4 * mean_range
    return IndividualsChart(
        centre=centre,
        lower=centre - half,
        upper=centre + half,
        mean_moving_range=mean_range,
        upper_moving_range=upper_range,
        moving_ranges=tuple(ranges.tolist()),
        beyond=tuple(np.flatnonzero(np.abs(values - centre) > half).tolist()),
        jumps=tuple((np.flatnonzero(ranges > upper_range) + 1).tolist()),
        runs=_runs(values, centre),
    )


def _runs(values: FloatArray, centre: float) -> tuple[tuple[int, int], ...]:
    sides = np.sign(values - centre)
    found: list[tuple[int, int]] = []
    first = 0
    for index in range(1, len(sides) + 1):
        if index < len(sides) and sides[index] == sides[first]:
            continue
        if sides[first] and index - first >= RUN_LENGTH:
            found.append((first, index - 1))
        first = index
    return tuple(found)
