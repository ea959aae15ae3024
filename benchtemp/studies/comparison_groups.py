"""Groups of shots and pairs of groups, as a comparison holds them against each other."""

from __future__ import annotations

from collections.abc import Mapping
from math import hypot, inf, isfinite, nan, sqrt

import msgspec
import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.statistics import mean, standard_deviation
from benchtemp.studies.concerns import uncancelled_k
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.statistics.groups import Difference, detectable_difference, shots_needed
from benchtemp.studies.statistics.intervals import (
    Interval,
    mean_interval,
    sd_interval,
    sd_ratio_interval,
)

POWER = 0.8
SEEN_BEYOND = 2.84
"""A difference of so many standard uncertainties leaves 0 out of an interval of k = 2 four times out of five:
2 and the normal distribution's quantile of 0.8."""


class Group(msgspec.Struct, frozen=True, kw_only=True):
    """One of the things compared.

    Attributes:
        name: The value of the factor.
        count: Shots.
        mean_degc, interval: Mean brew temperature, and where it may lie given the scatter.
        sd_k, sd_interval: Standard deviation from shot to shot; NaN for a single shot.
        brew_degc: Of each shot.
        trace_degc, trace_low, trace_high: Mean trace on the study's grid, and one standard deviation below
            and above it; NaN where fewer than half of the shots have a reading.
        traces: Traces that went into it.
    """

    name: str
    count: int
    mean_degc: float
    interval: Interval
    sd_k: float
    sd_interval: Interval
    brew_degc: tuple[float, ...]
    trace_degc: tuple[float, ...] = ()
    trace_low: tuple[float, ...] = ()
    trace_high: tuple[float, ...] = ()
    traces: int = 0


class Pair(msgspec.Struct, frozen=True, kw_only=True):
    """Two groups held against each other.

    Attributes:
        first, second: Their names; differences are first less second.
        difference: From the scatter; with more than two groups all intervals hold together.
        left_over_k: Standard uncertainty that different probes or checks leave in the difference.
        interval: The difference's interval with that in it.
        shown: Whether that interval leaves 0 out.
        sd_ratio, sd_ratio_interval: First standard deviation over second.
        detectable_k: The smallest true difference these shots would have shown four times out of five, the
            probes' own errors in it.
        more_shots: How many more in each group would show a difference as large as the one seen, four times
            out of five; 0 where it was shown, None where hundreds would not.
        probes_hide_it: Whether no number of shots would, because different probes or checks leave too much.
        more_for_matters: The same for the smallest difference that matters.
    """

    first: str
    second: str
    difference: Difference
    left_over_k: float
    interval: Interval
    shown: bool
    sd_ratio: float
    sd_ratio_interval: Interval
    detectable_k: float
    more_shots: int | None
    probes_hide_it: bool
    more_for_matters: int | None


def group_of(name: str, part: ShotSet, traces: Mapping[str, FloatArray], level: float) -> Group:
    """Return a group with the mean of its traces."""
    brew = part.brew_degc
    sd = standard_deviation(brew)
    group = Group(
        name=name,
        count=len(brew),
        mean_degc=mean(brew),
        interval=mean_interval(brew, level),
        sd_k=sd,
        sd_interval=sd_interval(sd, len(brew) - 1, level),
        brew_degc=tuple(brew.tolist()),
    )
    own = [traces[shot.path] for shot in part.used if shot.path in traces]
    if not own:
        return group
    stacked = np.stack(own)
    known = np.isfinite(stacked).sum(axis=0)
    centre = np.full(stacked.shape[1], nan)
    spread = np.full(stacked.shape[1], nan)
    enough = known >= max(1, (len(own) + 1) // 2)
    centre[enough] = np.nanmean(stacked[:, enough], axis=0)
    several = enough & (known > 1)
    spread[several] = np.nanstd(stacked[:, several], axis=0, ddof=1)
    return msgspec.structs.replace(
        group,
        trace_degc=tuple(centre.tolist()),
        trace_low=tuple((centre - spread).tolist()),
        trace_high=tuple((centre + spread).tolist()),
        traces=len(own),
    )


def pair_of(
    found: Difference, names: list[str], parts: list[ShotSet], matters_k: float, level: float
) -> Pair:
    """Return two groups held against each other, what different probes leave in the difference included."""
    one, other = parts[found.first], parts[found.second]
    left_over = uncancelled_k(one, other)
    half = found.interval.half_width
    if isfinite(half):
        half = sqrt(half**2 + (2.0 * left_over) ** 2)
        interval = Interval(low=found.difference - half, high=found.difference + half, level=level)
    else:
        interval = found.interval
    shown = not interval.holds(0.0)
    sds = [standard_deviation(part.brew_degc) for part in (one, other)]
    fewest = min(len(one), len(other))

    def more(difference_k: float) -> int | None:
        beyond_k = _beyond(difference_k, left_over)
        if beyond_k is None or not all(isfinite(sd) and sd > 0 for sd in sds):
            return None
        needed = shots_needed(sds[0], sds[1], beyond_k, level=level, power=POWER)
        return None if needed is None else max(0, needed - fewest)

    known = all(isfinite(sd) for sd in sds) and sds[1] > 0
    return Pair(
        first=names[found.first],
        second=names[found.second],
        difference=found,
        left_over_k=left_over,
        interval=interval,
        shown=shown,
        sd_ratio=sds[0] / sds[1] if known else nan,
        sd_ratio_interval=sd_ratio_interval(sds[0], len(one) - 1, sds[1], len(other) - 1, level)
        if known
        else Interval(low=0.0, high=inf, level=level),
        detectable_k=hypot(
            detectable_difference(found.uncertainty, found.dof, level, POWER), SEEN_BEYOND * left_over
        ),
        more_shots=0 if shown else more(found.difference),
        more_for_matters=0 if shown else more(matters_k),
        probes_hide_it=not shown and _beyond(found.difference, left_over) is None,
    )


def _beyond(difference_k: float, left_over_k: float) -> float | None:
    """Return what is left of a difference for scatter to hide once the probes' part is taken out of it.

    None where nothing is left.
    """
    rest = difference_k**2 - (SEEN_BEYOND * left_over_k) ** 2
    return sqrt(rest) if rest > 0 else None
