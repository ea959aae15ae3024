"""What a fitted routine answers: how much to flush after so long, and which shot would teach most."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, isfinite, nan, sqrt

import msgspec
import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.studies.routine_forms import FittedForm, weights
from benchtemp.studies.statistics.intervals import LEVEL, Interval, t_factor

FURTHER = 1.5
"""So far beyond the largest flush tested an answer is still worked out, and said to be an extrapolation."""
NEARLY_AS_WELL = 12.0
"""Forms whose criterion is farther than this from the best have no say (Burnham, Anderson 2002, 2.6)."""
WORTH = 0.97
"""A shot that leaves more than this share of the uncertainty teaches nothing to speak of (our choice)."""
_GRID = 301


class FlushAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """How much to flush.

    Attributes:
        idle_min: After so long.
        target_degc: To brew at this.
        flush: So much; None where no flush does it.
        interval: Where the flush that gives it on average may lie; from 0 or without end where the shots set
            no bound.
        shot_interval: Where one shot with that flush will lie (prediction interval), °C.
        unflushed_degc: What it brews at without a flush.
        unflushed_interval: Where one shot without a flush will lie.
        in_range: Whether idle time and flush are among those tested.
    """

    idle_min: float
    target_degc: float
    flush: float | None
    interval: Interval
    shot_interval: Interval
    unflushed_degc: float
    unflushed_interval: Interval
    in_range: bool


class NextShot(msgspec.Struct, frozen=True, kw_only=True):
    """The shot that would narrow the answer most.

    Attributes:
        idle_min, flush: Pull it so.
        uncertainty_now, uncertainty_then: Standard uncertainty of the answer now, and expected after it.
        about: What the answer is, `flush` or `brew temperature`.
    """

    idle_min: float
    flush: float
    uncertainty_now: float
    uncertainty_then: float
    about: str


def shot_interval(fitted: FittedForm, idle_min: float, flush: float, level: float = LEVEL) -> Interval:
    """Return where one shot with this routine will lie, °C."""
    middle = float(fitted.at(idle_min, flush))
    spread = sqrt(float(fitted.variance(idle_min, flush)) + fitted.curve.residual_sd**2)
    half = t_factor(fitted.curve.dof, level) * spread
    return Interval(low=middle - half, high=middle + half, level=level)


def flush_for(
    forms: Sequence[FittedForm],
    idle_min: float,
    target_degc: float,
    tested: tuple[FloatArray, FloatArray],
    level: float = LEVEL,
) -> FlushAnswer:
    """Return how much to flush after `idle_min` to brew at `target_degc`.

    The answer is that of the best form. Its interval is averaged over all forms that fit nearly as well, each
    with its share of the evidence: which form is right is part of what is not known. With one form it is
    Fieller's interval: every flush at which the fitted temperature, within its own interval, may be the
    target. The scatter is that about shots left out of the fit, since no form is quite true.

    Args:
        forms: Fitted, the best first.
        idle_min: Idle time asked about, min.
        target_degc: Brew temperature wanted, °C.
        tested: Idle times in min and flushes of the shots.
        level: Level of confidence.

    Source: Buckland, Burnham, Augustin (1997), Biometrics 53, 603-618, for the averaging.
    """
    best = forms[0]
    idle_tested, flush_tested = tested
    most = FURTHER * float(flush_tested.max())
    unflushed = float(best.at(idle_min, 0.0))
    answer = FlushAnswer(
        idle_min=idle_min,
        target_degc=target_degc,
        flush=None,
        interval=Interval(low=0.0, high=inf, level=level),
        shot_interval=Interval(low=-inf, high=inf, level=level),
        unflushed_degc=unflushed,
        unflushed_interval=shot_interval(best, idle_min, 0.0, level),
        in_range=False,
    )
    if "f" not in best.form.depends_on or not most > 0:
        return answer
    grid = np.linspace(0.0, most, _GRID)
    off = best.at(idle_min, grid) - target_degc
    cools = off[-1] < off[0]
    near = [form for form in forms if form.criterion - best.criterion < NEARLY_AS_WELL]
    enough = np.zeros(_GRID)
    for form, weight in zip(near, weights(near), strict=True):
        enough += weight * _chance_enough(form, idle_min, target_degc, grid, cools=cools)
    interval = _between(grid, np.maximum.accumulate(enough), level)
    crossing = np.flatnonzero(np.diff(np.signbit(off)))
    if not len(crossing):
        return msgspec.structs.replace(answer, interval=interval)
    first = int(crossing[0])
    share = off[first] / (off[first] - off[first + 1])
    flush = float(grid[first] + share * (grid[first + 1] - grid[first]))
    idle_in = float(idle_tested.min()) - 1e-9 <= idle_min <= float(idle_tested.max()) + 1e-9
    return msgspec.structs.replace(
        answer,
        flush=flush,
        interval=interval,
        shot_interval=shot_interval(best, idle_min, flush, level),
        in_range=idle_in and flush <= float(flush_tested.max()) + 1e-9,
    )


def _chance_enough(
    form: FittedForm, idle_min: float, target_degc: float, grid: FloatArray, *, cools: bool
) -> FloatArray:
    """Return for each flush how likely it is to be enough, given the form."""
    from scipy.special import stdtr  # noqa: PLC0415  (start-up time)

    spread = np.sqrt(np.maximum(form.caution * form.variance(idle_min, grid), 1e-12))
    beyond = (target_degc - form.at(idle_min, grid)) / spread
    return np.asarray(stdtr(form.curve.dof, beyond if cools else -beyond), dtype=np.float64)


def _between(grid: FloatArray, enough: FloatArray, level: float) -> Interval:
    """Return between which flushes the chance of being enough passes its tails; open where it does not."""
    tail = 0.5 * (1.0 - level)
    low = 0.0 if enough[0] >= tail else float(np.interp(tail, enough, grid))
    high = inf if enough[-1] <= 1.0 - tail else float(np.interp(1.0 - tail, enough, grid))
    return Interval(low=low, high=high, level=level)


def next_shot(
    fitted: FittedForm, answer: FlushAnswer, tested: tuple[FloatArray, FloatArray]
) -> NextShot | None:
    """Return the routine whose shot is expected to narrow the answer most, within what was tested.

    The answer's variance is that of the fitted temperature where it is asked for, over the slope there for a
    flush. A further shot at x lowers it by (gᵀCj)² / (s² + jᵀCj), with C the parameters' covariance, g and j
    the gradients at the answer and at x: the first-order effect of one more observation of scatter s².

    Returns: None where the fit has no scatter to speak of, or no shot would narrow the answer (`WORTH`).
    """
    covariance, scatter = fitted.curve.covariance, fitted.curve.residual_sd**2
    if not isfinite(scatter) or not scatter > 0:
        return None
    idle_tested, flush_tested = tested
    idle_grid = np.linspace(float(idle_tested.min()), float(idle_tested.max()), 25)
    flush_grid = (
        np.linspace(0.0, float(flush_tested.max()), 25) if "f" in fitted.form.depends_on else np.zeros(1)
    )
    where = 0.0 if answer.flush is None else answer.flush
    gradient = fitted.gradient(answer.idle_min, where)
    slope = 1.0
    if answer.flush is not None:
        step = 1e-3 * max(float(flush_tested.max()), 1e-3)
        rise = float(fitted.at(answer.idle_min, where + step)) - float(
            fitted.at(answer.idle_min, where - step)
        )
        slope = abs(rise / (2.0 * step)) or nan
    idle, flush = (axis.ravel() for axis in np.meshgrid(idle_grid, flush_grid, indexing="ij"))
    places = fitted.gradient(idle, flush)
    toward = places @ covariance @ gradient
    own = np.einsum("ij,jk,ik->i", places, covariance, places)
    gain = toward**2 / (scatter + own)
    best = int(np.argmax(gain))
    now = float(gradient @ covariance @ gradient)
    if not now - float(gain[best]) < WORTH**2 * now:
        return None
    return NextShot(
        idle_min=float(idle[best]),
        flush=float(flush[best]),
        uncertainty_now=sqrt(now) / slope,
        uncertainty_then=sqrt(max(now - float(gain[best]), 0.0)) / slope,
        about="brew temperature" if answer.flush is None else "flush",
    )
