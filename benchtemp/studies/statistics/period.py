"""The period of something that comes back: its mean with an interval of its own."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, log, nan, sqrt

import msgspec
import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.studies.statistics.intervals import LEVEL, Interval

STEPS = 36


class Period(msgspec.Struct, frozen=True, kw_only=True):
    """A mean period.

    Attributes:
        period_s, interval: Mean, and where the true mean may lie.
        count: Periods it rests on.
        jitter_s: Standard deviation by which periods differ in themselves, timing errors taken out.
    """

    period_s: float
    interval: Interval
    count: int
    jitter_s: float


class _Periods:
    """Periods of several runs, each the difference of two moments read off with the same timing error."""

    def __init__(self, runs: Sequence[FloatArray], timing_s: float) -> None:
        steps = [np.diff(run) for run in runs if len(run) > 1]
        self.periods = np.concatenate(steps) if steps else np.zeros(0)
        self.sizes = [len(step) for step in steps]
        # 1 where a period shares a moment with the next one, 0 at the end of a run.
        self.neighbours = np.ones(len(self.periods))
        self.neighbours[np.cumsum(self.sizes, dtype=np.int64) - 1] = 0.0
        self.timing = timing_s * timing_s
        self.ones = np.ones(len(self.periods))

    def weighed(self, jitter: float) -> tuple[float, float, float]:
        """Return log restricted likelihood, mean and its variance, given the periods' own variance."""
        from scipy.linalg import solveh_banded  # noqa: PLC0415  (start-up time)

        diagonal = jitter + 2.0 * self.timing
        # A moment read off late lengthens one period and shortens the next.
        beside = -self.timing
        banded = np.zeros((2, len(self.periods)))
        banded[1] = diagonal
        banded[0, 1:] = beside * self.neighbours[:-1]
        weights = np.asarray(solveh_banded(banded, self.ones), dtype=np.float64)
        total = float(weights.sum())
        centre = float(weights @ self.periods) / total
        rest = self.periods - centre
        square = float(rest @ solveh_banded(banded, rest))
        likeness = beside / diagonal
        logs = len(rest) * log(diagonal) + sum(_log_determinant(size, likeness) for size in self.sizes)
        return -0.5 * (logs + log(total) + square), centre, 1.0 / total


def _log_determinant(size: int, likeness: float) -> float:
    """Return the log determinant of a band matrix with 1 on and `likeness` beside the diagonal."""
    before, now = 1.0, 1.0
    for _ in range(1, size):
        before, now = now, now - likeness * likeness * before
    return log(now)


def mean_period(runs: Sequence[FloatArray], timing_s: float, level: float = LEVEL) -> Period:
    """Return the mean period of moments that come back.

    Periods differ in themselves, each for itself, and because each moment is read off with an error, which
    makes neighbours unlike. That error is known from the readings. How much they differ in themselves is not;
    so the result is averaged over all amounts, each as likely as it makes these periods (restricted
    likelihood), with no amount preferred beforehand on a scale of the total scatter. Simulated, a 95 %
    interval covers 94 to 96 % where periods differ by more than the timing error, and more often than that
    where they hardly differ at all.

    Args:
        runs: Moments in s of one unbroken run after another.
        timing_s: Standard uncertainty of each moment, above 0.
        level: Level of confidence.
    """
    from scipy.optimize import brentq  # noqa: PLC0415
    from scipy.special import ndtr  # noqa: PLC0415

    given = _Periods(runs, max(timing_s, 1e-6))
    count = len(given.periods)
    if count < 2:
        nothing = Interval(low=0.0, high=inf, level=level)
        alone = float(given.periods[0]) if count else nan
        return Period(period_s=alone, interval=nothing, count=count, jitter_s=nan)
    base_s = sqrt(2.0 * given.timing)
    sd_s = max(float(given.periods.std(ddof=1)), 0.01 * base_s)
    least_s, most_s = 0.02 * (sd_s + 0.1 * base_s), 40.0 * sd_s + 4.0 * base_s
    amounts_s = np.concatenate(([0.0], np.geomspace(least_s, most_s, STEPS)))
    tried = [given.weighed(amount_s * amount_s) for amount_s in amounts_s.tolist()]
    logs = np.array([log_likely for log_likely, _, _ in tried])
    beforehand = np.gradient(amounts_s) / np.hypot(amounts_s, base_s)
    likely = np.exp(logs - logs.max()) * beforehand
    likely /= likely.sum()
    centres = np.array([centre for _, centre, _ in tried])
    spreads = np.sqrt([variance for _, _, variance in tried])
    centre = float(likely @ centres)

    def bound(share: float) -> float:
        def over(at: float) -> float:
            return float(likely @ ndtr((at - centres) / spreads)) - share

        reach = 60.0 * float(spreads.max())
        return float(brentq(over, centre - reach, centre + reach))

    tail = 0.5 * (1.0 - level)
    return Period(
        period_s=centre,
        interval=Interval(low=bound(tail), high=bound(1.0 - tail), level=level),
        count=count,
        jitter_s=float(likely @ amounts_s),
    )
