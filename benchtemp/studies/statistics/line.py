"""A straight line through shots: its bands, where it reaches a target, whether it is a line at all."""

from __future__ import annotations

from math import inf, isfinite, nan, sqrt

import msgspec
import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.statistics import mean, straight_line
from benchtemp.studies.statistics.intervals import LEVEL, Interval, around, t_factor, t_test_p


class Reach(msgspec.Struct, frozen=True, kw_only=True):
    """Where a line reaches a value.

    Attributes:
        x: The best estimate, None for a level line.
        interval: Where the true point may lie; unbounded where the slope may be 0.
    """

    x: float | None
    interval: Interval


class Line(msgspec.Struct, frozen=True, kw_only=True):
    """A least-squares line `at_mean + slope * (x - x_mean)`.

    Attributes:
        count: Points it rests on.
        x_mean, at_mean: The middle of the points; the line goes through it.
        slope: Change of y for 1 of x.
        spread_x: Sum of squares of x about its mean.
        residual_sd: Scatter about the line, divisor n - 2; NaN below three points.
        x_low, x_high: What was covered.
    """

    count: int
    x_mean: float
    at_mean: float
    slope: float
    spread_x: float
    residual_sd: float
    x_low: float
    x_high: float

    @property
    def dof(self) -> int:
        """Return the degrees of freedom of the scatter."""
        return self.count - 2

    @property
    def slope_uncertainty(self) -> float:
        """Return the standard uncertainty of the slope."""
        return self.residual_sd / sqrt(self.spread_x)

    def at(self, x: float) -> float:
        """Return the line's value."""
        return self.at_mean + self.slope * (x - self.x_mean)

    def uncertainty_at(self, x: float, *, of_shot: bool = False) -> float:
        """Return the standard uncertainty of the line at x, or of one further shot there."""
        share = 1.0 / self.count + (x - self.x_mean) ** 2 / self.spread_x
        return self.residual_sd * sqrt(share + (1.0 if of_shot else 0.0))

    def mean_interval(self, x: float, level: float = LEVEL) -> Interval:
        """Return where the line itself may lie at x."""
        return around(self.at(x), self.uncertainty_at(x), self.dof, level)

    def shot_interval(self, x: float, level: float = LEVEL) -> Interval:
        """Return where one further shot at x will lie (prediction interval)."""
        return around(self.at(x), self.uncertainty_at(x, of_shot=True), self.dof, level)

    def slope_interval(self, level: float = LEVEL) -> Interval:
        """Return where the slope may lie."""
        return around(self.slope, self.slope_uncertainty, self.dof, level)

    def slope_p(self, slope: float = 0.0) -> float:
        """Return how likely a slope at least this different from `slope` is by chance, two-sided."""
        return t_test_p(self.slope - slope, self.slope_uncertainty, self.dof)

    def reaches(self, y: float, level: float = LEVEL, *, extra_uncertainty: float = 0.0) -> Reach:
        """Return which x gives `y`, with Fieller's interval.

        The interval holds every x at which the line, within its own interval, may be `y`.

        Args:
            y: The value asked for.
            level: Level of confidence.
            extra_uncertainty: Standard uncertainty that y itself carries, in the unit of y, known as good
                as exactly; it is added to the scatter of the line's middle.

        Source: Fieller (1954), J. R. Statist. Soc. B 16, 175-185.
        """
        if not self.slope:
            return Reach(x=None, interval=Interval(low=-inf, high=inf, level=level))
        x = self.x_mean + (y - self.at_mean) / self.slope
        t = t_factor(self.dof, level)
        if not isfinite(t) or not isfinite(self.residual_sd):
            return Reach(x=x, interval=Interval(low=-inf, high=inf, level=level))
        # (at_mean + slope·d − y)² ≤ t²·(s²/n + s²·d²/Sxx + u²), a quadratic in d = x − x_mean.
        off = y - self.at_mean
        own = t * t * self.residual_sd**2
        a = self.slope**2 - own / self.spread_x
        b = -2.0 * self.slope * off
        c = off * off - own / self.count - (t * extra_uncertainty) ** 2
        if a <= 0.0:
            return Reach(x=x, interval=Interval(low=-inf, high=inf, level=level))
        root = sqrt(max(b * b - 4.0 * a * c, 0.0))
        low, high = (-b - root) / (2.0 * a), (-b + root) / (2.0 * a)
        return Reach(x=x, interval=Interval(low=self.x_mean + low, high=self.x_mean + high, level=level))


def fit_line(x: FloatArray, y: FloatArray) -> Line:
    """Fit a line by least squares.

    Raises:
        ValueError: There are fewer than two different x.
    """
    fitted = straight_line(x, y)
    x_mean = mean(x)
    x_off = x - x_mean
    return Line(
        count=len(x),
        x_mean=x_mean,
        at_mean=mean(y),
        slope=fitted.slope,
        spread_x=float(x_off @ x_off),
        residual_sd=fitted.residual_sd,
        x_low=float(x.min()),
        x_high=float(x.max()),
    )


def lack_of_fit_p(x: FloatArray, y: FloatArray, residuals: FloatArray, fitted_parameters: int) -> float:
    """Return how likely the residuals' pattern is by chance, from shots repeated at the same x.

    Returns: NaN where nothing was repeated, or where there are no more places than parameters.
    Source: lack-of-fit F test, NIST/SEMATECH e-Handbook 4.4.4.6 (reference from memory).
    """
    from scipy.special import fdtrc  # noqa: PLC0415  (start-up time)

    places, place = np.unique(x, return_inverse=True)
    dof_pure = len(x) - len(places)
    dof_lack = len(places) - fitted_parameters
    if dof_pure < 1 or dof_lack < 1:
        return nan
    means = np.bincount(place, weights=y) / np.bincount(place)
    pure = float(((y - means[place]) ** 2).sum())
    lack = float(residuals @ residuals) - pure
    if not pure > 0:
        return nan
    return float(fdtrc(dof_lack, dof_pure, max(lack, 0.0) / dof_lack / (pure / dof_pure)))
