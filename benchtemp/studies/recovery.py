"""Recovery: how shots follow from the time since the one before."""

from __future__ import annotations

from math import nan, sqrt

import msgspec
import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.statistics import lag1_autocorrelation, mean, standard_deviation
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.statistics.intervals import LEVEL, Interval, around
from benchtemp.studies.statistics.line import fit_line

FIRST_GAP = 2.0
"""A shot after a pause this many times the usual interval begins a new series."""


class Recovery(msgspec.Struct, frozen=True, kw_only=True):
    """How shots follow from the time since the one before.

    Attributes:
        interval_min: Between pump starts, for shots where it is known.
        step_k: Difference from the shot before, for the same shots.
        slope_k_per_min: Change of brew temperature with the interval, None where intervals hardly differ.
        slope_interval: Where it may lie.
        first_less_later_k: First shot of a series less the mean of those that follow it, None without both.
        first_interval: Where that may lie.
        lag1: Autocorrelation of neighbours, NaN where there are too few.
    """

    interval_min: tuple[float, ...]
    step_k: tuple[float, ...]
    slope_k_per_min: float | None = None
    slope_interval: Interval | None = None
    first_less_later_k: float | None = None
    first_interval: Interval | None = None
    lag1: float = nan


def recovery_of(shots: ShotSet, brew: FloatArray, level: float = LEVEL) -> Recovery:
    """Return how shots follow from the time since the one before.

    Args:
        shots: In order of time.
        brew: Their brew temperatures, °C.
        level: Level of confidence.
    """
    since = shots.values(lambda shot: shot.interval_min.value)
    known = np.flatnonzero(np.isfinite(since[1:])) + 1
    interval, step = since[known], (brew[1:] - brew[:-1])[known - 1]
    usual = float(np.median(interval)) if len(interval) else nan
    lag1 = lag1_autocorrelation(brew) if len(brew) >= 6 else nan
    found = Recovery(interval_min=tuple(interval.tolist()), step_k=tuple(step.tolist()), lag1=lag1)
    steady = interval <= FIRST_GAP * usual if len(interval) else np.zeros(0, dtype=bool)
    close = known[steady]
    if len(close) >= 4 and float(np.ptp(since[close])) > 0.2 * usual:
        line = fit_line(since[close], brew[close])
        found = msgspec.structs.replace(
            found, slope_k_per_min=line.slope, slope_interval=line.slope_interval(level)
        )
    firsts = [0, *known[~steady].tolist()]
    later = np.setdiff1d(np.arange(len(brew)), firsts)
    if len(later) >= 3 and len(interval):
        sd = standard_deviation(brew[later])
        apart = mean(brew[firsts]) - mean(brew[later])
        spread = sd * sqrt(1.0 / len(firsts) + 1.0 / len(later))
        found = msgspec.structs.replace(
            found,
            first_less_later_k=apart,
            first_interval=around(apart, spread, len(later) - 1, level),
        )
    return found
