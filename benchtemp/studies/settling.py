"""Settling: an exponential approach to a level, and the moment from which it is close enough."""

from __future__ import annotations

from math import exp, hypot, isfinite, log

import msgspec
import numpy as np

from benchtemp.errors import BadInput
from benchtemp.readings.reading import FloatArray
from benchtemp.shots.statistics import lag1_autocorrelation
from benchtemp.studies.statistics.curve import Curve, fit_curve, profile_interval
from benchtemp.studies.statistics.intervals import LEVEL, Interval, around

NEAR = 8.0
"""The approach is fitted where the temperature is within so many times `within_k` of settled: an exponential
holds over such a stretch even where the whole warm-up is more involved."""
OTHER_STRETCHES = (4.0, 14.0)
CURVE_POINTS = 121


class Settling(msgspec.Struct, frozen=True, kw_only=True):
    """The way to a settled temperature.

    Attributes:
        within_k: How close counts as settled.
        t_min, degc: What was measured, in order of time.
        fitted_from: Index of the first measurement the approach was fitted to.
        residual_k: Those measurements less the approach.
        settled_degc, settled_interval: Where it settles.
        settling_min, settling_interval: When it is within `within_k` of that.
        scale_min: Time constant of the approach.
        last_outside_min, first_inside_min: Last measurement outside, and first of those that stay inside;
            None where there is none.
        inside: How many of them stay inside.
        residual_sd_k: Scatter about the approach.
        curve_min, curve_degc: The approach.
    """

    within_k: float
    t_min: tuple[float, ...]
    degc: tuple[float, ...]
    fitted_from: int
    residual_k: tuple[float, ...]
    settled_degc: float
    settled_interval: Interval
    settling_min: float
    settling_interval: Interval
    scale_min: float
    last_outside_min: float | None
    first_inside_min: float | None
    inside: int
    residual_sd_k: float
    curve_min: tuple[float, ...]
    curve_degc: tuple[float, ...]


