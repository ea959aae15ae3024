"""Curves through shots by least squares: estimates, covariance, and intervals of what follows from them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import inf, log, nan, sqrt
from typing import TYPE_CHECKING

import msgspec
import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.studies.statistics.intervals import LEVEL, Interval, t_factor

if TYPE_CHECKING:
    from scipy.optimize import OptimizeResult

Model = Callable[[FloatArray], FloatArray]
"""Predicted values, shape (n,), for parameters, shape (p,)."""


class Curve(msgspec.Struct, frozen=True, kw_only=True):
    """A fitted curve.

    Attributes:
        parameters: Best estimates, shape (p,).
        covariance: Of the parameters, shape (p, p), from the scatter; NaN without degrees of freedom.
        square_sum: Residual sum of squares.
        count: Points.
    """

    parameters: FloatArray
    covariance: FloatArray
    square_sum: float
    count: int

    @property
    def dof(self) -> int:
        """Return the degrees of freedom of the scatter."""
        return self.count - len(self.parameters)

    @property
    def residual_sd(self) -> float:
        """Return the scatter about the curve; NaN without degrees of freedom."""
        return sqrt(self.square_sum / self.dof) if self.dof > 0 else nan

    @property
    def uncertainties(self) -> FloatArray:
        """Return the parameters' standard uncertainties."""
        return np.asarray(np.sqrt(np.diag(self.covariance)), dtype=np.float64)


def fit_curve(model: Model, y: FloatArray, starts: Sequence[Sequence[float]]) -> Curve | None:
    """Fit a curve from several starting points and keep the best.

    Args:
        model: Gives the n predicted values; may overflow, which counts as a bad fit.
        y: What was measured, shape (n,).
        starts: Parameters to start from, each of the right order of magnitude.

    Returns: None where no start leads anywhere or the data cannot tell the parameters apart.
    """
    best: tuple[float, FloatArray] | None = None
    for start in starts:
        if len(start) > len(y):
            return None
        found, scale = _descend(model, y, np.asarray(start, dtype=np.float64), polish=False)
        if np.isfinite(found.cost) and (best is None or found.cost < best[0]):
            best = float(found.cost), np.asarray(found.x * scale, dtype=np.float64)
    if best is None:
        return None
    # Once more in units of the solution itself, so that the numerical derivatives are as good as they get.
    last, scale = _descend(model, y, best[1], polish=True)
    dof = len(y) - len(last.x)
    square_sum = float(last.fun @ last.fun)
    norms = np.linalg.norm(last.jac, axis=0)
    if not norms.all():
        return None
    _, singular, right = np.linalg.svd(last.jac / norms, full_matrices=False)
    if singular[-1] < 1e-7 * singular[0]:
        return None
    inverse = (right.T / singular**2) @ right * np.outer(scale / norms, scale / norms)
    scatter = square_sum / dof if dof > 0 else nan
    return Curve(
        parameters=np.asarray(last.x * scale, dtype=np.float64),
        covariance=np.asarray(inverse * scatter, dtype=np.float64),
        square_sum=square_sum,
        count=len(y),
    )


def fit_linear(columns: FloatArray, y: FloatArray) -> Curve | None:
    """Fit a linear model, shape (n, p); None where the data cannot tell its parameters apart."""
    norms = np.linalg.norm(columns, axis=0)
    if len(y) < columns.shape[1] or not norms.all():
        return None
    left, singular, right = np.linalg.svd(columns / norms, full_matrices=False)
    if singular[-1] < 1e-7 * singular[0]:
        return None
    parameters = (right.T / singular) @ (left.T @ y) / norms
    rest = y - columns @ parameters
    square_sum = float(rest @ rest)
    dof = len(y) - columns.shape[1]
    inverse = (right.T / singular**2) @ right / np.outer(norms, norms)
    return Curve(
        parameters=np.asarray(parameters, dtype=np.float64),
        covariance=np.asarray(inverse * (square_sum / dof if dof > 0 else nan), dtype=np.float64),
        square_sum=square_sum,
        count=len(y),
    )


def _descend(
    model: Model, y: FloatArray, start: FloatArray, *, polish: bool
) -> tuple[OptimizeResult, FloatArray]:
    """Return the best fit found from a start, its parameters in units of the returned scale."""
    from scipy.optimize import least_squares  # noqa: PLC0415  (start-up time)

    scale = np.maximum(np.abs(start), 1e-9)

    def residuals(scaled: FloatArray) -> FloatArray:
        with np.errstate(all="ignore"):
            off = np.clip(model(scaled * scale) - y, -1e9, 1e9)
        return off if np.isfinite(off).all() else np.nan_to_num(off, nan=1e9)

    if polish:
        # MINPACK's method ends where floating point does; far from the solution it may lose its way.
        found = least_squares(
            residuals,
            start / scale,
            jac="3-point",
            method="lm",
            xtol=1e-14,
            ftol=1e-14,
            gtol=1e-14,
            max_nfev=150,
        )
    else:
        found = least_squares(residuals, start / scale, xtol=1e-7, ftol=1e-7, gtol=1e-7, max_nfev=200)
    return found, scale


def corrected_criterion(square_sum: float, count: int, parameters: int) -> float:
    """Return the corrected Akaike criterion of a least-squares fit: the lower the better.

    Infinite where there are too few points for so many parameters.

    Source: Hurvich, Tsai (1989), Biometrika 76, 297-307; the scatter counts as a parameter.
    """
    k = parameters + 1
    if count - k - 1 <= 0:
        return inf
    return count * log(max(square_sum, 1e-300) / count) + 2 * k + 2 * k * (k + 1) / (count - k - 1)


def profile_interval(
    square_sum_at: Callable[[float], float],
    best: float,
    best_square_sum: float,
    dof: float,
    *,
    bounds: tuple[float, float],
    level: float = LEVEL,
) -> Interval:
    """Return every value of one parameter that fits not much worse than the best, the others fitted anew.

    Unlike estimate ± t·u it follows the data's own asymmetry, and is unbounded where they set no bound.

    Args:
        square_sum_at: Residual sum of squares with the parameter held.
        best: The best value.
        best_square_sum: Its sum of squares.
        dof: Degrees of freedom of the scatter.
        bounds: How far to look; no end within them counts as none.
        level: Level of confidence.

    Source: Bates, Watts, Nonlinear Regression Analysis (1988), 6.1.1: the profile t function.
    """
    from scipy.optimize import brentq  # noqa: PLC0415

    if dof < 1:
        return Interval(low=-inf, high=inf, level=level)
    limit = best_square_sum * (1.0 + t_factor(dof, level) ** 2 / dof)

    def over(value: float) -> float:
        return square_sum_at(value) - limit

    def end(bound: float, otherwise: float) -> float:
        # Steps that grow from the best outwards: the first crossing, not one beyond a second valley.
        inside = best
        span = bound - best
        for share in np.geomspace(1e-3, 1.0, 22):
            outside = best + span * float(share)
            if over(outside) > 0:
                return float(brentq(over, inside, outside, xtol=1e-6 * max(1.0, abs(best))))
            inside = outside
        return otherwise

    return Interval(low=end(bounds[0], -inf), high=end(bounds[1], inf), level=level)
