"""Variance components: how much scatter comes from the shots, how much from who or what measured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import exp, inf, isfinite, log, sqrt

import msgspec
import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.statistics import mean
from benchtemp.studies.statistics.groups import VarianceTable, one_way
from benchtemp.studies.statistics.intervals import LEVEL, Interval, sd_interval

SHOTS = "shot to shot"
WHOLE = "any shot by any of them"


class Component(msgspec.Struct, frozen=True, kw_only=True):
    """One source of scatter.

    Attributes:
        name: What it is.
        sd: Its standard deviation; 0 where the data show none.
        interval: Where that may lie.
        levels: How many operators, probes … it rests on; for the shots themselves their degrees of freedom.
    """

    name: str
    sd: float
    interval: Interval
    levels: int


class Components(msgspec.Struct, frozen=True, kw_only=True):
    """A scatter taken apart.

    Attributes:
        repeatability: Shot to shot, everything else the same.
        between: One for each factor.
        reproducibility: All of it together: one shot by any of them.
        table: The analysis of variance where there is one factor, else None.
    """

    repeatability: Component
    between: tuple[Component, ...]
    reproducibility: Component
    table: VarianceTable | None = None


def one_way_components(name: str, groups: Sequence[FloatArray], level: float = LEVEL) -> Components:
    """Take apart the scatter of shots by one factor, each group one of its levels.

    Group means count alike however many shots each has (Thomas and Hultquist 1978, Ann. Statist. 6, 582-587),
    with the harmonic mean of the group sizes. Intervals: chi-squared for the repeatability, Williams (1962,
    Biometrika 49, 278-281) for the factor, modified large sample (Graybill, Wang 1980, J. Amer. Statist.
    Assoc. 75, 869-873) for the whole; the sources are cited from memory, their coverage was simulated.

    Raises:
        ValueError: There are fewer than two groups, or no group with two shots.
    """
    from scipy.special import chdtri, fdtri  # noqa: PLC0415  (start-up time)

    table = one_way(groups)
    dof_between, dof_within = table.dof_between, table.dof_within
    size = len(groups) / sum(1.0 / len(group) for group in groups)
    means = np.array([mean(group) for group in groups])
    spread = float(means.var(ddof=1))
    within = table.mean_square_within
    between = max(0.0, spread - within / size)
    total = spread + within * (1.0 - 1.0 / size)
    tail = 0.5 * (1.0 - level)

    low_f = float(fdtri(dof_between, dof_within, 1.0 - tail))
    high_f = float(fdtri(dof_between, dof_within, tail))
    low = dof_between * (spread - low_f * within / size) / float(chdtri(dof_between, tail))
    high = dof_between * (spread - high_f * within / size) / float(chdtri(dof_between, 1.0 - tail))
    # Groups that agree better than chance has it would give an empty interval; how well their means are known
    # is the least that can be claimed.
    high = max(high, within / size)

    below = above = 0.0
    for part, dof in ((spread, dof_between), (within * (1.0 - 1.0 / size), dof_within)):
        below += ((1.0 - dof / float(chdtri(dof, tail))) * part) ** 2
        above += ((dof / float(chdtri(dof, 1.0 - tail)) - 1.0) * part) ** 2
    whole = Interval(low=sqrt(max(0.0, total - sqrt(below))), high=sqrt(total + sqrt(above)), level=level)
    return Components(
        repeatability=Component(
            name=SHOTS,
            sd=sqrt(within),
            interval=sd_interval(sqrt(within), dof_within, level),
            levels=dof_within,
        ),
        between=(
            Component(
                name=name,
                sd=sqrt(between),
                interval=Interval(low=sqrt(max(0.0, low)), high=sqrt(max(0.0, high)), level=level),
                levels=len(groups),
            ),
        ),
        reproducibility=Component(name=WHOLE, sd=sqrt(between + within), interval=whole, levels=len(groups)),
        table=table,
    )


class _Likelihood:
    """The restricted likelihood of scatter made of several crossed random factors and the shots' own.

    Variances are one per factor and, last, the shots' own.
    """

    def __init__(self, values: FloatArray, factors: Mapping[str, Sequence[str]]) -> None:
        self.values = values - mean(values)
        self.overall = float(values.var(ddof=1)) or 1e-12
        self.alike: list[FloatArray] = []
        for labels in factors.values():
            _, place = np.unique(np.asarray(labels), return_inverse=True)
            member = np.eye(int(place.max()) + 1)[place]
            self.alike.append(member @ member.T)
        self.size = len(self.alike) + 1
        tries = [self._lowest(None, 0.0, [start] * len(self.alike) + [-0.3]) for start in (-0.7, -4.0)]
        self.best_deviance, self.variances = min(tries)

    def deviance(self, variances: Sequence[float]) -> float:
        """Return -2 log restricted likelihood, less a constant."""
        count = len(self.values)
        covariance = variances[-1] * np.eye(count)
        for variance, alike in zip(variances[:-1], self.alike, strict=True):
            covariance += variance * alike
        try:
            root = np.linalg.cholesky(covariance)
        except np.linalg.LinAlgError:
            return inf
        ones = np.linalg.solve(root, np.ones(count))
        y = np.linalg.solve(root, self.values)
        weight = float(ones @ ones)
        rest = y - ones * float(ones @ y) / weight
        return 2.0 * float(np.log(np.diag(root)).sum()) + log(weight) + float(rest @ rest)

    def _lowest(self, held: int | None, variance: float, start: Sequence[float]) -> tuple[float, list[float]]:
        """Return the lowest deviance and its variances, one of them held if asked for.

        Args:
            held: Which one.
            variance: Its value.
            start: Logs of all variances over the whole one, to start from.
        """
        from scipy.optimize import minimize  # noqa: PLC0415  (start-up time)

        free = [index for index in range(self.size) if index != held]

        def whole(logs: FloatArray) -> list[float]:
            variances = [variance] * self.size
            for index, value in zip(free, logs.tolist(), strict=True):
                variances[index] = self.overall * exp(min(max(value, -25.0), 12.0))
            return variances

        def deviance(logs: FloatArray) -> float:
            return self.deviance(whole(logs))

        logs = np.array([start[index] for index in free], dtype=np.float64)
        found = minimize(deviance, logs, method="Nelder-Mead", options={"xatol": 1e-4, "fatol": 1e-5})
        return float(found.fun), whole(np.asarray(found.x, dtype=np.float64))

    def interval(self, index: int, level: float) -> Interval:
        """Return the profile-likelihood interval of one standard deviation."""
        from scipy.optimize import brentq  # noqa: PLC0415
        from scipy.special import chdtri  # noqa: PLC0415

        limit = self.best_deviance + float(chdtri(1, 1.0 - level))

        start = [log(max(variance / self.overall, 1e-6)) for variance in self.variances]

        def over(sd: float) -> float:
            return self._lowest(index, sd * sd, start)[0] - limit

        smallest = 1e-3 * sqrt(self.overall)
        sd = max(sqrt(self.variances[index]), smallest)
        exactness = 0.003 * sqrt(self.overall)
        low = 0.0
        if sd > smallest and over(smallest) > 0:
            low = float(brentq(over, smallest, sd, xtol=exactness))
        high = sd
        for _ in range(10):
            high *= 2.0
            if over(high) > 0:
                return Interval(low=low, high=float(brentq(over, sd, high, xtol=exactness)), level=level)
        return Interval(low=low, high=inf, level=level)


def crossed_components(
    values: FloatArray, factors: Mapping[str, Sequence[str]], level: float = LEVEL
) -> Components:
    """Take apart the scatter of shots by several factors that were mixed, by restricted maximum likelihood.

    Args:
        values: One per shot.
        factors: For each factor the level of every shot; at least one, with two levels or more each.
        level: Level of confidence; intervals follow the profile likelihood and are rough with few levels.

    Source: Patterson, Thompson (1971), Biometrika 58, 545-554.
    """
    likelihood = _Likelihood(values, factors)
    levels = [len(set(labels)) for labels in factors.values()]
    dof = len(values) - 1 - sum(count - 1 for count in levels)
    *between, own = (
        Component(
            name=name,
            sd=sqrt(likelihood.variances[index]),
            interval=likelihood.interval(index, level),
            levels=count,
        )
        for index, (name, count) in enumerate(zip([*factors, SHOTS], [*levels, dof], strict=True))
    )
    # The whole has the interval of its parts, taken as independent (modified large sample).
    parts = [*between, own]
    total = sum(part.sd**2 for part in parts)
    below = sum((part.sd**2 - part.interval.low**2) ** 2 for part in parts)
    above = sum((part.interval.high**2 - part.sd**2) ** 2 for part in parts)
    high = sqrt(total + sqrt(above)) if isfinite(above) else inf
    whole = Interval(low=sqrt(max(0.0, total - sqrt(below))), high=high, level=level)
    return Components(
        repeatability=own,
        between=tuple(between),
        reproducibility=Component(name=WHOLE, sd=sqrt(total), interval=whole, levels=len(values)),
    )