class _Approach:
    """An exponential approach, written with the moment it comes within `within_k` as a parameter."""

    def __init__(self, t_min: FloatArray, degc: FloatArray, within_k: float, side: float) -> None:
        self.t_min, self.degc, self.within_k, self.side = t_min, degc, within_k, side

    def _away(self, t_min: FloatArray, settling_min: float, log_scale: float) -> FloatArray:
        return np.asarray(
            self.side
            * self.within_k
            * np.exp(np.minimum((settling_min - t_min) / exp(min(max(log_scale, -50.0), 50.0)), 50.0)),
            dtype=np.float64,
        )

    def predict(self, parameters: FloatArray, t_min: FloatArray | None = None) -> FloatArray:
        """Return the approach; parameters are settled °C, moment in min, log of the scale."""
        at = self.t_min if t_min is None else t_min
        away = self._away(at, float(parameters[1]), float(parameters[2]))
        return np.asarray(parameters[0] - away, dtype=np.float64)

    def square_sum_at(self, settling_min: float) -> float:
        """Return the least sum of squares with the moment held, the other two fitted."""
        from scipy.optimize import minimize_scalar  # noqa: PLC0415  (start-up time)

        def squares(log_scale: float) -> float:
            target = self.degc + self._away(self.t_min, settling_min, log_scale)
            rest = target - target.mean()
            return float(rest @ rest)

        grid = np.linspace(*self.log_scales(), 40)
        values = [squares(float(value)) for value in grid]
        best = int(np.argmin(values))
        low, high = grid[max(0, best - 1)], grid[min(len(grid) - 1, best + 1)]
        found = minimize_scalar(squares, bounds=(float(low), float(high)), method="bounded")
        return min(float(found.fun), values[best])

    def log_scales(self) -> tuple[float, float]:
        """Return logs of the shortest and longest time constant in min that make sense."""
        span_min = float(np.ptp(self.t_min))
        return log(span_min / 200.0), log(span_min * 3.0)

    def fit(self) -> Curve | None:
        """Return the fit, None where the data do not settle it."""
        settled = float(np.mean(self.degc[-max(2, len(self.degc) // 3) :]))
        low, high = self.log_scales()
        times = np.quantile(self.t_min, (0.1, 0.3, 0.5, 0.8)).tolist()
        starts = [
            (settled, time, scale)
            for time in times
            for scale in (0.7 * low + 0.3 * high, 0.4 * low + 0.6 * high)
        ]
        return fit_curve(self.predict, self.degc, starts)


def settling(
    t_min: FloatArray, degc: FloatArray, *, within_k: float, level: float = LEVEL, correlated: bool = False
) -> Settling:
    """Return when measurements come within `within_k` of where they settle.

    Args:
        t_min: Increasing times, min.
        degc: Temperatures at these times.
        within_k: How close counts as settled, K.
        level: Level of confidence.
        correlated: Neighbours err alike, as averages of one watched channel do; they then count as fewer, and
            by how much the moment depends on the stretch that is fitted goes into its interval.

    Raises:
        BadInput: `within_k` makes no sense, or the measurements show no approach.
    """
    if not (isfinite(within_k) and 0.05 <= within_k <= 10):
        raise BadInput(f"{within_k:g} °C cannot count as close to settled; give 0.05 to 10 °C.")
    rough = float(np.median(degc[-max(2, len(degc) // 3) :]))
    begin = _beginning(degc, rough, NEAR * within_k, within_k)
    approach = _Approach(t_min[begin:], degc[begin:], within_k, 1.0 if degc[0] < rough else -1.0)
    curve = approach.fit()
    if curve is None or curve.dof < 1 or abs(float(degc[begin]) - rough) <= within_k:
        raise BadInput(
            "These measurements show no approach to a settled temperature: begin sooner after switching on, "
            "and go on until it stands."
        )
    rest = approach.degc - approach.predict(curve.parameters)
    settled, moment = float(curve.parameters[0]), float(curve.parameters[1])
    dof, slack_min = float(curve.dof), 0.0
    if correlated:
        likeness = min(max(lag1_autocorrelation(rest), 0.0), 0.98)
        dof = max(1.0, curve.count * (1.0 - likeness) / (1.0 + likeness) - 3.0)
        slack_min = _slack_min(t_min, degc, rough, within_k, moment)
    reach_min = float(np.ptp(t_min))
    interval = profile_interval(
        approach.square_sum_at,
        moment,
        curve.square_sum,
        dof,
        bounds=(moment - reach_min, moment + 2.0 * reach_min),
        level=level,
    )
    outside = np.flatnonzero(np.abs(degc - settled) > within_k)
    last = int(outside[-1]) if len(outside) else -1
    curve_min = np.linspace(float(t_min[begin]), float(t_min[-1]), CURVE_POINTS)
    return Settling(
        within_k=within_k,
        t_min=tuple(t_min.tolist()),
        degc=tuple(degc.tolist()),
        fitted_from=begin,
        residual_k=tuple(rest.tolist()),
        settled_degc=settled,
        settled_interval=around(
            settled, float(curve.uncertainties[0]) * (curve.dof / dof) ** 0.5, dof, level
        ),
        settling_min=moment,
        settling_interval=Interval(
            low=moment - hypot(moment - interval.low, slack_min),
            high=moment + hypot(interval.high - moment, slack_min),
            level=level,
        ),
        scale_min=exp(float(curve.parameters[2])),
        last_outside_min=float(t_min[last]) if last >= 0 else None,
        first_inside_min=float(t_min[last + 1]) if last + 1 < len(t_min) else None,
        inside=len(t_min) - 1 - last,
        residual_sd_k=curve.residual_sd,
        curve_min=tuple(curve_min.tolist()),
        curve_degc=tuple(approach.predict(curve.parameters, curve_min).tolist()),
    )


def _beginning(degc: FloatArray, rough_degc: float, near_k: float, within_k: float) -> int:
    """Return the first measurement to fit: none after it is farther than `near_k` from settled."""
    far = np.flatnonzero(np.abs(degc - rough_degc) > near_k)
    begin = min(int(far[-1]) + 1 if len(far) else 0, len(degc) - 4)
    if begin and np.count_nonzero(np.abs(degc[begin:] - rough_degc) > within_k) < 2:
        # Shots come minutes apart: without the last one far off there may be no approach left to fit.
        begin -= 1
    return begin


def _slack_min(
    t_min: FloatArray, degc: FloatArray, rough_degc: float, within_k: float, moment: float
) -> float:
    """Return by how much the moment moves with the stretch that is fitted, at least half a cell."""
    moved = [0.5 * float(np.median(np.diff(t_min)))]
    side = 1.0 if degc[0] < rough_degc else -1.0
    for stretch in OTHER_STRETCHES:
        begin = _beginning(degc, rough_degc, stretch * within_k, within_k)
        if len(degc) - begin < 6:
            continue
        curve = _Approach(t_min[begin:], degc[begin:], within_k, side).fit()
        if curve is not None:
            moved.append(abs(float(curve.parameters[1]) - moment))
    return max(moved)
