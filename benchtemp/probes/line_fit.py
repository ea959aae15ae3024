"""A straight line through points with equal, unknown scatter, and how sure it is anywhere along it."""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from benchtemp.errors import BadInput

FloatArray = npt.NDArray[np.float64]


class LineFit(NamedTuple):
    """The line `y = offset + slope * (x - centre)`.

    Attributes:
        centre: Where `offset` holds, in the unit of x.
        offset, slope: The line.
        offset_uncertainty, slope_uncertainty: Their standard uncertainties from the scatter of the points.
        correlation: Correlation coefficient of offset and slope.
        scatter: Standard deviation of the points about the line.
        dof: Number of points less two.
    """

    centre: float
    offset: float
    slope: float
    offset_uncertainty: float
    slope_uncertainty: float
    correlation: float
    scatter: float
    dof: int

    def at(self, x: float) -> tuple[float, float]:
        """Return the line's value at `x` and its standard uncertainty.

        Source: JCGM 100:2008, Eqs. (H.14) and (H.15).
        """
        away = x - self.centre
        slope_share = self.slope_uncertainty * away
        variance = self.offset_uncertainty**2 + slope_share**2
        variance += 2.0 * self.correlation * self.offset_uncertainty * slope_share
        return self.offset + self.slope * away, sqrt(max(variance, 0.0))


def fit_line(x: FloatArray, y: FloatArray, centre: float) -> LineFit:
    """Return the least-squares line through at least three points.

    Args:
        x: Where the points stand, shape (n,), taken as exact.
        y: What was found there, shape (n,).
        centre: Value of x at which the offset is wanted.

    Raises:
        BadInput: Fewer than three points, or all at the same x.
    Source: JCGM 100:2008, Eqs. (H.13a) to (H.13f), worked about the mean of x to keep its digits.
    """
    n = x.size
    if n < 3:
        raise BadInput(f"A line with its uncertainty needs at least 3 points, not {n}; add some.")
    middle = float(x.mean())
    away = x - middle
    spread = float(away @ away)
    if spread <= 0.0:
        raise BadInput("All points lie at the same temperature; take some further apart.")
    mean = float(y.mean())
    slope = float(away @ y) / spread
    residuals = y - mean - slope * away
    scatter = sqrt(float(residuals @ residuals) / (n - 2))
    slope_uncertainty = scatter / sqrt(spread)
    shift = centre - middle
    offset_uncertainty = scatter * sqrt(1.0 / n + shift * shift / spread)
    # The mean of y and the slope are uncorrelated; moving the centre ties them.
    correlation = shift / sqrt(spread / n + shift * shift) if scatter > 0.0 else 0.0
    return LineFit(
        centre,
        mean + slope * shift,
        slope,
        offset_uncertainty,
        slope_uncertainty,
        correlation,
        scatter,
        n - 2,
    )
