"""Recovery: how shots follow from the time since the one before."""

from __future__ import annotations

from math import isfinite, nan, sqrt

import msgspec
import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.statistics import lag1_autocorrelation, mean, standard_deviation
from benchtemp.studies.chart import Axis, Chart, Level, Look, Quantity, Series
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.outcome import plural
from benchtemp.studies.statistics.intervals import LEVEL, Interval, around
from benchtemp.studies.statistics.line import fit_line
from benchtemp.studies.wording import delta, delta_span, minutes, signed
from benchtemp.units import TempUnit

VARIED = 0.2
"""Intervals that differ by less than this share of the usual one are taken as one and the same."""
FIRST_GAP = 2.0
"""A shot after a pause this many times the usual interval begins a new series."""
LONG_PAUSE_MIN = 60.0
"""After more than this a machine has recovered, whatever it was (common practice): a lunch, a night."""


class Recovery(msgspec.Struct, frozen=True, kw_only=True):
    """How shots follow from the time since the one before.

    Attributes:
        interval_min: Between pump starts, for shots where it is known.
        step_k: Difference from the shot before, for the same shots.
        shots: Their numbers, from 1.
        slope_k_per_min: Change of brew temperature with the interval, None where intervals hardly differ.
        slope_interval: Where it may lie.
        first_less_later_k: First shot of a series less the mean of those that follow it, None without both.
        first_interval: Where that may lie.
        lag1: Autocorrelation of neighbours, NaN where there are too few.
    """

    interval_min: tuple[float, ...]
    step_k: tuple[float, ...]
    shots: tuple[int, ...] = ()
    slope_k_per_min: float | None = None
    slope_interval: Interval | None = None
    first_less_later_k: float | None = None
    first_interval: Interval | None = None
    lag1: float = nan

    @property
    def _longest_min(self) -> float:
        """Return the longest interval a chart shows: a lunch or a night would squeeze all others together."""
        return max(LONG_PAUSE_MIN, FIRST_GAP * float(np.median(self.interval_min or (0.0,))))

    def rows(self, unit: TempUnit, places: int) -> list[tuple[str, str, str]]:
        """Return its figures as rows of a table: figure, value, interval."""
        found: list[tuple[str, str, str]] = []
        if self.slope_k_per_min is not None and self.slope_interval is not None:
            slope = delta(self.slope_k_per_min, unit, places, sign=True)
            spread = delta_span(self.slope_interval, unit, places)
            found.append(("per minute more since the last shot", slope, spread))
        if self.first_less_later_k is not None and self.first_interval is not None:
            first = delta(self.first_less_later_k, unit, places, sign=True)
            spread = delta_span(self.first_interval, unit, places)
            found.append(("first shot less the later ones", first, spread))
        if isfinite(self.lag1):
            found.append(("likeness of neighbours (lag 1)", signed(self.lag1, 2), ""))
        return found

    def chart(self) -> Chart | None:
        """Return how far each shot lies from the one before; None for too few.

        Against the time between them where that differs, else in their order. Shots after a long pause are
        left out; the axis says so, the summary how many.
        """
        longest_min = self._longest_min
        drawn = [place for place, value in enumerate(self.interval_min) if value <= longest_min]
        if len(drawn) < 3:
            return None
        since = tuple(self.interval_min[place] for place in drawn)
        if float(np.ptp(since)) > VARIED * float(np.median(since)):
            quantity, title, x = Quantity.TIME_MIN, "since the shot before", since
        else:
            quantity, title = Quantity.SHOT, "shot"
            x = tuple(float(self.shots[place]) for place in drawn)
        summary = "Difference of each shot from the one before."
        if len(drawn) < len(self.interval_min):
            title += ", long pauses left out"
            left_out = plural(len(self.interval_min) - len(drawn), "shot")
            summary += f" Not shown: {left_out} after a pause of more than {minutes(longest_min)}."
        return Chart(
            title="Recovery",
            summary=summary,
            x=Axis(quantity=quantity, title=title),
            y=Axis(quantity=Quantity.DELTA_K, title="difference from the shot before"),
            series=(
                Series(name="shots", look=Look.POINTS, x=x, y=tuple(self.step_k[place] for place in drawn)),
            ),
            levels=(Level(name="no difference", at=0.0, faint=True),),
        )


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
    found = Recovery(
        interval_min=tuple(interval.tolist()),
        step_k=tuple(step.tolist()),
        shots=tuple((known + 1).tolist()),
        lag1=lag1,
    )
    steady = interval <= FIRST_GAP * usual if len(interval) else np.zeros(0, dtype=bool)
    close = known[steady]
    if len(close) >= 4 and float(np.ptp(since[close])) > VARIED * usual:
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
