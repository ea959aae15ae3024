"""Differences between groups of shots, in the mean and in the scatter."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from math import inf, isfinite, nan, sqrt

import msgspec
import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.statistics import mean, standard_deviation
from benchtemp.studies.statistics import studentised_range
from benchtemp.studies.statistics.intervals import LEVEL, Interval, around, t_factor, t_test_p


class Difference(msgspec.Struct, frozen=True, kw_only=True):
    """One group's mean less another's.

    Attributes:
        first, second: Indices of the groups; the difference is first minus second.
        difference: In the unit of the values.
        uncertainty: Standard uncertainty of the difference from the groups' scatter.
        dof: Its effective degrees of freedom.
        interval: Where the true difference may lie.
        p: How likely a difference at least as large is by chance alone.
    """

    first: int
    second: int
    difference: float
    uncertainty: float
    dof: float
    interval: Interval
    p: float


def welch_difference(
    first: FloatArray,
    second: FloatArray,
    level: float = LEVEL,
    *,
    extra_uncertainty: float = 0.0,
    indices: tuple[int, int] = (0, 1),
) -> Difference:
    """Return the difference of two means whose groups may scatter differently.

    Args:
        first: Values of one group.
        second: Values of the other; with fewer than two in either nothing is known of the scatter.
        level: Level of confidence.
        extra_uncertainty: Standard uncertainty of the difference that the scatter does not show (different
            probes), taken as known exactly.
        indices: What to call the groups.

    Source: Welch (1947); NIST/SEMATECH e-Handbook 7.3.1; degrees of freedom as JCGM 100 (G.2b).
    """
    difference = mean(first) - mean(second)
    if min(len(first), len(second)) < 2:
        everywhere = Interval(low=-inf, high=inf, level=level)
        return Difference(
            first=indices[0],
            second=indices[1],
            difference=difference,
            uncertainty=inf,
            dof=0.0,
            interval=everywhere,
            p=nan,
        )
    parts = [standard_deviation(group) ** 2 / len(group) for group in (first, second)]
    variance = sum(parts) + extra_uncertainty**2
    lost = sum(part**2 / (len(group) - 1) for part, group in zip(parts, (first, second), strict=True))
    dof = variance**2 / lost if lost > 0 else inf
    uncertainty = sqrt(variance)
    return Difference(
        first=indices[0],
        second=indices[1],
        difference=difference,
        uncertainty=uncertainty,
        dof=dof,
        interval=around(difference, uncertainty, dof, level),
        p=t_test_p(difference, uncertainty, dof) if isfinite(dof) else nan,
    )


class VarianceTable(msgspec.Struct, frozen=True, kw_only=True):
    """A one-way analysis of variance: scatter between groups against scatter within.

    Attributes:
        square_sum_between, square_sum_within: Sums of squares.
        dof_between, dof_within: Their degrees of freedom.
        f: Ratio of the mean squares, NaN without scatter within.
        p: How likely so large a ratio is by chance.
    """

    square_sum_between: float
    square_sum_within: float
    dof_between: int
    dof_within: int
    f: float
    p: float

    @property
    def mean_square_between(self) -> float:
        """Return the mean square between groups."""
        return self.square_sum_between / self.dof_between

    @property
    def mean_square_within(self) -> float:
        """Return the mean square within groups."""
        return self.square_sum_within / self.dof_within


def one_way(groups: Sequence[FloatArray]) -> VarianceTable:
    """Analyse the variance of at least two groups with together more values than groups.

    Raises:
        ValueError: There are too few groups or values.
    """
    from scipy.special import fdtrc  # noqa: PLC0415  (start-up time)

    count = sum(len(group) for group in groups)
    if len(groups) < 2 or count <= len(groups) or any(not len(group) for group in groups):
        raise ValueError("An analysis of variance needs two groups and more values than groups.")
    # About one of the values, so that large levels cost no digits.
    level = float(groups[0][0])
    shifted = [group - level for group in groups]
    grand = sum(float(group.sum()) for group in shifted) / count
    means = [mean(group) for group in shifted]
    between = sum(len(g) * (m - grand) ** 2 for g, m in zip(shifted, means, strict=True))
    within = sum(float(((g - m) ** 2).sum()) for g, m in zip(shifted, means, strict=True))
    dof_between, dof_within = len(groups) - 1, count - len(groups)
    f = between / dof_between / (within / dof_within) if within > 0 else nan
    return VarianceTable(
        square_sum_between=between,
        square_sum_within=within,
        dof_between=dof_between,
        dof_within=dof_within,
        f=f,
        p=float(fdtrc(dof_between, dof_within, f)) if isfinite(f) else nan,
    )


def welch_anova_p(groups: Sequence[FloatArray]) -> float:
    """Return how likely means so different are by chance when groups may scatter differently; NaN if unknown.

    Source: Welch (1951), Biometrika 38, 330-336.
    """
    from scipy.special import fdtrc  # noqa: PLC0415

    if len(groups) < 2 or min(len(group) for group in groups) < 2:
        return nan
    variances = [standard_deviation(group) ** 2 for group in groups]
    if min(variances) <= 0:
        return nan
    weights = np.array([len(group) / v for group, v in zip(groups, variances, strict=True)])
    means = np.array([mean(group) for group in groups])
    total = float(weights.sum())
    centre = float(weights @ means) / total
    k = len(groups)
    spare = sum((1 - w / total) ** 2 / (len(g) - 1) for w, g in zip(weights.tolist(), groups, strict=True))
    top = float(weights @ (means - centre) ** 2) / (k - 1)
    f = top / (1 + 2 * (k - 2) / (k * k - 1) * spare)
    return float(fdtrc(k - 1, (k * k - 1) / (3 * spare), f))


def every_pair(groups: Sequence[FloatArray], level: float = LEVEL) -> tuple[Difference, ...]:
    """Return all differences between groups so that all their intervals hold together at `level`.

    Groups may scatter differently (Games and Howell's method, with the studentised range); for two groups it
    is Welch's difference.

    Source: Games, Howell (1976), J. Educational Statistics 1, 113-125.
    """
    found = [
        welch_difference(groups[i], groups[j], level, indices=(i, j))
        for i, j in combinations(range(len(groups)), 2)
    ]
    if len(groups) <= 2:
        return tuple(found)
    widened: list[Difference] = []
    for pair in found:
        if not isfinite(pair.uncertainty) or not pair.uncertainty > 0:
            widened.append(pair)
            continue
        factor = studentised_range.quantile(level, len(groups), pair.dof) / sqrt(2.0)
        seen = abs(pair.difference) / pair.uncertainty * sqrt(2.0)
        half = factor * pair.uncertainty
        widened.append(
            msgspec.structs.replace(
                pair,
                interval=Interval(low=pair.difference - half, high=pair.difference + half, level=level),
                p=studentised_range.beyond(seen, len(groups), pair.dof),
            )
        )
    return tuple(widened)


def equal_spread_p(groups: Sequence[FloatArray]) -> float:
    """Return how likely spreads so different are by chance, without asking for normal scatter.

    Source: Brown, Forsythe (1974), J. Amer. Statist. Assoc. 69, 364-367; e-Handbook 1.3.5.10.
    """
    if len(groups) < 2 or min(len(group) for group in groups) < 3:
        return nan
    apart = [np.abs(group - np.median(group)) for group in groups]
    return one_way(apart).p


def detectable_difference(uncertainty: float, dof: float, level: float = LEVEL, power: float = 0.8) -> float:
    """Return the smallest true difference that data of this uncertainty would have shown `power` of the time.

    Source: noncentral t distribution; the chance of showing the wrong sign is left out.
    """
    from scipy.optimize import brentq  # noqa: PLC0415
    from scipy.special import nctdtr, ndtri  # noqa: PLC0415

    if not isfinite(uncertainty) or dof <= 0:
        return inf
    t = t_factor(dof, level)
    if dof > 1e6:
        return uncertainty * (t + float(ndtri(power)))

    def over(noncentrality: float) -> float:
        missed = float(nctdtr(dof, noncentrality, t))
        # Far out in the tail the function gives no number: the difference is then as good as always shown.
        return 1.0 - power - (missed if isfinite(missed) else 0.0)

    high = t + 1.0
    while over(high) < 0:
        high *= 1.5
    return uncertainty * float(brentq(over, 0.0, high))


def shots_needed(
    sd_first: float,
    sd_second: float,
    difference: float,
    *,
    level: float = LEVEL,
    power: float = 0.8,
    most: int = 500,
) -> int | None:
    """Return how many shots in each of two groups would show a true difference `power` of the time.

    Returns: at least 2; None where more than `most` would be needed.
    """

    def enough(count: int) -> bool:
        parts = (sd_first**2 / count, sd_second**2 / count)
        variance = sum(parts)
        if not variance > 0:
            return True
        dof = variance**2 / sum(part**2 / (count - 1) for part in parts)
        return detectable_difference(sqrt(variance), dof, level, power) <= abs(difference)

    if not difference or not enough(most):
        return None
    low, high = 1, most
    while high - low > 1:
        middle = (low + high) // 2
        if enough(middle):
            high = middle
        else:
            low = middle
    return max(2, high)
