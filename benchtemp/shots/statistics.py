"""The plain figures results rest on: means, spreads, autocorrelation, straight lines.

Sums are taken about the data's own middle and corrected once (two passes), so that small spreads on large
values keep their digits.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from benchtemp.readings.reading import FloatArray


def mean(values: FloatArray) -> float:
    """Return the mean of at least one value; NaN of none."""
    if not len(values):
        return float("nan")
    first = float(values[0])
    rest = values - first
    rough = float(rest.mean())
    return first + (rough + float((rest - rough).mean()))


def median(values: FloatArray | np.ndarray[tuple[int], np.dtype[np.intp]]) -> float:
    """Return the median of at least one finite value, sooner than numpy's does for a few hundred."""
    half = len(values) // 2
    if len(values) % 2:
        return float(np.partition(values, half)[half])
    below, above = np.partition(values, (half - 1, half))[half - 1 : half + 1]
    return 0.5 * float(below + above)


def standard_deviation(values: FloatArray) -> float:
    """Return the sample standard deviation (divisor n - 1); NaN of fewer than two values.

    Source: corrected two-pass sum, Chan, Golub, LeVeque (1983), The American Statistician 37, eq. 1.7
    (reference from memory).
    """
    count = len(values)
    if count < 2:
        return float("nan")
    rest = values - values[0]
    off = rest - rest.mean()
    square_sum = float(off @ off) - float(off.sum()) ** 2 / count
    return sqrt(max(square_sum, 0.0) / (count - 1))


def lag1_autocorrelation(values: FloatArray) -> float:
    """Return the autocorrelation of neighbours, sum of products over sum of squares about the mean.

    Returns: NaN of fewer than two values or of values that are all alike.
    """
    if len(values) < 2:
        return float("nan")
    rest = values - values[0]
    off = rest - rest.mean()
    off = off - off.mean()
    squares = float(off @ off)
    return float(off[:-1] @ off[1:]) / squares if squares > 0 else float("nan")


@dataclass(frozen=True, slots=True)
class StraightLine:
    """A least-squares line `at_zero + slope * x`.

    Attributes:
        at_zero: Value at x = 0.
        slope: Change of y per unit of x.
        at_zero_uncertainty, slope_uncertainty: Standard deviations of the two from the scatter about the
            line; NaN of fewer than three points.
        residual_sd: Scatter about the line, divisor n - 2; NaN of fewer than three points.
    """

    at_zero: float
    slope: float
    at_zero_uncertainty: float
    slope_uncertainty: float
    residual_sd: float


def straight_line(x: FloatArray, y: FloatArray) -> StraightLine:
    """Fit a straight line by least squares.

    Args:
        x: Abscissae, at least two different ones.
        y: Ordinates, as many.

    Raises:
        ValueError: There are fewer than two different x.
    """
    count = len(x)
    x_mean = mean(x) if count else 0.0
    x_off = x - x_mean
    x_off = x_off - x_off.mean()
    spread = float(x_off @ x_off)
    if count < 2 or spread <= 0:
        raise ValueError("A straight line needs at least two different x.")
    y_mean = mean(y)
    y_off = y - y_mean
    slope = float(x_off @ y_off) / spread
    rest = y_off - slope * x_off
    slope += float(x_off @ rest) / spread
    rest = y_off - slope * x_off
    at_zero = y_mean - slope * x_mean
    if count < 3:
        nan = float("nan")
        return StraightLine(at_zero, slope, nan, nan, nan)
    rest = rest - rest.mean()
    residual_sd = sqrt(float(rest @ rest) / (count - 2))
    return StraightLine(
        at_zero,
        slope,
        residual_sd * sqrt(1.0 / count + x_mean * x_mean / spread),
        residual_sd / sqrt(spread),
        residual_sd,
    )


def time_weights(t_s: FloatArray, start_s: float, end_s: float) -> FloatArray:
    """Return each reading's share of a stretch of time, summing to 1.

    A reading stands for the time that is nearer to it than to its neighbours, cut at the stretch's ends, so
    a run of close readings weighs no more than one reading that covers the same time.

    Args:
        t_s: Increasing times, shape (n,), n at least 1, all within [start_s, end_s].
        start_s: Beginning of the stretch.
        end_s: Its end.
    """
    if len(t_s) == 1 or end_s <= start_s:
        return np.full(len(t_s), 1.0 / len(t_s))
    edges = np.empty(len(t_s) + 1)
    edges[0], edges[-1] = start_s, end_s
    edges[1:-1] = 0.5 * (t_s[1:] + t_s[:-1])
    return np.diff(edges) / (end_s - start_s)
